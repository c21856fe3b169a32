"""How this laboratory works: opening hours, start-up, units. The one place with its defaults.

Until a laboratory has entered opening hours and units of its own, a plain week and one unit a line
with the usual numbers count: common practice of a small laboratory, not taken from any document.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, time

from intake.rules.facts import Line
from labqueue import calendar
from labqueue.hours import OpeningHours, StaffedTimes
from labqueue.models import Laboratory, Unit
from labqueue.planning.outing import Bench
from labqueue.planning.units import Unit as PlannedUnit

USUAL_WEEK = dict.fromkeys(range(5), ((time(8), time(17)),))
#: From handing over to the tray.
PREPARATION_MIN = 60


def opening_hours(first: datetime, last: datetime) -> OpeningHours:
    """When somebody is there from ``first`` to ``last``; closed days count for the usual week too."""
    laboratory = Laboratory.objects.filter(pk=1).first() or Laboratory(pk=1)
    hours = calendar.opening_hours(laboratory, first, last)
    return hours if hours.weekly else replace(hours, weekly=USUAL_WEEK)


def units() -> list[Unit]:
    """The units that are not retired, or one with the usual numbers for each line."""
    kept = list(Unit.objects.filter(retired_at__isnull=True))
    return kept or [usual_unit(line) for line in Line]


def usual_unit(line: Line) -> Unit:
    return Unit(name=line.value, line=line.value)


def in_service(unit: Unit, moment: datetime) -> bool:
    """Whether ``unit`` works at ``moment``, as far as anybody knows."""
    began, ends = unit.out_from, unit.out_until
    return began is None or moment < began or (ends is not None and moment >= ends)


def as_planned(unit: Unit) -> PlannedUnit:
    """``unit`` as the planner knows it, without its opening hours."""
    return PlannedUnit(
        id=unit.name,
        kind=unit.line,
        inject_min=unit.inject_min,
        equil_min=unit.equil_min,
        startup_inj=unit.startup_inj,
        qc_every=unit.qc_every,
        qc_inj=unit.qc_inj,
        batch_every=unit.batch_every,
        batch_inj=unit.batch_inj,
        rack_positions=unit.tray_places,
        reserved_positions=unit.reserved_places,
        turnaround_min=unit.turnaround_min,
        topup=unit.topup,
        free_from=0,
        opening=StaffedTimes(()),
    )


def bench(first: datetime, last: datetime) -> Bench:
    """The laboratory as a trip sees it from ``first`` to ``last``.

    Of several units of a line the one that starts soonest counts; a line without a unit is
    reckoned with the usual one.
    """
    standing = units()
    lead = {}
    for line in Line:
        own = [unit for unit in standing if unit.line == line.value] or [usual_unit(line)]
        lead[line] = min(as_planned(unit).lead_min for unit in own)
    return Bench(opening_hours(first, last), PREPARATION_MIN, lead)
