"""``manage.py rules``: every finding the rules can make, with an example of each."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from typing import Any, ClassVar

from django.core.management.base import BaseCommand, CommandError

from intake.rules.book_data import book_to_data
from intake.rules.catalogue import ALL, BY_CODE
from intake.rules.facts_data import facts_to_data
from intake.rules.findings import Rule
from intake.rules.judge import judge


class Command(BaseCommand):
    help = "List the findings of the rules: what, why, what to do, source, and an example of each."
    requires_system_checks: ClassVar[list[str]] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("code", nargs="*", help="only these findings")
        parser.add_argument("--json", action="store_true", help="print JSON, with the facts of the examples")

    def handle(self, *args: object, **options: Any) -> None:
        unknown = [code for code in options["code"] if code not in BY_CODE]
        if unknown:
            raise CommandError(f"No finding has the code {unknown[0]!r}. Run without a code to see all.")
        chosen = [rule for rule in ALL if not options["code"] or rule.code in options["code"]]
        if options["json"]:
            self.stdout.write(json.dumps([_plain(rule) for rule in chosen], indent=2, ensure_ascii=False))
            return
        for rule in chosen:
            self.stdout.write(_text(rule))


def _sentence(rule: Rule) -> str:
    """What the rule says of its own example."""
    case = rule.example
    judgement = judge(case.sample, case.bottles, case.book)
    return next(finding.sentence for finding in judgement.findings if finding.code == rule.code)


def _plain(rule: Rule) -> dict[str, Any]:
    return {
        "code": rule.code,
        "weights": [weight.value for weight in rule.weights],
        "what": rule.what,
        "why": rule.why,
        "remedies": [{"stage": remedy.stage.value, "sentence": remedy.sentence} for remedy in rule.remedies],
        "at_reception": rule.consequence.value,
        "source": rule.source,
        "example": {
            **facts_to_data(rule.example.sample, rule.example.bottles),
            "rulebook": book_to_data(rule.example.book),
            "sentence": _sentence(rule),
        },
    }


def _text(rule: Rule) -> str:
    weights = " or ".join(weight.value for weight in rule.weights)
    lines = [
        f"{rule.code} ({weights}): {rule.what}",
        f"  Why: {rule.why}",
        *(f"  {remedy.stage.value.capitalize()}: {remedy.sentence}" for remedy in rule.remedies),
        f"  At reception: {rule.consequence.value}",
        f"  Source: {rule.source}",
        f"  Example: {_sentence(rule)}",
        "",
    ]
    return "\n".join(lines)
