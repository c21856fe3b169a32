"""The planner's facts out of the database: units with their hours, bottles with their due moments.

Moments become whole minutes since ``origin``, rounded to the safe side (``labqueue.hours``).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.db.models import Max, QuerySet

from intake.models import Bottle, ClockRow
from intake.states import BottleState
from labqueue.calendar import opening_hours
from labqueue.hours import minute_at_or_after, minute_at_or_before
from labqueue.laboratory import as_planned
from labqueue.models import Laboratory, Place, Run, Unit
from labqueue.planning import units as planning
from labqueue.planning.units import Pin, Problem, Step
from labqueue.states import RunState

#: Tops-up need to know when somebody was there before the plan began.
LOOK_BACK_MIN = 7 * 1440


def floor_minute(moment: datetime) -> datetime:
    """``moment`` without its seconds: the origin of a plan."""
    return moment.replace(second=0, microsecond=0)


def due_steps(bottles: QuerySet, origin: datetime) -> dict[int, tuple[Step, ...]]:
    """The running due moments of each bottle, by its key: one query.

    Ions due in the same minute are one step that weighs as many as they are.
    """
    rows = (
        ClockRow.objects.running()
        .filter(bottle__in=bottles, due_at__isnull=False)
        .order_by("bottle_id", "due_at", "pk")
        .values_list("bottle_id", "due_at", "ion")
    )
    ions: dict[int, dict[int, list[str]]] = defaultdict(lambda: defaultdict(list))
    for bottle, due_at, ion in rows.iterator(chunk_size=5000):
        ions[bottle][minute_at_or_before(due_at, origin)].append(ion)
    return {
        bottle: tuple(Step(minute, len(names), ", ".join(names)) for minute, names in sorted(due.items()))
        for bottle, due in ions.items()
    }


def planned_bottles(bottles: QuerySet, origin: datetime) -> tuple[planning.Bottle, ...]:
    """``bottles`` as the planner sees them: two queries. A bottle is there from its receipt on."""
    steps = due_steps(bottles.order_by().values("pk"), origin)
    rows = bottles.order_by("pk").values_list(
        "pk", "number", "line", "arrival__received_at", "consignment__group_id"
    )
    return tuple(
        planning.Bottle(
            id=number,
            kind=line,
            release=0 if received is None else minute_at_or_after(received, origin),
            steps=steps.get(pk, ()),
            group=str(group),
        )
        for pk, number, line, received, group in rows
    )


@dataclass(frozen=True, slots=True)
class PlannedUnits:
    """Units as the planner sees them, with the runs of no samples that keep them out of service."""

    units: tuple[planning.Unit, ...]
    blocks: tuple[planning.Run, ...]


def planned_units(
    units: Iterable[Unit], lab: Laboratory, origin: datetime, last: int, busy: Mapping[int, datetime]
) -> PlannedUnits:
    """``units`` with their hours up to minute ``last``; ``busy`` says until when a run goes on."""
    until = origin + timedelta(minutes=last)
    hours = opening_hours(lab, origin - timedelta(minutes=LOOK_BACK_MIN), until)
    staffed = hours.staffed(origin, -LOOK_BACK_MIN, last)
    made, blocks = [], []
    for unit in units:
        opening, free_from = staffed, 0
        if unit.pk in busy:
            free_from = minute_at_or_after(busy[unit.pk], origin) + unit.turnaround_min
        if unit.out_from is not None:
            first = minute_at_or_before(unit.out_from, origin)
            end = last + 1 if unit.out_until is None else minute_at_or_after(unit.out_until, origin)
            if end > 0:
                opening = opening.without([(first, end - 1)])
                if first > free_from:
                    blocks.append(planning.Run(unit.name, first, 0))
                else:
                    free_from = max(free_from, end)
        made.append(replace(as_planned(unit), free_from=free_from, opening=opening))
    return PlannedUnits(tuple(made), tuple(run for run in blocks if run.start <= last))


def busy_until(units: Iterable[Unit]) -> dict[int, datetime]:
    """Until when the run goes on that is running on a unit, by the unit's key: one query."""
    rows = (
        Run.objects.filter(unit__in=units, state=RunState.RUNNING)
        .values("unit_id", "unit__inject_min", "planned_start", "started_at")
        .annotate(last=Max("places__planned_at"))
    )
    found: dict[int, datetime] = {}
    for row in rows:
        last = row["last"] or row["started_at"] or row["planned_start"]
        end = last + timedelta(minutes=row["unit__inject_min"])
        found[row["unit_id"]] = max(end, found.get(row["unit_id"], end))
    return found


@dataclass(frozen=True, slots=True)
class Gathered:
    """The facts of a plan, and the planned runs that it plans anew."""

    problem: Problem
    replaces: tuple[int, ...]


def gather(units: Iterable[Unit], lab: Laboratory, now: datetime, days: int) -> Gathered:
    """What is to be planned on ``units`` from ``now`` for ``days`` days.

    Running runs stay and keep their unit. Runs that are only planned are planned anew with their
    bottles; bottles pinned in them stay where they are pinned.
    """
    units = list(units)
    origin = floor_minute(now)
    last = days * 1440
    planned = planned_units(units, lab, origin, last, busy_until(units))
    replaced = list(Run.objects.filter(unit__in=units, state=RunState.PLANNED).select_related("unit"))
    free = {unit.id: unit.free_from for unit in planned.units}
    runs, pins = _pinned(replaced, origin, minute_at_or_after(now, origin), free)
    lines = {unit.line for unit in units}
    bottles = Bottle.objects.filter(line__in=lines, state=BottleState.READY) | Bottle.objects.filter(
        pk__in=Place.objects.filter(run__in=replaced, awaiting=True).values("bottle")
    )
    problem = Problem(
        bottles=planned_bottles(bottles, origin),
        units=planned.units,
        horizon_end=last,
        runs=(*planned.blocks, *runs),
        choose=True,
        pins=pins,
        margin_min=lab.margin_min,
        now=minute_at_or_after(now, origin),
    )
    return Gathered(problem, tuple(run.pk for run in replaced))


def _pinned(
    replaced: list[Run], origin: datetime, now: int, free: Mapping[str, int]
) -> tuple[tuple[planning.Run, ...], tuple[Pin, ...]]:
    """Runs that hold a pinned bottle and can still start then, with their pins."""
    places = (
        Place.objects.filter(run__in=replaced, pinned=True, awaiting=True)
        .select_related("run__unit", "bottle")
        .order_by("pk")
    )
    pins = []
    for place in places:
        unit = place.run.unit.name
        start = minute_at_or_after(place.run.planned_start, origin)
        if start >= max(now, free[unit]):
            pins.append(Pin(place.bottle.number, unit, start, place.sample))
    runs = {(pin.unit, pin.start): planning.Run(pin.unit, pin.start) for pin in pins}
    return tuple(runs.values()), tuple(pins)
