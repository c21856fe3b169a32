"""Statements about one bottle that cannot all be true."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import datetime, timedelta

from intake.rules.earning import Case
from intake.rules.examples import COLLECTED, example
from intake.rules.facts import AcidKind, BottleFacts, Collection
from intake.rules.findings import FROM_THE_FACTS, Consequence, Rule, at_the_bench, before_sending
from intake.rules.judgement import Finding, Weight
from intake.rules.kept import declared_acid
from intake.rules.reached import STRONGEST_ACID_MOL_L
from intake.rules.words import say_list, say_moment, say_number

#: How far two clocks in the field may differ before "filtered before collected" is a
#: contradiction. House choice, no published source.
FIELD_CLOCK_TOLERANCE = timedelta(minutes=15)

_REMEDIES = (
    before_sending("Correct the statement that is wrong."),
    at_the_bench("Ask the submitter which of the two is true."),
)

ACID = Rule(
    "statement.acid",
    (Weight.CAUTION,),
    "Acid both denied and described",
    "Whether acid is in the bottle decides what can be measured from it.",
    _REMEDIES,
    FROM_THE_FACTS,
    example(cation={"acidified": False}),
    Consequence.WORD,
)
FROZEN_AND_CHILLED = Rule(
    "statement.frozen_and_chilled",
    (Weight.CAUTION,),
    "Both frozen and only chilled",
    "A bottle is kept cold or frozen; the rulebook gives each its own time.",
    (*_REMEDIES, before_sending("If it was first chilled and then frozen, state when it was frozen.")),
    FROM_THE_FACTS,
    example(anion={"frozen": True, "chilled": True, "to_brim": False}),
    Consequence.WORD,
)
MOMENT_WITHOUT_DEED = Rule(
    "statement.moment_without_deed",
    (Weight.CAUTION,),
    "A moment for something that was not done",
    "Either it was done and the answer is wrong, or the moment belongs to another bottle.",
    _REMEDIES,
    FROM_THE_FACTS,
    example(anion={"frozen": False, "frozen_at": COLLECTED + timedelta(hours=1)}),
    Consequence.WORD,
)
BEFORE_COLLECTION = Rule(
    "statement.before_collection",
    (Weight.CAUTION,),
    "Done before the water was collected",
    "Nothing can be done to water that has not been taken; one of the moments is wrong.",
    (
        before_sending("Correct the moment, or the moment of collection."),
        at_the_bench("Ask the submitter which of the two is true."),
    ),
    f"{FROM_THE_FACTS}; 15 minutes are forgiven, since clocks in the field differ (house choice)",
    example(anion={"filtered_at": COLLECTED - timedelta(hours=2)}),
    Consequence.WORD,
)
DENSE_ACID = Rule(
    "statement.acid_impossible",
    (Weight.BAR,),
    "A dose of acid that cannot be",
    "A volume or strength below nothing, or more concentrated than nitric acid is sold.",
    (before_sending("Correct the volume (mL) or the strength (mol/L) of the acid."),),
    "concentrated nitric acid is about 16 mol/L, fuming about 24 mol/L (from memory)",
    example(cation={"acid_mol_l": 65}),
    Consequence.WORD,
)
RULES = (ACID, FROZEN_AND_CHILLED, MOMENT_WITHOUT_DEED, BEFORE_COLLECTION, DENSE_ACID)


def findings(case: Case) -> Iterator[Finding]:
    """Which statements about the bottle contradict each other."""
    bottle = case.bottle
    if declared_acid(bottle) is None:
        yield ACID.finding(
            f"Acid is {_denied(case)}, but {_described(case)} is stated.",
            "acidified",
            bottle=bottle.key,
            ions=case.asked,
        )
    if bottle.frozen and bottle.chilled and bottle.frozen_at is None:
        yield FROZEN_AND_CHILLED.finding(
            "The bottle is stated to be frozen and to be only chilled.",
            "frozen",
            bottle=bottle.key,
            ions=case.asked,
        )
    yield from _acid_figures(case)
    stated = (bottle.chilled_at, bottle.frozen_at, bottle.filtered_at, bottle.acid_at)
    moments = [moment for moment in stated if moment is not None]
    if moments:
        yield from _idle_moments(case)
        yield from _too_early(case, min(moments))


def _denied(case: Case) -> str:
    return "answered with no" if case.bottle.acidified is False else "given as none"


def _described(case: Case) -> str:
    bottle = case.bottle
    if bottle.acid_ml:
        return f"a volume of {say_number(bottle.acid_ml)} mL of acid"
    if bottle.acid_kind not in (None, AcidKind.NONE):
        return f"{bottle.acid_kind} acid"
    return "acidified: yes"


def _acid_figures(case: Case) -> Iterator[Finding]:
    bottle = case.bottle
    ml, mol_l = bottle.acid_ml, bottle.acid_mol_l
    if ml is not None and not 0 <= ml < math.inf:
        yield DENSE_ACID.finding(f"{say_number(ml)} mL of acid cannot be.", "acid_ml", bottle=bottle.key)
    if mol_l is not None and not 0 <= mol_l <= STRONGEST_ACID_MOL_L:
        yield DENSE_ACID.finding(
            f"{say_number(mol_l)} mol/L of acid cannot be.", "acid_mol_l", bottle=bottle.key
        )


def _deeds(bottle: BottleFacts) -> list[tuple[str, str, datetime, bool]]:
    """What was done at a stated moment: field, word, moment, and whether it is denied."""
    deeds = (
        ("chilled_at", "chilled", bottle.chilled_at, bottle.chilled is False),
        ("frozen_at", "frozen", bottle.frozen_at, bottle.frozen is False),
        ("filtered_at", "filtered", bottle.filtered_at, bottle.filter_pore_um == 0),
        ("acid_at", "acidified", bottle.acid_at, declared_acid(bottle) is AcidKind.NONE),
    )
    return [(fact, deed, moment, denied) for fact, deed, moment, denied in deeds if moment is not None]


def _idle_moments(case: Case) -> Iterator[Finding]:
    bottle = case.bottle
    done = (bottle.chilled is not False, bottle.frozen is not False, bottle.filter_pore_um != 0)
    if all(done) and (bottle.acid_at is None or declared_acid(bottle) is not AcidKind.NONE):
        return
    for fact, deed, moment, denied in _deeds(bottle):
        if denied:
            yield MOMENT_WITHOUT_DEED.finding(
                f"The bottle is stated not to be {deed}, but a moment for it is given: "
                f"{say_moment(moment, case.sample.zone)}.",
                fact,
                bottle=bottle.key,
                ions=case.asked,
            )


def _too_early(case: Case, first: datetime) -> Iterator[Finding]:
    sample, start = case.sample, case.start
    began = sample.collection_began_at if sample.collection is Collection.COMPOSITE else start.at
    if began is None or not start.trusted or (start.at is not None and began > start.at):
        return
    earliest = began - FIELD_CLOCK_TOLERANCE
    if first >= earliest:
        return
    early = [(fact, deed) for fact, deed, moment, _ in _deeds(case.bottle) if moment < earliest]
    yield BEFORE_COLLECTION.finding(
        f"The bottle was {say_list(deed for _, deed in early)} before the water was collected "
        f"({say_moment(began, sample.zone)}).",
        early[0][0],
        bottle=case.bottle.key,
        ions=case.asked,
    )
