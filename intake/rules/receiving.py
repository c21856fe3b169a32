"""What reception found: on the box, on the bottle, against the declaration."""

from __future__ import annotations

from collections.abc import Iterator

from intake.rules.earning import Case
from intake.rules.examples import COLLECTED, example
from intake.rules.facts import ArrivalFacts, Seal, SeenFacts
from intake.rules.findings import (
    COMMON_PRACTICE,
    FROM_THE_FACTS,
    Consequence,
    Rule,
    after_analysis,
    at_the_bench,
    before_sending,
)
from intake.rules.judgement import Finding, Weight
from intake.rules.words import say_list, say_moment

AFTER_RECEIPT = Rule(
    "collection.after_receipt",
    (Weight.BAR,),
    "Collected after it was received",
    "A bottle cannot arrive before its water was collected; one of the moments is wrong.",
    (at_the_bench("Ask the submitter for the true moment of collection, check the one of arrival."),),
    FROM_THE_FACTS,
    example(arrival={"received_at": COLLECTED.replace(day=23)}),
    Consequence.WORD,
)
BROKEN = Rule(
    "bottle.broken",
    (Weight.BAR,),
    "Bottle broken",
    "What is left of the water has met the air, the ice and the other bottles. Splinters cut and acid may "
    "have run out: wear gloves.",
    (at_the_bench("Photograph it, dispose of it safely, ask the submitter for another bottle."),),
    f"{COMMON_PRACTICE}; EPA SW-846 Chapter Nine (1986) 9.2.2.7 refuses leaking samples of several phases",
    example(seen={"broken": True}),
    Consequence.LOST,
)
LEAKING = Rule(
    "bottle.leaking",
    (Weight.CAUTION,),
    "Bottle leaking",
    "Water that runs out lets air and melt water in.",
    (
        at_the_bench("Close or decant the bottle, note how much is left."),
        after_analysis("State with the value that the bottle leaked."),
    ),
    "EPA SW-846 Chapter Nine (1986) 9.2.2.7",
    example(seen={"leaking": True}),
    Consequence.DEPARTURE,
)
CLOUDY = Rule(
    "bottle.cloudy",
    (Weight.CAUTION,),
    "Cloudy water",
    "Filtered water is clear. A cloud is something that precipitated or grew since, or the filter failed.",
    (
        at_the_bench("Filter again before injection; note colour and deposit."),
        after_analysis("State the cloud with calcium, magnesium and phosphate."),
    ),
    COMMON_PRACTICE,
    example(seen={"cloudy": True}),
)
LABEL = Rule(
    "label.mismatch",
    (Weight.CAUTION,),
    "Label unlike the list",
    "A value for the wrong water is worse than none. Differences are settled before the bottle is placed.",
    (at_the_bench("Ask the submitter what the bottle is, and write the answer down."),),
    "EPA SW-846 Chapter Nine (1986) 9.2.2.7; ISO/IEC 17025:2017 7.4.3",
    example(seen={"label_matches": False}),
    Consequence.WORD,
)
SEAL_BROKEN = Rule(
    "seal.broken",
    (Weight.CAUTION,),
    "Custody seal broken",
    "Somebody may have opened the box on the way; as evidence the results may not count.",
    (
        at_the_bench("Ask the submitter and the carrier, and write the answers down."),
        after_analysis("State the broken seal with the results."),
    ),
    "EPA SW-846 Chapter Nine (1986) 9.2.2.7",
    example(arrival={"seal": Seal.BROKEN}),
    Consequence.WORD,
)
SEAL_ABSENT = Rule(
    "seal.absent",
    (Weight.NOTE,),
    "No custody seal",
    "Tape often fails on wet boxes; a missing seal is not a broken one.",
    (before_sending("Seal the box if the results may be used as evidence."),),
    "EPA RCRA Ground-Water Monitoring guide (1992) 7.6.2",
    example(arrival={"seal": Seal.ABSENT}),
    Consequence.NONE,
)
UNLIKE = Rule(
    "seen.unlike_declared",
    (Weight.NOTE,),
    "Seen otherwise than declared",
    "What was seen counts; the difference is kept for the report.",
    (after_analysis("Report what was seen."),),
    "ISO/IEC 17025:2017 7.4.3",
    example(anion={"chilled": False}, seen={}),
    Consequence.NONE,
)
MEASURED_ON = Rule(
    "arrival.measured_on_unstated",
    (Weight.NOTE,),
    "What the temperature was measured on is not stated",
    "A bottle, a temperature blank and melt water differ by degrees.",
    (at_the_bench("Write down what was measured."),),
    "Wisconsin NR 149.442(2)(d)",
    example(arrival={"measured_on": None}),
    Consequence.NONE,
)
RULES = (
    AFTER_RECEIPT,
    BROKEN,
    LEAKING,
    CLOUDY,
    LABEL,
    SEAL_BROKEN,
    SEAL_ABSENT,
    UNLIKE,
    MEASURED_ON,
)

