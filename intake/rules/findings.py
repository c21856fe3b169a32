"""What a rule is: the catalogue entry from which its findings are made.

Every module of rules exposes ``RULES``, a tuple of ``Rule``; ``catalogue.py`` joins them.
A finding is made by ``SOME_RULE.finding(sentence, fact, ...)``, so that its code, weight,
remedies and source can never differ from what the catalogue says of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from intake.rules.examples import Example
from intake.rules.judgement import Finding, Remedy, Stage, Weight

COMMON_PRACTICE = "common practice, no published source"
FROM_THE_FACTS = "follows from the facts themselves"


class Consequence(StrEnum):
    """What a finding means for the ions it names when reception decides.

    A finding that names no ions touches every ion of its bottle (or of the sample).
    """

    NONE = "accepted"
    RESERVATION = "accepted with a reservation"
    DEPARTURE = "a departure: the rulebook says what happens"
    WORD = "the submitter has to say"
    LOST = "cannot be measured from this bottle"


@dataclass(frozen=True, slots=True)
class Rule:
    """One thing the rules can say.

    ``code`` is dotted lower case and never changes. ``weights`` are those it can have, the
    usual one first. ``what`` heads it in the catalogue, ``why`` explains it, ``source`` is
    where it comes from. ``example`` is a set of facts that raises it.
    """

    code: str
    weights: tuple[Weight, ...]
    what: str
    why: str
    remedies: tuple[Remedy, ...]
    source: str
    example: Example
    consequence: Consequence = Consequence.RESERVATION

    def finding(
        self,
        sentence: str,
        fact: str,
        *,
        bottle: str = "",
        ions: tuple[str, ...] = (),
        weight: Weight | None = None,
        remedies: tuple[Remedy, ...] | None = None,
        source: str | None = None,
    ) -> Finding:
        """The finding that this rule makes of one case.

        Raises ``ValueError`` for a weight the catalogue does not name.
        """
        if weight is None:
            weight = self.weights[0]
        elif weight not in self.weights:
            raise ValueError(f"{self.code} has no weight {weight}")
        return Finding(
            self.code,
            weight,
            sentence,
            self.remedies if remedies is None else remedies,
            self.source if source is None else source,
            fact,
            bottle,
            ions,
        )


def before_sending(sentence: str) -> Remedy:
    """Something the submitter can still do before the bottles leave."""
    return Remedy(Stage.BEFORE_SENDING, sentence)


def at_the_bench(sentence: str) -> Remedy:
    """Something the laboratory can still do with the bottle."""
    return Remedy(Stage.AT_THE_BENCH, sentence)


def after_analysis(sentence: str) -> Remedy:
    """What remains to be done with the value."""
    return Remedy(Stage.AFTER_ANALYSIS, sentence)
