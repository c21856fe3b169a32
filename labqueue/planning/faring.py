"""How an outing fares at the laboratory: each ion, on its day and on those around it.

Every ion is reckoned from the first sample, whose clock runs out first; the cooler leaves after the
last one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from intake.rules.book import Rulebook
from intake.rules.earning import in_order
from intake.rules.facts import Line
from intake.rules.ions import BY_NAME
from intake.rules.judgement import Clock, Finding, Judgement
from labqueue.hours import (
    MINUTE,
    OpeningHours,
    StaffedTimes,
    minute_at_or_after,
    minute_at_or_before,
    moment_of,
)
from labqueue.planning.outing import BottlesToTake, Outing, bottles_to_take, judged, objections
from labqueue.planning.trip import Laboratory, Obstacle, UnitTimes, check_trip, latest_handover

#: How many sampling days are looked at.
DAYS = 14
#: Opening hours are looked up this far beyond the last due moment, in days, so that a closed
#: fortnight has an end; and never further than two years, more than any limit that was found.
_BEYOND_DAYS, _FURTHEST_DAYS = 45, 800


@dataclass(frozen=True, slots=True)
class BenchUnit:
    """One unit in UTC moments: ``lead_min`` from pressing start to the first sample, ``alone_min``
    from pressing start until the next run may start, with a single sample.

    ``taken`` are the spells [from, until) of runs and repairs; ``places`` free places on runs
    already planned: (when their run starts, when they are injected). A bottle has to be there at the
    start, or with ``topup`` when somebody was last there before the injection.
    """

    lead_min: int
    alone_min: int
    taken: tuple[tuple[datetime, datetime], ...] = ()
    places: tuple[tuple[datetime, datetime], ...] = ()
    topup: bool = False

    def times(self, staffed: StaffedTimes, origin: datetime) -> UnitTimes:
        """The same on the axis of ``staffed``, which counts from ``origin``."""
        taken = [
            (minute_at_or_before(first, origin), minute_at_or_after(until, origin))
            for first, until in self.taken
        ]
        places = tuple(self._place(start, moment, staffed, origin) for start, moment in self.places)
        # A run that is to be over when another begins has to start so much before.
        closed = ((first - self.alone_min + 1, until - 1) for first, until in taken)
        return UnitTimes(staffed.without(closed), self.lead_min, places)

    def _place(
        self, start: datetime, moment: datetime, staffed: StaffedTimes, origin: datetime
    ) -> tuple[int, int]:
        loading, injection = minute_at_or_before(start, origin), minute_at_or_after(moment, origin)
        if self.topup:
            loading = max(loading, staffed.last_at_or_before(injection) or loading)
        return loading, injection


@dataclass(frozen=True, slots=True)
class Bench:
    """How the laboratory works: its opening hours, minutes from handing over to the tray, and the
    units of each line.
    """

    opening: OpeningHours
    preparation_min: int
    units: Mapping[Line, tuple[BenchUnit, ...]]


def laboratories(bench: Bench, origin: datetime, days: int) -> dict[Line, Laboratory]:
    """The lines of ``bench`` on the planner's axis: ``days`` days from ``origin``."""
    staffed = bench.opening.staffed(origin, 0, days * 1440)
    return {
        line: Laboratory(
            staffed,
            bench.preparation_min,
            tuple(unit.times(staffed, origin) for unit in units),
            tuple(UnitTimes(staffed, unit.lead_min) for unit in units),
        )
        for line, units in bench.units.items()
    }


def hand_over_by(bench: Bench, due: Mapping[Line, datetime], after: datetime) -> datetime | None:
    """The last moment, not before ``after``, to hand bottles over so that an injection on each line
    can start by its moment in ``due``; ``None`` if there is none. ``due`` names one line or more.
    """
    origin = after.astimezone(UTC)
    days = (max(due.values()) - origin).days + 2
    lines = laboratories(bench, origin, days)
    latest = [
        latest_handover(minute_at_or_before(moment, origin), lines[line], lines[line].taken, 0)
        for line, moment in due.items()
    ]
    found = [minute for minute in latest if minute is not None]
    return moment_of(min(found), origin) if len(found) == len(latest) else None


@dataclass(frozen=True, slots=True)
class IonAnswer:
    """How one ion fares. Moments in UTC.

    ``due_at`` is ``None`` where the rulebook sets no limit, ``latest_at`` (the last handing-over
    that is in time) where none after the last sample is, ``injection_at`` where the opening hours
    known end before it. ``lost``: a bottle kept this way cannot give the ion at all.
    """

    ion: str
    line: Line
    due_at: datetime | None
    latest_at: datetime | None = None
    injection_at: datetime | None = None
    obstacle: Obstacle | None = None
    lost: bool = False

    @property
    def in_time(self) -> bool:
        return self.obstacle is None and not self.lost


