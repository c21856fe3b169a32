"""Will it make it? For the queue: where each waiting bottle will be injected as things stand.

Bottles on a run have their planned place; the others are projected onto the free places of the
runs to come (``labqueue.planning.projection``). Only the bottles whose clocks run out soonest are
projected: the places in sight are handed out in that order, so those behind them get none.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils.translation import gettext as _

from intake.models import ClockRow
from labqueue.actions.equipping import laboratory
from labqueue.drafting import say_clock
from labqueue.gathering import floor_minute, planned_units
from labqueue.hours import minute_at_or_after, minute_at_or_before, moment_of
from labqueue.models import Place, Unit
from labqueue.planning.projection import duration, project
from labqueue.planning.units import Bottle, PlanningError, Problem, Run, Slot, Step
from labqueue.planning.units import Unit as PlannedUnit
from labqueue.states import STANDING, RunState

#: How far ahead places are handed out, in days; longer than a public holiday and its weekend.
DAYS_AHEAD = 7
#: Most clocks looked at, the soonest first: more than the places of a week on four usual units.
MOST_CLOCKS = 6000


@dataclass(frozen=True, slots=True)
class Seat:
    """Where and when a bottle will be injected; ``planned`` on a run that stands, else projected."""

    moment: datetime
    unit: str
    planned: bool


@dataclass(frozen=True, slots=True)
class Outlook:
    """What the queue says of one bottle. ``lost``: its next due moment is not kept as things stand."""

    sentence: str
    lost: bool


class Foresight:
    """Seats of all bottles in sight at one moment, by bottle key."""

    def __init__(self, seats: Mapping[int, Seat], units: bool) -> None:
        self._seats, self._units = seats, units

    def of(self, bottle_pk: int, due_at: datetime | None) -> Outlook | None:
        """The outlook of a bottle whose next keepable clock is ``due_at``; None without units."""
        if not self._units:
            return None
        seat = self._seats.get(bottle_pk)
        if seat is None:
            return _unseated(due_at)
        where = {"moment": say_clock(seat.moment), "unit": seat.unit}
        if due_at is None:
            return Outlook(_("injection %(moment)s on %(unit)s, nothing left to keep") % where, False)
        if seat.moment <= due_at:
            where["spare"] = duration(int((due_at - seat.moment).total_seconds() // 60))
            return Outlook(_("injection %(moment)s on %(unit)s, %(spare)s to spare") % where, False)
        where["due"] = say_clock(due_at)
        if seat.planned:
            return Outlook(
                _("due %(due)s, planned %(moment)s on %(unit)s: lost unless planned anew") % where, True
            )
        return Outlook(
            _("due %(due)s, first free place %(moment)s: lost unless a run starts earlier") % where, True
        )


def _unseated(due_at: datetime | None) -> Outlook | None:
    if due_at is None:
        return None
    values = {"due": say_clock(due_at), "days": DAYS_AHEAD}
    return Outlook(_("due %(due)s, no free place within %(days)d days as things stand") % values, True)


def foresee(now: datetime) -> Foresight:
    """The outlook at ``now``, in six queries whatever waits."""
    units = list(Unit.objects.filter(retired_at__isnull=True))
    if not units:
        return Foresight({}, units=False)
    seats, runs, busy = _standing()
    origin = floor_minute(now)
    last = DAYS_AHEAD * 1440
    planned = planned_units(units, laboratory(), origin, last, busy)
    names = {unit.id: unit for unit in planned.units}
    placed = {
        f"{unit} {start} {sample}": _slot(names[unit], start, sample)
        for unit, starts in runs.items()
        if unit in names
        for start, sample in ((minute_at_or_after(start, origin), sample) for start, sample in starts)
    }
    given = {(slot.unit, slot.start): Run(slot.unit, slot.start) for slot in placed.values()}
    try:
        problem = Problem(
            bottles=_soonest(now, origin),
            units=planned.units,
            horizon_end=last,
            runs=(*planned.blocks, *given.values()),
            now=minute_at_or_after(now, origin),
        )
        found = project(problem, placed)
    except PlanningError:  # a planned run no longer fits its changed unit: say what is planned only
        return Foresight(seats, units=True)
    for key, projection in found.items():
        if projection.place is not None:
            slot = projection.place
            seats.setdefault(int(key), Seat(moment_of(slot.moment, origin), slot.unit, planned=False))
    return Foresight(seats, units=True)


def _slot(unit: PlannedUnit, start: int, sample: int) -> Slot:
    moment = unit.sample_moment(start, sample)
    return Slot(unit.load_moment(start, moment), moment, unit.id, start, sample)


Runs = dict[str, list[tuple[datetime, int]]]


def _standing() -> tuple[dict[int, Seat], Runs, dict[int, datetime]]:
    """Seats on runs that stand; places of planned runs by unit; until when running ones go on."""
    seats: dict[int, Seat] = {}
    runs: Runs = {}
    busy: dict[int, datetime] = {}
    rows = Place.objects.filter(run__state__in=STANDING).values_list(
        "run__state",
        "run__unit_id",
        "run__unit__name",
        "run__unit__inject_min",
        "run__planned_start",
        "planned_at",
        "sample",
        "bottle_id",
        "awaiting",
        "reserved",
    )
    for state, unit_pk, unit, inject_min, start, planned_at, sample, bottle, awaiting, reserved in rows:
        if awaiting or reserved:
            seats[bottle] = Seat(planned_at, unit, planned=True)
            if state == RunState.PLANNED:
                runs.setdefault(unit, []).append((start, sample))
        if state == RunState.RUNNING:
            end = planned_at + timedelta(minutes=inject_min)
            busy[unit_pk] = max(end, busy.get(unit_pk, end))
    return seats, runs, busy


def _soonest(now: datetime, origin: datetime) -> tuple[Bottle, ...]:
    """The waiting bottles whose clocks run out soonest and can still be kept: one query."""
    rows = (
        ClockRow.objects.filter(waiting=True, due_at__gte=now)
        .order_by("due_at", "bottle_id")
        .values_list("bottle_id", "bottle__line", "due_at")[:MOST_CLOCKS]
    )
    steps: dict[tuple[int, str], list[int]] = {}
    for bottle, line, due_at in rows:
        minute = minute_at_or_before(due_at, origin)
        known = steps.setdefault((bottle, line), [])
        if not known or known[-1] != minute:
            known.append(minute)
    return tuple(
        Bottle(str(bottle), line, 0, tuple(Step(minute, 1) for minute in minutes))
        for (bottle, line), minutes in steps.items()
    )
