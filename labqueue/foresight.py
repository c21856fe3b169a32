"""Will it make it? For the queue: where each waiting bottle will be injected as things stand.

Bottles on a run have their planned place; the others are projected onto the free places of the
runs to come (``labqueue.planning.projection``). Places are handed out to who runs out first, so a
bottle's answer depends on what is ahead of it alone, and a page projects as far as it shows.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import NamedTuple

from django.db.models import FilteredRelation, Q
from django.utils.translation import gettext as _

from intake import phrasebook
from intake.models import ClockRow
from intake.states import BottleState
from labqueue.around import Around, look_around
from labqueue.calendar import opening_hours
from labqueue.drafting import say_clock
from labqueue.gathering import LOOK_BACK_MIN, PlannedUnits, floor_minute, planned_units
from labqueue.hours import minute_at_or_after, minute_at_or_before, moment_of
from labqueue.models import Unit
from labqueue.planning.projection import duration, free_slots, seat_by_due
from labqueue.planning.units import PlanningError, Problem, Run, Slot
from labqueue.planning.units import Unit as PlannedUnit
from labqueue.states import STANDING, RunState

#: How far ahead places are handed out, in days; longer than a public holiday and its weekend.
DAYS_AHEAD = 7


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

    def of(self, bottle_pk: int, due_at: datetime | None, state: str = BottleState.READY) -> Outlook | None:
        """The outlook of a bottle whose next keepable clock is ``due_at``; None without units."""
        if not self._units or state == BottleState.MEASURED:
            return None
        seat = self._seats.get(bottle_pk)
        if seat is None:
            return None if due_at is None else _unseated()
        where = {"moment": say_clock(seat.moment), "unit": seat.unit}
        if due_at is None:
            return Outlook(_("injection %(moment)s on %(unit)s, nothing left to keep") % where, False)
        where["length"] = phrasebook.said(duration(abs(int((due_at - seat.moment).total_seconds() // 60))))
        if seat.moment > due_at:
            return _lost(seat, where)
        if state == BottleState.ON_HOLD:
            said = _("if it comes off hold: injection %(moment)s on %(unit)s, %(length)s to spare")
        else:
            said = _("injection %(moment)s on %(unit)s, %(length)s to spare")
        return Outlook(said % where, False)


def _lost(seat: Seat, where: dict[str, str]) -> Outlook:
    if seat.planned:
        said = _("planned %(moment)s on %(unit)s, %(length)s too late: lost unless planned anew")
    else:
        said = _("first free place %(moment)s on %(unit)s, %(length)s too late as runs stand now")
    return Outlook(said % where, True)


def _unseated() -> Outlook:
    return Outlook(_("no free place within %(days)d days as things stand") % {"days": DAYS_AHEAD}, True)


class StandingPlace(NamedTuple):
    """A place of a run that is planned or running. ``kept``: for a bottle that waits for this injection,
    or for one that is still to come.
    """

    unit: int
    run: str
    state: str
    start: datetime
    planned_at: datetime
    sample: int | None
    bottle: int | None
    kept: bool


@dataclass(frozen=True, slots=True)
class Bench:
    """The units with what stands on them. ``retired`` ones are known by name alone."""

    units: list[Unit] = field(default_factory=list)
    names: dict[int, str] = field(default_factory=dict)
    places: list[StandingPlace] = field(default_factory=list)

    def busy(self) -> dict[int, datetime]:
        """Until when the run goes on that is running on a unit, by the unit's key."""
        minutes = {unit.pk: unit.inject_min for unit in self.units}
        found: dict[int, datetime] = {}
        for place in self.places:
            if place.state == RunState.RUNNING and place.unit in minutes:
                end = place.planned_at + timedelta(minutes=minutes[place.unit])
                found[place.unit] = max(end, found.get(place.unit, end))
        return found

    def seats(self) -> dict[int, Seat]:
        """The planned places of bottles, by their key."""
        return {
            place.bottle: Seat(place.planned_at, self.names[place.unit], planned=True)
            for place in self.places
            if place.kept and place.bottle is not None
        }


UNIT_FIELDS = tuple(field.attname for field in Unit._meta.concrete_fields)
RUN_FIELDS = ("number", "state", "planned_start", "started_at")
PLACE_FIELDS = ("planned_at", "sample", "bottle_id", "awaiting", "reserved")


