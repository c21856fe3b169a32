"""``manage.py judge FILE.json``: judge facts given as JSON, without a database."""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from datetime import datetime
from pathlib import Path
from typing import Any, ClassVar

from django.core.management.base import BaseCommand, CommandError

from intake.rules.book import Rulebook
from intake.rules.book_data import book_from_data
from intake.rules.examples import example
from intake.rules.facts_data import facts_digest, facts_from_data, facts_to_data
from intake.rules.facts_schema import facts_schema
from intake.rules.holding import outcome
from intake.rules.judge import judge
from intake.rules.judgement_data import judgement_to_data
from intake.rules.outcomes import outcomes
from intake.rules.plain import PlainDataError, every_field
from intake.shipped import shipped_book, shipped_codes

DEFAULT_BOOK = "house"


class Command(BaseCommand):
    help = (
        "Judge the sample and bottles in a JSON file and print findings, clocks, advice and the "
        "outcomes suggested at reception as JSON. --schema prints what may stand in the file, "
        "--example a document to start from."
    )
    requires_system_checks: ClassVar[list[str]] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", nargs="?", help="the JSON file, or - for standard input")
        parser.add_argument("--rulebook", metavar="CODE", help="use this shipped rulebook instead")
        parser.add_argument("--at", metavar="MOMENT", help="also say what has become of each clock by then")
        parser.add_argument("--example", action="store_true", help="print an example document and stop")
        parser.add_argument("--schema", action="store_true", help="print the file's JSON Schema and stop")

    def handle(self, *args: object, **options: Any) -> None:
        if options["example"]:
            base = example()
            self._print({**facts_to_data(base.sample, base.bottles), "rulebook": DEFAULT_BOOK})
            return
        if options["schema"]:
            self._print(facts_schema())
            return
        if options["file"] is None:
            raise CommandError("Name the JSON file to judge, or use --example to see one.")
        at = _moment(options["at"])
        try:
            sample, bottles, named = facts_from_data(_load(options["file"]))
            book = _book(options["rulebook"] or named or DEFAULT_BOOK)
        except PlainDataError as problem:
            raise CommandError(f"The facts cannot be read:\n{problem}") from problem
        judgement = judge(sample, bottles, book)
        plain = judgement_to_data(judgement)
        if at is not None:
            for clock, shown in zip(judgement.clocks, plain["clocks"], strict=True):
                shown["outcome"] = outcome(clock, at).value
        self._print(
            {
                "sample": sample.key,
                "rulebook": {"code": book.code, "version": book.version, "title": book.title},
                "facts_digest": facts_digest(sample, bottles),
                **plain,
                "outcomes": [every_field(item) for item in outcomes(bottles, judgement.findings, book)],
            }
        )

    def _print(self, plain: object) -> None:
        self.stdout.write(json.dumps(plain, indent=2, ensure_ascii=False))


def _load(name: str) -> Any:
    try:
        text = sys.stdin.read() if name == "-" else Path(name).read_text(encoding="utf-8")
    except FileNotFoundError as problem:
        raise CommandError(f"There is no file {name}.") from problem
    except (OSError, UnicodeDecodeError) as problem:
        raise CommandError(f"{name} cannot be read as text: {problem}") from problem
    try:
        return json.loads(text)
    except ValueError as problem:
        raise CommandError(f"{name} is not JSON: {problem}") from problem
    except RecursionError as problem:
        raise CommandError(f"{name} is nested too deeply to be facts.") from problem


def _book(named: object) -> Rulebook:
    if not isinstance(named, str):
        return book_from_data(named)
    try:
        return shipped_book(named)
    except KeyError as problem:
        codes = ", ".join(shipped_codes())
        raise CommandError(f"There is no rulebook {named!r}. Shipped are: {codes}.") from problem


def _moment(text: str | None) -> datetime | None:
    if text is None:
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as problem:
        raise CommandError(f"--at {text!r}: write a moment like 2026-11-24T13:05:00+01:00.") from problem
    if moment.utcoffset() is None:
        raise CommandError(f"--at {text!r}: say how far its clock is from UTC, like +01:00 or Z.")
    return moment
