"""How this laboratory works: opening hours, start-up, room a day. The one place that knows.

Until a laboratory has entered units and opening hours of its own, the plain figures below count:
our own invention of a usual small laboratory, not taken from any document.
"""

from __future__ import annotations

from datetime import time

from django.conf import settings

from intake.rules.facts import Line
from labqueue.hours import OpeningHours, StaffedTimes
from labqueue.planning.outing import Bench
from labqueue.planning.units import Unit

OPENS, CLOSES = time(8), time(17)
WORKDAYS = range(5)
#: From handing over to the tray.
PREPARATION_MIN = 60

_UNIT = {
    "inject_min": 20,
    "equil_min": 60,
    "startup_inj": 7,
    "qc_every": 10,
    "qc_inj": 2,
    "batch_every": 20,
    "batch_inj": 2,
    "rack_positions": 60,
    "reserved_positions": 8,
    "turnaround_min": 30,
}


def opening_hours() -> OpeningHours:
    """When somebody is there to take bottles in and to start a run."""
    return OpeningHours(settings.TIME_ZONE, dict.fromkeys(WORKDAYS, ((OPENS, CLOSES),)))


def units() -> tuple[Unit, ...]:
    """The units of the laboratory, as the planner knows them; their opening is left empty."""
    nobody = StaffedTimes(())
    return tuple(
        Unit(id=line.value, kind=line.value, topup=False, free_from=0, opening=nobody, **_UNIT)
        for line in Line
    )


def bench() -> Bench:
    """The laboratory as a trip sees it: of several units of a line, the one that starts soonest."""
    lead: dict[Line, int] = {}
    for unit in units():
        line = Line(unit.kind)
        lead[line] = min(unit.lead_min, lead.get(line, unit.lead_min))
    return Bench(opening_hours(), PREPARATION_MIN, lead)
