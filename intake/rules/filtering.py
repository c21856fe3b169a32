"""Was the bottle filtered: finely enough, soon enough, before the acid, through what?"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from intake.rules.earning import Broken, Case
from intake.rules.examples import COLLECTED, example
from intake.rules.facts import Membrane
from intake.rules.findings import (
    COMMON_PRACTICE,
    Consequence,
    Rule,
    after_analysis,
    at_the_bench,
    before_sending,
)
from intake.rules.judgement import Finding, Weight
from intake.rules.words import say_list, say_number, say_span

_FILTER_WHY = (
    "Bacteria and particles stay in unfiltered water: bacteria turn nitrite and ammonium into nitrate "
    "and take up phosphate, particles give off and bind ions and clog the column."
)
_FILTER_REMEDIES = (
    before_sending("Filter through 0.45 µm in the field and state the pore size."),
    at_the_bench("Filter before injection; this protects the column, not the ions that changed before."),
    after_analysis("State with the value that the water was not filtered in the field."),
)
_FILTER_SOURCE = (
    "EPA Method 300.0 Rev 2.1 (1993) 4.4 for the column; field filtration at 0.45 µm is common practice"
)

FILTER_UNSTATED = Rule(
    "filter.unstated",
    (Weight.CAUTION,),
    "Filtration not stated",
    _FILTER_WHY,
    _FILTER_REMEDIES,
    _FILTER_SOURCE,
    example(anion={"filter_pore_um": None, "filtered_at": None}),
    Consequence.DEPARTURE,
)
FILTER_NONE = Rule(
    "filter.none",
    (Weight.CAUTION,),
    "Not filtered",
    _FILTER_WHY,
    _FILTER_REMEDIES,
    _FILTER_SOURCE,
    example(anion={"filter_pore_um": 0, "filtered_at": None}),
    Consequence.DEPARTURE,
)
FILTER_COARSE = Rule(
    "filter.coarse",
    (Weight.CAUTION,),
    "Filter too coarse",
    _FILTER_WHY,
    _FILTER_REMEDIES,
    _FILTER_SOURCE,
    example(anion={"filter_pore_um": 1.2}),
    Consequence.DEPARTURE,
)
FILTER_LATE = Rule(
    "filter.late",
    (Weight.CAUTION,),
    "Filtered later than the rulebook allows",
    "Until the water is filtered, bacteria and particles go on changing phosphate and other ions.",
    (
        before_sending("Filter at the site next time, straight after taking the water."),
        after_analysis("State with the value how long the water waited for the filter."),
    ),
    "the row of the rulebook, for example 40 CFR 136.3 Table II footnote 24: within 15 minutes",
    example(anion={"filtered_at": COLLECTED + timedelta(hours=2)}),
    Consequence.DEPARTURE,
)
FILTER_UNTIMED = Rule(
    "filter.time_unstated",
    (Weight.NOTE,),
    "Moment of filtering not stated",
    "The rulebook wants the water filtered within a given time, which then cannot be shown.",
    (before_sending("State when you filtered."),),
    "the row of the rulebook",
    example(anion={"filtered_at": None}),
)
MEMBRANE = Rule(
    "filter.membrane",
    (Weight.CAUTION,),
    "A membrane that gives off what is to be measured",
    "Cellulose nitrate can give off nitrate; glass fibre gives off sodium and calcium, and its pore "
    "size is only nominal. Nylon, polyethersulfone or hydrophilic PTFE are safe choices.",
    (
        before_sending("Use nylon or polyethersulfone, and rinse the filter with sample first."),
        at_the_bench("Run a filter blank of the same kind."),
        after_analysis("Subtract nothing; state the membrane with the value."),
    ),
    COMMON_PRACTICE,
    example(anion={"filter_membrane": Membrane.CELLULOSE_NITRATE}),
)
FILTER_AFTER_ACID = Rule(
    "filter.after_acid",
    (Weight.CAUTION,),
    "Filtered after the acid",
    "Acid dissolves what sits on the particles, and the filter then lets it through as if it had been "
    "dissolved in the water.",
    (
        before_sending("Filter first, then add the acid."),
        after_analysis("Report calcium and magnesium as acid-extractable, not as dissolved."),
    ),
    "40 CFR 136.3 Table II footnote 7 (from memory, check before use); EPA Method 200.7 Rev 4.4 8.1 to 8.3",
    example(cation={"filtered_at": COLLECTED + timedelta(minutes=30)}),
    Consequence.DEPARTURE,
)
RULES = (
    FILTER_UNSTATED,
    FILTER_NONE,
    FILTER_COARSE,
    FILTER_LATE,
    FILTER_UNTIMED,
    MEMBRANE,
    FILTER_AFTER_ACID,
)

#: What a membrane is known to give off. Common practice, no published source.
GIVES_OFF: dict[Membrane, tuple[str, ...]] = {
    Membrane.CELLULOSE_NITRATE: ("nitrite", "nitrate"),
    Membrane.GLASS_FIBRE: ("sodium", "calcium"),
}


def findings(case: Case) -> Iterator[Finding]:
    """What is wrong with how the bottle was filtered."""
    pore = case.bottle.filter_pore_um
    wanted = case.book.filter_pore_max_um
    if Broken.FILTER in case.costs or (wanted is not None and not (pore and pore <= wanted)):
        yield _unfiltered(case, pore)
        return
    if not pore:
        return
    yield from _when(case)
    given_off = GIVES_OFF.get(case.bottle.filter_membrane) if case.bottle.filter_membrane else None
    ions = tuple(ion for ion in case.asked if given_off and ion in given_off)
    if ions and case.bottle.filter_membrane:
        yield MEMBRANE.finding(
            f"Filtered through {case.bottle.filter_membrane.value}, which can give off {say_list(ions)}.",
            "filter_membrane",
            bottle=case.bottle.key,
            ions=ions,
        )


def _unfiltered(case: Case, pore: float | None) -> Finding:
    wanted = case.book.filter_pore_max_um
    for ion in case.costs.get(Broken.FILTER, ()):
        finest = case.book.ways[ion].finest_um
        if finest is not None:
            wanted = min(finest, wanted or finest)
    finer = f"{say_number(wanted)} µm or finer" if wanted else "any filter"
    if pore is None:
        rule, said = FILTER_UNSTATED, "Nobody stated whether the water was filtered"
    elif pore == 0:
        rule, said = FILTER_NONE, "The water was not filtered"
    else:
        rule, said = FILTER_COARSE, f"Filtered at {say_number(pore)} µm"
    return rule.finding(
        f"{said}; rulebook {case.book.name}, asks for {finer}.",
        "filter_pore_um",
        bottle=case.bottle.key,
        ions=case.costs.get(Broken.FILTER) or case.asked,
    )


def _when(case: Case) -> Iterator[Finding]:
    bottle = case.bottle
    late = case.costs.get(Broken.FILTER_TIME)
    if late:
        minutes = case.start.minutes_until(bottle.filtered_at) or 0.0
        yield FILTER_LATE.finding(
            f"Filtered {say_span(minutes)} after collection; rulebook {case.book.name}, allows "
            f"{say_span(_allowed_min(case, late))} for {say_list(late)}.",
            "filtered_at",
            bottle=bottle.key,
            ions=late,
        )
    elif bottle.filtered_at is None:
        asked = tuple(
            ion
            for ion, earned in case.earned.items()
            if earned.row.conditions.filtered_within_min is not None
        )
        if asked:
            yield FILTER_UNTIMED.finding(
                f"When the water was filtered is not stated; rulebook {case.book.name}, allows "
                f"{say_span(_allowed_min(case, asked))} after collection for {say_list(asked)}.",
                "filtered_at",
                bottle=bottle.key,
                ions=asked,
            )
    if bottle.filtered_at is not None and bottle.acid_at is not None and bottle.filtered_at > bottle.acid_at:
        minutes = (bottle.filtered_at - bottle.acid_at) / timedelta(minutes=1)
        yield FILTER_AFTER_ACID.finding(
            f"The acid was added {say_span(minutes)} before the water was filtered; filter first.",
            "filtered_at",
            bottle=bottle.key,
            ions=case.asked,
        )


def _allowed_min(case: Case, ions: tuple[str, ...]) -> float:
    """The longest wait for the filter that any row of ``ions`` allows, in minutes."""
    return max(
        row.conditions.filtered_within_min
        for ion in ions
        for row in case.book.by_ion[ion]
        if row.conditions.filtered_within_min is not None
    )