#: Ions that a cloud may have carried off. Common practice, no published source.
COST_BY_CLOUD = frozenset({"phosphate", "magnesium", "calcium"})


def findings(case: Case) -> Iterator[Finding]:
    """What reception found on the box and on the bottle."""
    arrival, seen = case.bottle.arrival, case.bottle.seen
    if arrival is not None:
        yield from _box(case, arrival)
    if seen is not None:
        yield from _bottle(case, seen)
        yield from _unlike(case, seen)


def _box(case: Case, arrival: ArrivalFacts) -> Iterator[Finding]:
    bottle, start = case.bottle, case.start
    if start.at is not None and arrival.received_at < start.at:
        yield AFTER_RECEIPT.finding(
            f"Collected {say_moment(start.at, case.sample.zone)}, but received already "
            f"{say_moment(arrival.received_at, case.sample.zone)}.",
            "collected_at",
            bottle=bottle.key,
        )
    if arrival.temperature_c is not None and arrival.measured_on is None:
        yield MEASURED_ON.finding(
            "What the temperature on arrival was measured on is not stated.",
            "arrival.measured_on",
            bottle=bottle.key,
        )
    if arrival.seal is Seal.BROKEN:
        yield SEAL_BROKEN.finding(
            "The custody seal of the box was broken.", "arrival.seal", bottle=bottle.key, ions=case.asked
        )
    elif arrival.seal is Seal.ABSENT:
        yield SEAL_ABSENT.finding("The box had no custody seal.", "arrival.seal", bottle=bottle.key)


def _bottle(case: Case, seen: SeenFacts) -> Iterator[Finding]:
    bottle = case.bottle
    if seen.broken:
        yield BROKEN.finding(
            "The bottle is broken; nothing can be measured from it.",
            "seen.broken",
            bottle=bottle.key,
            ions=case.asked,
        )
    elif seen.leaking:
        yield LEAKING.finding(
            "The bottle leaks; air and melt water may have come in.",
            "seen.leaking",
            bottle=bottle.key,
            ions=case.asked,
        )
    if seen.cloudy:
        yield CLOUDY.finding(
            "The water is cloudy.",
            "seen.cloudy",
            bottle=bottle.key,
            ions=tuple(ion for ion in case.asked if ion in COST_BY_CLOUD),
        )
    if seen.label_matches is False:
        yield LABEL.finding(
            "The label of the bottle is unlike the list.",
            "seen.label_matches",
            bottle=bottle.key,
            ions=case.asked,
        )


def _unlike(case: Case, seen: SeenFacts) -> Iterator[Finding]:
    bottle = case.bottle
    brim = None if seen.headspace is None else not seen.headspace
    pairs = (
        ("seen.cold", "kept cold", bottle.chilled, seen.cold),
        ("seen.frozen", "frozen", bottle.frozen, seen.frozen),
        ("seen.headspace", "filled to the brim", bottle.to_brim, brim),
    )
    differing = [
        (fact, f"not {deed}" if declared is False else deed)
        for fact, deed, declared, found in pairs
        if declared is not None and found is not None and declared is not found
    ]
    if differing:
        yield UNLIKE.finding(
            f"Declared {say_list(said for _, said in differing)}; reception saw otherwise, and that counts.",
            differing[0][0],
            bottle=bottle.key,
        )
