"""Clocks that had run out when the bottle came or was injected, and what that does to a value."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from intake.rules.clocks import stopped_at
from intake.rules.earning import Case
from intake.rules.examples import COLLECTED, example
from intake.rules.facts import Injection
from intake.rules.findings import (
    FROM_THE_FACTS,
    Consequence,
    Rule,
    after_analysis,
    at_the_bench,
    before_sending,
)
from intake.rules.judgement import Finding, Weight
from intake.rules.words import say_list, say_moment

_CHEMISTRY = "common knowledge of chemistry, no published source"

#: What waiting beyond the limit does to the value of an ion, and who says so. A late value is
#: not always a minimum (as EPA RCRA Waste Sampling guide, 2002, 7.2.2 has it): some ions gain.
AFTER_THE_LIMIT: dict[str, tuple[str, str]] = {
    "nitrite": (
        "is lost: bacteria turn it into nitrate",
        "EPA Method 300.1 Rev 1.0 (1997) Table 3A: 11.9 % found in surface water after 28 days",
    ),
    "nitrate": ("may rise from nitrite and ammonium, or be used up", _CHEMISTRY),
    "phosphate": ("is lost to bacteria and to the wall of the bottle", _CHEMISTRY),
    "ammonium": ("is lost to bacteria and to the air, or rises from organic nitrogen", _CHEMISTRY),
    "chlorite": ("is lost and turns into chlorate", "EPA Method 300.1 Rev 1.0 (1997) 8.6 and Table 3A"),
    "chlorate": ("may rise as chlorite degrades", "EPA Method 300.1 Rev 1.0 (1997) 8.6"),
    "bromate": ("may form from bromide", "EPA Method 300.1 Rev 1.0 (1997) 8.6"),
    "magnesium": ("may precipitate without acid", _CHEMISTRY),
    "calcium": ("may precipitate without acid", _CHEMISTRY),
    "acetate": ("is lost: bacteria eat it", _CHEMISTRY),
    "formate": ("is lost: bacteria eat it", _CHEMISTRY),
    "iodide": ("is lost by oxidation", _CHEMISTRY),
}
HARDLY_CHANGES = ("hardly changes in a closed bottle", _CHEMISTRY)

ON_ARRIVAL = Rule(
    "clock.late_on_arrival",
    (Weight.CAUTION,),
    "Holding time over before arrival",
    "Nothing at the bench brings the time back. The value can still be measured, but has to say so.",
    (
        before_sending("Bring the next bottles sooner, or ask for a rulebook that fits the journey."),
        at_the_bench("Ask the submitter whether the ions are still wanted."),
        after_analysis("Flag the values of the ions named as late."),
    ),
    "40 CFR 136.3 Table II footnote 4 (from memory, check before use); TNI interpretation request 76",
    example(arrival={"received_at": COLLECTED + timedelta(hours=60)}),
    Consequence.DEPARTURE,
)
AT_INJECTION = Rule(
    "clock.late_at_injection",
    (Weight.CAUTION,),
    "Injected after the holding time",
    "Whoever uses the value decides what it is worth; the laboratory reports that it is late.",
    (after_analysis("Flag the values of the ions named as late, and say which way they may be wrong."),),
    "TNI interpretation request 76 (2011); grossly late at twice the limit is from memory and weak",
    example(anion={"injections": (Injection(COLLECTED + timedelta(hours=72)),)}),
)
BEFORE_COLLECTION = Rule(
    "injection.before_collection",
    (Weight.CAUTION,),
    "Injected before it was collected",
    "One of the two moments is wrong, so the holding time cannot be shown.",
    (at_the_bench("Check the clock of the unit and the moment of collection."),),
    FROM_THE_FACTS,
    example(anion={"injections": (Injection(COLLECTED - timedelta(hours=2)),)}),
    Consequence.WORD,
)
RULES = (ON_ARRIVAL, AT_INJECTION, BEFORE_COLLECTION)


def lateness(ion: str) -> tuple[str, str]:
    """What waiting too long does to the value of ``ion``, and the source."""
    return AFTER_THE_LIMIT.get(ion, HARDLY_CHANGES)


def findings(case: Case) -> Iterator[Finding]:
    """Which clocks of the bottle had run out, as far as the facts show."""
    bottle, arrival = case.bottle, case.bottle.arrival
    late_on_arrival: tuple[str, ...] = ()
    if arrival is not None and case.over_by(arrival.received_at):
        late_on_arrival = _late(case, dict.fromkeys(case.earned, arrival.received_at))
    if late_on_arrival and arrival is not None:
        yield ON_ARRIVAL.finding(
            f"Received {say_moment(arrival.received_at, case.sample.zone)}, when the holding time was over "
            f"for {_dues(case, late_on_arrival)}.",
            "arrival.received_at",
            bottle=bottle.key,
            ions=late_on_arrival,
        )
    if bottle.injections:
        yield from _injected(case, late_on_arrival)


def _injected(case: Case, known_late: tuple[str, ...]) -> Iterator[Finding]:
    stops = {ion: stop for ion in case.asked if (stop := stopped_at(case.bottle, ion)) is not None}
    late = tuple(ion for ion in _late(case, stops) if ion not in known_late)
    if late:
        effects = "; ".join(f"{ion} {lateness(ion)[0]}" for ion in late)
        yield AT_INJECTION.finding(
            f"Injected after the holding time of {_dues(case, late)}. What that does: {effects}.",
            "injections",
            bottle=case.bottle.key,
            ions=late,
        )
    early = tuple(ion for ion, stop in stops.items() if case.start.at is not None and stop < case.start.at)
    if early:
        yield BEFORE_COLLECTION.finding(
            f"Injected {say_moment(stops[early[0]], case.sample.zone)}, before the water was collected.",
            "injections",
            bottle=case.bottle.key,
            ions=early,
        )


def _late(case: Case, moments: dict[str, datetime]) -> tuple[str, ...]:
    """The ions whose due moment lies before their moment in ``moments``."""
    late = []
    for ion, moment in moments.items():
        earned = case.earned.get(ion)
        due = None if earned is None else case.terms.of(earned.row.limit).due_at
        if due is not None and moment > due:
            late.append(ion)
    return tuple(late)


def _dues(case: Case, ions: tuple[str, ...]) -> str:
    dues: dict[str, list[str]] = {}
    for ion in ions:
        due = case.terms.of(case.earned[ion].row.limit).due_at
        said = say_moment(due, case.sample.zone) if due else ""
        dues.setdefault(said, []).append(ion)
    return say_list(f"{say_list(named)} (due {moment})" for moment, named in dues.items())