@dataclass(frozen=True, slots=True)
class DayAnswer:
    """How one sampling day would go; ``ions`` in order of listing."""

    outing: Outing
    ions: tuple[IonAnswer, ...]

    @property
    def failing(self) -> tuple[IonAnswer, ...]:
        return tuple(answer for answer in self.ions if not answer.in_time)

    @property
    def works(self) -> bool:
        return not self.failing


_EPOCH = datetime(2000, 1, 1, tzinfo=UTC)


class Timetable:
    """The bench on the planner's axis, for outings of :data:`DAYS` days from that of ``first``.

    ``longest_min`` is the longest holding time of interest, in minutes.
    """

    def __init__(self, bench: Bench, first: Outing, longest_min: int) -> None:
        begins = first.begins.astimezone(UTC)
        self.origin = moment_of(minute_at_or_before(begins, _EPOCH), _EPOCH) - timedelta(days=2)
        reach = timedelta(minutes=longest_min) + (first.arrives - begins)
        days = min(reach.days + DAYS + _BEYOND_DAYS, _FURTHEST_DAYS)
        self._laboratories = laboratories(bench, self.origin, days)

    def day(self, outing: Outing, judgement: Judgement) -> DayAnswer:
        """How every ion of ``outing`` fares under its ``judgement``."""
        clocks = {clock.ion: clock for clock in judgement.clocks}
        return DayAnswer(outing, tuple(self._ion(outing, clocks[ion]) for ion in in_order(frozenset(clocks))))

    def _ion(self, outing: Outing, clock: Clock) -> IonAnswer:
        line = BY_NAME[clock.ion].line
        if clock.void or clock.due_at is None:
            return IonAnswer(clock.ion, line, None, lost=clock.void)
        begins = minute_at_or_before(outing.begins, self.origin)
        ends = minute_at_or_after(outing.ends, self.origin)
        due = minute_at_or_before(clock.due_at, self.origin)
        way = ends + outing.transport_min - begins
        told = check_trip(begins, way, due - begins, self._laboratories[line])
        latest = told.latest_arrival
        return IonAnswer(
            clock.ion,
            line,
            clock.due_at,
            None if latest is None or latest < ends else moment_of(latest, self.origin),
            None if told.injection is None else moment_of(told.injection, self.origin),
            told.obstacle,
        )


@dataclass(frozen=True, slots=True)
class OutingAnswer:
    """Everything there is to say of one outing.

    ``days`` are :data:`DAYS` sampling days in a row; ``objections`` what the rulebook has against
    the way the bottles will be kept.
    """

    outing: Outing
    bottles: tuple[BottlesToTake, ...]
    chosen: DayAnswer
    days: tuple[DayAnswer, ...]
    objections: tuple[Finding, ...]


def longest_min(judgement: Judgement) -> int:
    """The longest holding time of ``judgement`` in whole minutes."""
    spans = [
        (clock.due_at - clock.starts_at) // MINUTE
        for clock in judgement.clocks
        if clock.due_at is not None and clock.starts_at is not None
    ]
    return max(spans, default=0)


class Check:
    """One outing held against a rulebook and a bench.

    ``first_day`` is where the sampling days that are looked at begin, in days after that of the
    outing; it may be negative.
    """

    def __init__(self, outing: Outing, book: Rulebook, bench: Bench, first_day: int = 0) -> None:
        self.outing, self.book, self._first_day = outing, book, first_day
        self._judgement = judged(outing, book)
        longest = longest_min(self._judgement)
        self._here = Timetable(bench, outing, longest)
        self._around = Timetable(bench, outing.days_later(first_day), longest)

    def day(self, outing: Outing) -> DayAnswer:
        """How a changed ``outing`` of the same day would go."""
        return self._here.day(outing, judged(outing, self.book))

    def days(self, outing: Outing) -> tuple[DayAnswer, ...]:
        """How ``outing`` would go on each of the sampling days."""
        moved = [outing.days_later(self._first_day + number) for number in range(DAYS)]
        return tuple(self._around.day(one, judged(one, self.book)) for one in moved)

    def answer(self) -> OutingAnswer:
        return OutingAnswer(
            self.outing,
            bottles_to_take(self.outing, self.book),
            self._here.day(self.outing, self._judgement),
            self.days(self.outing),
            objections(self._judgement),
        )