def bench_now() -> Bench:
    """The units in use and the places of runs that stand, those of retired units too: one query."""
    rows = (
        Unit.objects.annotate(
            standing=FilteredRelation("runs", condition=Q(runs__state__in=[str(state) for state in STANDING]))
        )
        .filter(Q(retired_at__isnull=True) | Q(standing__isnull=False))
        .order_by("line", "name", "standing__planned_start", "standing__places__position")
        .values_list(
            *UNIT_FIELDS,
            *(f"standing__{name}" for name in RUN_FIELDS),
            *(f"standing__places__{name}" for name in PLACE_FIELDS),
        )
    )
    bench = Bench()
    for row in rows:
        pk = row[0]
        if pk not in bench.names:
            unit = Unit.from_db(None, UNIT_FIELDS, row[: len(UNIT_FIELDS)])
            bench.names[pk] = unit.name
            if unit.retired_at is None:
                bench.units.append(unit)
        run, state, planned, started, planned_at, sample, bottle, *kept = row[len(UNIT_FIELDS) :]
        if planned_at is not None:
            start = started or planned
            bench.places.append(StandingPlace(pk, run, state, start, planned_at, sample, bottle, any(kept)))
    return bench


def foresee(
    now: datetime, around: Around | None = None, bench: Bench | None = None, until: datetime | None = None
) -> Foresight:
    """The outlook at ``now`` of all whose next clock is not due after ``until``.

    What was read already is not read again; beside that one query whatever waits.
    """
    bench = bench_now() if bench is None else bench
    if not bench.units:
        return Foresight(bench.seats(), units=bool(bench.places))
    around = look_around() if around is None else around
    seats = bench.seats()
    origin = floor_minute(now)
    planned = units_ahead(bench, around, origin, DAYS_AHEAD * 1440)
    names = {unit.id: unit for unit in planned.units}
    placed = dict(_slots(bench, names, origin))
    given = {(slot.unit, slot.start): Run(slot.unit, slot.start) for slot in placed.values()}
    try:
        problem = Problem(
            bottles=(),
            units=planned.units,
            horizon_end=DAYS_AHEAD * 1440,
            runs=(*planned.blocks, *given.values()),
            now=minute_at_or_after(now, origin),
        )
        free = free_slots(problem, placed.values())
    except PlanningError:  # a planned run no longer fits its changed unit: say what is planned only
        return Foresight(seats, units=True)
    for bottle, slot in seat_by_due(_clocks(now, origin, until), free).items():
        seats.setdefault(bottle, Seat(moment_of(slot.moment, origin), slot.unit, planned=False))
    return Foresight(seats, units=True)


def units_ahead(bench: Bench, around: Around, origin: datetime, last: int) -> PlannedUnits:
    """The units in use with their hours up to minute ``last`` after ``origin``; nothing is read."""
    first, until = origin - timedelta(minutes=LOOK_BACK_MIN), origin + timedelta(minutes=last)
    hours = opening_hours(around.lab, first, until, around.weekly, around.closed)
    return planned_units(bench.units, around.lab, origin, last, bench.busy(), hours)


def _slots(bench: Bench, units: Mapping[str, PlannedUnit], origin: datetime) -> Iterator[tuple[int, Slot]]:
    """The places of planned runs as the planner names them, with their bottles."""
    for place in bench.places:
        unit = units.get(bench.names[place.unit])
        if unit is not None and place.kept and place.state == RunState.PLANNED:
            start = minute_at_or_after(place.start, origin)
            moment = unit.sample_moment(start, place.sample)
            yield place.bottle, Slot(unit.load_moment(start, moment), moment, unit.id, start, place.sample)


def _clocks(now: datetime, origin: datetime, until: datetime | None) -> Iterator[tuple[int, str, int]]:
    """The clocks that waiting bottles can still keep, in order of due: one query, read as it is used."""
    clocks = ClockRow.objects.filter(waiting=True, due_at__gte=now)
    if until is not None:
        clocks = clocks.filter(due_at__lte=until)
    rows = clocks.order_by("due_at", "bottle_id").values_list("due_at", "bottle__line", "bottle_id")
    for due_at, line, bottle in rows.iterator(chunk_size=500):
        yield minute_at_or_before(due_at, origin), line, bottle
