"""Every finding the rules can make, joined from the modules that make them."""

from __future__ import annotations

from intake.rules import (
    acid,
    acidifying,
    asking,
    collecting,
    contradictions,
    cooling,
    filling,
    filtering,
    grading,
    readings,
    receiving,
    timing,
)
from intake.rules.findings import Consequence, Rule

ALL: tuple[Rule, ...] = tuple(
    sorted(
        (
            *collecting.RULES,
            *asking.RULES,
            *filtering.RULES,
            *filling.RULES,
            *cooling.RULES,
            *acidifying.RULES,
            *grading.RULES,
            *contradictions.RULES,
            *receiving.RULES,
            *timing.RULES,
            *readings.RULES,
            *acid.RULES,
        ),
        key=lambda rule: rule.code,
    )
)

BY_CODE: dict[str, Rule] = {rule.code: rule for rule in ALL}

#: Codes of the findings after which an ion cannot be measured from the bottle any more.
LOST: frozenset[str] = frozenset(rule.code for rule in ALL if rule.consequence is Consequence.LOST)
