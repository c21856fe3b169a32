"""The planner's facts out of the database: units with their hours, bottles with their due moments.

Moments become whole minutes since ``origin``, rounded to the safe side (``labqueue.hours``).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta

from django.db.models import Max, Q, QuerySet

from intake.models import Bottle, ClockRow, Result
from intake.states import BottleState
from labqueue.announced import Announced, announced
from labqueue.calendar import opening_hours
from labqueue.choices import WEIGHT_OF, Priority
from labqueue.hours import OpeningHours, minute_at_or_after, minute_at_or_before
from labqueue.laboratory import as_planned
from labqueue.models import Laboratory, Place, Run, Unit
from labqueue.planning import units as planning
from labqueue.planning.units import Pin, Problem, Step
from labqueue.priorities import priorities_of
from labqueue.states import RunState

#: Tops-up need to know when somebody was there before the plan began.
LOOK_BACK_MIN = 7 * 1440


def floor_minute(moment: datetime) -> datetime:
    """``moment`` without its seconds: the origin of a plan."""
    return moment.replace(second=0, microsecond=0)


def due_steps(bottles: QuerySet, origin: datetime) -> dict[int, tuple[Step, ...]]:
    """The due moments of each bottle, by its key: four queries.

    Ions due in the same minute are one step that weighs as many as they are, times what the priority
    of the bottle makes of each. Whatever is planned is to be injected, so clocks that have stopped
    count once more, but for ions that were measured within the range already.
    """
    levels = priorities_of(bottles)
    keys = bottles.order_by().values("pk")
    rows = (
        ClockRow.objects.filter(void=False, bottle__in=keys, due_at__isnull=False)
        .order_by("bottle_id", "due_at", "pk")
        .values_list("bottle_id", "due_at", "ion", "stopped_at")
    )
    good = _measured_well(keys)
    ions: dict[int, dict[int, list[str]]] = defaultdict(lambda: defaultdict(list))
    for bottle, due_at, ion, stopped_at in rows.iterator(chunk_size=5000):
        if stopped_at is None or ion not in good.get(bottle, ()):
            ions[bottle][minute_at_or_before(due_at, origin)].append(ion)
    found = {}
    for bottle, due in ions.items():
        weight = WEIGHT_OF[levels.get(bottle, Priority.USUAL)]
        found[bottle] = tuple(
            Step(minute, weight * len(names), ", ".join(names), len(names))
            for minute, names in sorted(due.items())
        )
    return found


def _measured_well(keys: QuerySet) -> dict[int, set[str]]:
    """Ions with a value within the calibrated range, by bottle: a repeat is not for them."""
    found: dict[int, set[str]] = defaultdict(set)
    rows = Result.objects.filter(bottle__in=keys, withdrawn_at__isnull=True, above_range=False)
    for bottle, ion in rows.values_list("bottle_id", "ion"):
        found[bottle].add(ion)
    return found


def planned_bottles(
    bottles: QuerySet, origin: datetime, comes: Mapping[int, datetime] | None = None
) -> tuple[planning.Bottle, ...]:
    """``bottles`` as the planner sees them, in four queries.

    A bottle is there from its receipt on; ``comes`` says from when those are that are still to come.
    """
    steps = due_steps(bottles, origin)
    comes = comes or {}
    rows = bottles.order_by("pk").values_list(
        "pk", "number", "line", "arrival__received_at", "consignment__group_id"
    )
    return tuple(
        planning.Bottle(
            id=number,
            kind=line,
            release=_release(comes.get(pk, received), origin),
            steps=steps.get(pk, ()),
            group=str(group),
        )
        for pk, number, line, received, group in rows
    )


def _release(moment: datetime | None, origin: datetime) -> int:
    return 0 if moment is None else minute_at_or_after(moment, origin)


@dataclass(frozen=True, slots=True)
class PlannedUnits:
    """Units as the planner sees them, with the runs of no samples that keep them out of service."""

    units: tuple[planning.Unit, ...]
    blocks: tuple[planning.Run, ...]


def planned_units(
    units: Iterable[Unit],
    lab: Laboratory,
    origin: datetime,
    last: int,
    busy: Mapping[int, datetime],
    hours: OpeningHours | None = None,
) -> PlannedUnits:
    """``units`` with their hours up to minute ``last``; ``busy`` says until when a run goes on.

    ``hours`` that were read already are not read again.
    """
    until = origin + timedelta(minutes=last)
    hours = hours or opening_hours(lab, origin - timedelta(minutes=LOOK_BACK_MIN), until)
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
    """The facts of a plan, the planned runs that it plans anew, and what is still to come."""

    problem: Problem
    replaces: tuple[int, ...]
    announced: Announced


def gather(
    units: Iterable[Unit], lab: Laboratory, now: datetime, days: int, ready_from: time | None = None
) -> Gathered:
    """What is to be planned on ``units`` from ``now`` for ``days`` days.

    Running runs stay and keep their unit. Runs that are only planned are planned anew with their
    bottles; bottles pinned in them stay where they are pinned. With ``ready_from`` bottles still to
    come are planned as well, as if received on their day at that time.
    """
    units = list(units)
    origin = floor_minute(now)
    last = days * 1440
    planned = planned_units(units, lab, origin, last, busy_until(units))
    replaced = list(Run.objects.filter(unit__in=units, state=RunState.PLANNED).select_related("unit"))
    free = {unit.id: unit.free_from for unit in planned.units}
    lines = {unit.line for unit in units}
    to_come = Announced() if ready_from is None else announced(lines, now, ready_from)
    bottles = _to_plan(lines, replaced, to_come)
    planned_as = planned_bottles(bottles, origin, to_come.comes)
    runs, pins = _pinned(replaced, origin, minute_at_or_after(now, origin), free)
    known = {bottle.id for bottle in planned_as}
    problem = Problem(
        bottles=planned_as,
        units=planned.units,
        horizon_end=last,
        runs=(*planned.blocks, *runs),
        choose=True,
        pins=tuple(pin for pin in pins if pin.bottle in known),
        margin_min=lab.margin_min,
        now=minute_at_or_after(now, origin),
    )
    return Gathered(problem, tuple(run.pk for run in replaced), to_come)


def _to_plan(lines: Iterable[str], replaced: Iterable[Run], to_come: Announced) -> QuerySet:
    """Bottles in the queue, on the runs planned anew and still to come; not those with a place elsewhere."""
    elsewhere = Place.objects.filter(reserved=True).exclude(run__in=replaced)
    here = Q(line__in=lines, state=BottleState.READY)
    here |= Q(pk__in=Place.objects.filter(run__in=replaced, awaiting=True).values("bottle"))
    here |= Q(pk__in=list(to_come.comes))
    return Bottle.objects.filter(here).exclude(pk__in=elsewhere.values("bottle"))


def _pinned(
    replaced: list[Run], origin: datetime, now: int, free: Mapping[str, int]
) -> tuple[tuple[planning.Run, ...], tuple[Pin, ...]]:
    """Runs that hold a pinned bottle and can still start then, with their pins."""
    places = (
        Place.objects.filter(Q(awaiting=True) | Q(reserved=True), run__in=replaced, pinned=True)
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
