"""How this laboratory works: opening hours, start-up, units. The one place with its defaults.

Until a laboratory has entered opening hours and units of its own, a plain week and one unit a line
with the usual numbers count: common practice of a small laboratory, not taken from any document.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta

from django.db.models import Max

from intake.rules.facts import Line
from labqueue import calendar
from labqueue.hours import MINUTE, OpeningHours, StaffedTimes
from labqueue.models import Laboratory, Run, Unit
from labqueue.planning.faring import Bench, BenchUnit
from labqueue.planning.units import Unit as PlannedUnit
from labqueue.states import STANDING, RunState

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


def bench(first: datetime, last: datetime, now: datetime) -> Bench:
    """The laboratory as a trip sees it from ``first`` to ``last``: its hours, its units, and the
    spells in which runs and repairs take them. A line without a unit is reckoned with the usual one.

    Five queries; of the runs only their spells are told, never whose bottles they hold.
    """
    standing, runs = units(), _standing_runs(now)
    return Bench(
        opening_hours(first, last),
        PREPARATION_MIN,
        {
            line: tuple(
                _bench_unit(unit, runs.get(unit.pk, []), last)
                for unit in [unit for unit in standing if unit.line == line.value] or [usual_unit(line)]
            )
            for line in Line
        },
    )


@dataclass(frozen=True, slots=True)
class _Spell:
    """A run on its unit: when it starts, its last injection, the samples it holds."""

    start: datetime
    last: datetime
    samples: int


def _standing_runs(now: datetime) -> dict[int, list[_Spell]]:
    """The runs that are planned or running, by the key of their unit, in order: one query.

    One that should have started by ``now`` and did not is taken to start now.
    """
    rows = (
        Run.objects.filter(state__in=STANDING)
        .values_list("unit_id", "state", "planned_start", "started_at")
        .annotate(last=Max("places__planned_at"), sample=Max("places__sample"))
        .order_by("planned_start", "pk")
    )
    found: dict[int, list[_Spell]] = defaultdict(list)
    for unit, state, planned, started, last, sample in rows:
        start = started or planned
        late = max(timedelta(), now - planned) if state == RunState.PLANNED else timedelta()
        samples = 0 if sample is None else sample + 1
        found[unit].append(_Spell(start + late, (last or start) + late, samples))
    return found


def _bench_unit(unit: Unit, runs: list[_Spell], last: datetime) -> BenchUnit:
    plain = as_planned(unit)
    taken = [(run.start, run.last + (unit.inject_min + unit.turnaround_min) * MINUTE) for run in runs]
    if unit.out_from is not None:
        taken.append((unit.out_from, max(unit.out_from, unit.out_until or last)))
    begins = sorted(first for first, _until in taken)
    return BenchUnit(
        plain.lead_min,
        plain.free_after(0, 1),
        tuple(taken),
        tuple(place for run in runs if (place := _free_place(plain, run, begins)) is not None),
        unit.topup,
    )


def _free_place(unit: PlannedUnit, run: _Spell, begins: list[datetime]) -> tuple[datetime, datetime] | None:
    """The place behind the last sample of ``run``, if its tray has one and it is over in time."""
    if run.samples >= unit.rack_limit:
        return None
    following = next((begin for begin in begins if begin > run.start), None)
    if following is not None and run.start + unit.free_after(0, run.samples + 1) * MINUTE > following:
        return None
    moment = run.start + unit.sample_moment(0, run.samples) * MINUTE
    return run.start, max(moment, run.last + unit.inject_min * MINUTE)
