"""Was the bottle cold, or frozen, from the field to the bench?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

from intake.rules.earning import Broken, Case
from intake.rules.examples import COLLECTED, example
from intake.rules.facts import Container
from intake.rules.findings import (
    COMMON_PRACTICE,
    Consequence,
    Rule,
    after_analysis,
    at_the_bench,
    before_sending,
)
from intake.rules.judgement import Finding, Weight
from intake.rules.keeping import cold_enough
from intake.rules.words import say_list, say_number, say_span

_COLD_WHY = (
    "Warmth speeds up the bacteria that use up nitrite, ammonium and phosphate. The holding times of the "
    "rulebook were set for water kept cold."
)
_COLD_SOURCE = "the row of the rulebook; 40 CFR 136.3 Table II footnote 18 (from memory, check before use)"

COLD_UNSTATED = Rule(
    "cold.unstated",
    (Weight.CAUTION, Weight.NOTE),
    "Chilling not stated",
    _COLD_WHY,
    (
        before_sending("Put the bottle on ice and state since when."),
        at_the_bench("Measure the temperature when the box is opened and write it down."),
    ),
    _COLD_SOURCE,
    example(anion={"chilled": None}),
    Consequence.DEPARTURE,
)
COLD_NOT = Rule(
    "cold.not",
    (Weight.CAUTION, Weight.NOTE),
    "Not kept cold",
    _COLD_WHY,
    (
        before_sending("Chill the bottle above freezing to 6 °C now, and bring it sooner."),
        at_the_bench("Place the bottle in the next run."),
        after_analysis("State with the value that the water was not kept cold."),
    ),
    _COLD_SOURCE,
    example(anion={"chilled": False}),
    Consequence.DEPARTURE,
)
COLD_TRANSPORT = Rule(
    "cold.transport",
    (Weight.CAUTION, Weight.NOTE),
    "Arrived outside the temperatures of the rulebook",
    "What was measured outweighs what was declared. The verdict is per ion: some may be warm.",
    (
        at_the_bench("Refrigerate the bottle and place it in the next run."),
        after_analysis("State the temperature on arrival with the value."),
    ),
    "the row of the rulebook; TNI V1M2 5.8.7 (from memory, check before use)",
    example(arrival={"temperature_c": 12}),
    Consequence.DEPARTURE,
)
COLD_LATE = Rule(
    "cold.late",
    (Weight.CAUTION,),
    "Put in the cold late",
    _COLD_WHY,
    (
        before_sending("Take ice to the field next time and chill at once."),
        after_analysis("State with the value how long the water stayed warm."),
    ),
    "40 CFR 136.3 Table II footnote 2 (from memory, check before use): within 15 minutes; the two hours of "
    "the house rulebook are a house choice",
    example(anion={"chilled_at": COLLECTED + timedelta(hours=9)}),
)
SAME_DAY = Rule(
    "cold.same_day",
    (Weight.NOTE,),
    "Still warm, but on ice and brought the same day",
    "Water cannot be cold at once. Brought on the day of its collection, on ice, with the temperature on "
    "record, it counts as chilled.",
    (at_the_bench("Refrigerate the bottle now."),),
    "TNI V1M2 5.8.7 (from memory, check before use); TNI interpretation request 10009 for the figure",
    example(arrival={"received_at": COLLECTED + timedelta(hours=4), "temperature_c": 12}),
    Consequence.NONE,
)
UNMEASURED = Rule(
    "cold.unmeasured",
    (Weight.NOTE,),
    "Temperature on arrival not measured",
    "A box received on ice is no proof: the figure is wanted.",
    (at_the_bench("Measure a bottle, the temperature blank or the melt water, and write down which."),),
    "Wisconsin NR 149.442(2)(b) and (d); TNI interpretation request 10009",
    example(arrival={"temperature_c": None}),
    Consequence.NONE,
)
FROZEN = Rule(
    "frozen.not_allowed",
    (Weight.CAUTION,),
    "Frozen, though the rulebook keeps it liquid",
    "Freezing drives salts out of the ice and can precipitate calcium, magnesium and phosphate for good. "
    "Sources differ: some laboratories refuse it, others see no fault.",
    (
        before_sending("Keep the next bottle above freezing."),
        at_the_bench("Thaw the whole bottle in the cold, mix well, look for a deposit."),
        after_analysis("State with the value that the water was frozen."),
    ),
    "40 CFR 136.3 Table II footnote 18 (from memory, check before use)",
    example(anion={"frozen": True, "chilled": None, "to_brim": False}),
    Consequence.DEPARTURE,
)
NOT_FROZEN = Rule(
    "frozen.missing",
    (Weight.CAUTION,),
    "Not frozen, though the rulebook asks for it",
    "The row of the rulebook counts only for frozen water.",
    (
        before_sending("Freeze the bottle, leaving air for the ice."),
        at_the_bench("Measure it within the time for water that was not frozen."),
    ),
    "the row of the rulebook",
    replace(
        example(cation={"ions": frozenset({"potassium"})}),
        book=replace(
            example().book,
            rows=(replace(example().book.by_ion["ammonium"][1], ion="potassium"),),
        ),
    ),
    Consequence.DEPARTURE,
)
FROZEN_LATE = Rule(
    "frozen.late",
    (Weight.CAUTION,),
    "Frozen later than the rulebook allows",
    "Freezing stops a change only from the moment it is done.",
    (
        before_sending("Freeze next time within the time allowed."),
        after_analysis("State with the value how long the water waited unfrozen."),
    ),
    "the row of the rulebook",
    example(
        cation={
            "ions": frozenset({"ammonium"}),
            "frozen": True,
            "chilled": None,
            "to_brim": False,
            "frozen_at": COLLECTED + timedelta(hours=9),
            "acidified": False,
            "acid_kind": None,
            "acid_ml": None,
            "acid_at": None,
        }
    ),
    Consequence.DEPARTURE,
)
FROZEN_FULL_GLASS = Rule(
    "frozen.full_glass",
    (Weight.BAR,),
    "Full glass bottle frozen",
    "Water swells by a tenth when it freezes and breaks a glass filled to the brim. Splinters cut: wear "
    "cut-resistant gloves, thaw the bottle in a tray.",
    (
        before_sending("Take the bottle out of the freezer; use plastic and leave air over the water."),
        at_the_bench("Look for cracks before touching it; if it is whole, record that."),
    ),
    COMMON_PRACTICE,
    example(anion={"frozen": True, "chilled": None, "container": Container.GLASS}),
    Consequence.LOST,
)
RULES = (
    COLD_UNSTATED,
    COLD_NOT,
    COLD_TRANSPORT,
    COLD_LATE,
    SAME_DAY,
    UNMEASURED,
    FROZEN,
    NOT_FROZEN,
    FROZEN_LATE,
    FROZEN_FULL_GLASS,
)


def findings(case: Case) -> Iterator[Finding]:
    """What is wrong with the temperature of the bottle on its way."""
    yield from _frozen(case)
    if case.bottle.chilled_at is not None and case.book.chilled_within_min is not None:
        yield from _chilled_late(case, case.book.chilled_within_min)
    costs = case.costs.get(Broken.COLD)
    if costs or _warmer_than_the_lab_wants(case):
        yield _warm(case, costs or ())
    elif not case.kept.frozen and case.bottle.arrival is not None:
        yield from _arrived_well(case)


def _warmer_than_the_lab_wants(case: Case) -> bool:
    """Whether the bottle breaks what the lab expects of every bottle, though no ion suffers."""
    book, kept = case.book, case.kept
    return not kept.frozen and not cold_enough(None, book.bottle_max_c, kept, book.arrival_tolerance_c)


def _chilled_late(case: Case, within_min: float) -> Iterator[Finding]:
    minutes = case.start.minutes_until(case.bottle.chilled_at)
    chilled = tuple(ion for ion, earned in case.earned.items() if earned.row.conditions.max_c is not None)
    if minutes is not None and minutes > within_min and chilled and case.kept.cold:
        yield COLD_LATE.finding(
            f"Put in the cold {say_span(minutes)} after collection; rulebook {case.book.name}, allows "
            f"{say_span(within_min)} for {say_list(chilled)}.",
            "chilled_at",
            bottle=case.bottle.key,
            ions=chilled,
        )


def _band(min_c: float | None, max_c: float) -> str:
    if min_c is None:
        return f"at most {say_number(max_c)} °C"
    if min_c == 0:
        return f"above freezing to {say_number(max_c)} °C"
    return f"{say_number(min_c)} to {say_number(max_c)} °C"


def _bands(case: Case, ions: tuple[str, ...]) -> str:
    bands = frozenset[tuple[float | None, float]]().union(*(case.book.ways[ion].bands for ion in ions))
    return say_list(sorted({_band(*band) for band in bands}), "or")


def _warm(case: Case, costs: tuple[str, ...]) -> Finding:
    bottle, kept = case.bottle, case.kept
    weight = Weight.CAUTION if costs else Weight.NOTE
    wanted = f"rulebook {case.book.name}, asks for {_bands(case, costs)} for {say_list(costs)}"
    if not costs:
        wanted = (
            f"the laboratory asks for at most {say_number(case.book.bottle_max_c or 0)} °C for every bottle, "
            "though no ion of this one needs it"
        )
    if kept.temperature_c is not None:
        arrival = bottle.arrival
        where = "in the bottle"
        if kept.temperature_fact == "arrival.temperature_c" and arrival is not None:
            where = f"on the {arrival.measured_on.value}" if arrival.measured_on else "in the box"
        return COLD_TRANSPORT.finding(
            f"{say_number(kept.temperature_c)} °C {where} on arrival; {wanted}.",
            kept.temperature_fact,
            bottle=bottle.key,
            ions=costs,
            weight=weight,
        )
    if kept.temperature_fact == "seen.cold":
        return COLD_TRANSPORT.finding(
            f"The bottle felt warm on arrival; {wanted}.",
            "seen.cold",
            bottle=bottle.key,
            ions=costs,
            weight=weight,
        )
    if kept.cold is None:
        return COLD_UNSTATED.finding(
            f"Nobody stated whether the bottle is kept cold; {wanted}.",
            "chilled",
            bottle=bottle.key,
            ions=costs,
            weight=weight,
        )
    return COLD_NOT.finding(
        f"The bottle is not kept cold; {wanted}.", "chilled", bottle=bottle.key, ions=costs, weight=weight
    )


def _arrived_well(case: Case) -> Iterator[Finding]:
    bottle, kept, arrival = case.bottle, case.kept, case.bottle.arrival
    unmeasured = arrival is not None and arrival.temperature_c is None and kept.temperature_c is None
    if not (kept.same_day or unmeasured):
        return
    chilled = tuple(ion for ion, earned in case.earned.items() if earned.row.conditions.max_c is not None)
    if not chilled:
        return
    if kept.same_day and not _within_bands(case, chilled):
        felt = "warm" if kept.temperature_c is None else f"{say_number(kept.temperature_c)} °C"
        yield SAME_DAY.finding(
            f"Still {felt} on arrival, but on ice and brought on the day of its collection, so it counts as "
            "chilled.",
            kept.temperature_fact,
            bottle=bottle.key,
        )
    elif unmeasured:
        yield UNMEASURED.finding(
            "The temperature on arrival was not measured.",
            "arrival.temperature_c",
            bottle=bottle.key,
            ions=chilled,
        )


def _within_bands(case: Case, ions: tuple[str, ...]) -> bool:
    """Whether the bottle would count as cold without the same-day allowance."""
    temperature = case.kept.temperature_c
    if temperature is None:
        return case.kept.cold is True
    highest = min(case.earned[ion].row.conditions.max_c or 0.0 for ion in ions)
    return temperature <= highest + case.book.arrival_tolerance_c


def _frozen(case: Case) -> Iterator[Finding]:
    bottle, kept = case.bottle, case.kept
    seen_whole = bottle.seen is not None and bottle.seen.broken is False
    if kept.frozen and bottle.container is Container.GLASS and kept.to_brim and not seen_whole:
        yield FROZEN_FULL_GLASS.finding(
            "A glass bottle filled to the brim was frozen; it breaks when the water swells.",
            "frozen",
            bottle=bottle.key,
            ions=case.asked,
        )
        return
    fact = "seen.frozen" if bottle.seen is not None and bottle.seen.frozen is not None else "frozen"
    costs = case.costs.get(Broken.FROZEN)
    if costs and kept.frozen:
        yield FROZEN.finding(
            f"The bottle was frozen; rulebook {case.book.name}, keeps {say_list(costs)} liquid.",
            fact,
            bottle=bottle.key,
            ions=costs,
        )
    elif costs:
        yield NOT_FROZEN.finding(
            f"The bottle is not frozen; rulebook {case.book.name}, asks for it for {say_list(costs)}.",
            fact,
            bottle=bottle.key,
            ions=costs,
        )
    late = case.costs.get(Broken.FROZEN_TIME)
    if late:
        minutes = case.start.minutes_until(bottle.frozen_at) or 0.0
        yield FROZEN_LATE.finding(
            f"Frozen {say_span(minutes)} after collection, later than rulebook {case.book.name}, allows for "
            f"{say_list(late)}.",
            "frozen_at",
            bottle=bottle.key,
            ions=late,
        )
