"""When staff are there: opening hours, holidays, the next moment somebody can act.

Two halves. :class:`OpeningHours` knows the clock on the wall: weekdays, an IANA zone, closed days.
:class:`StaffedTimes` is the same on the planner's axis: whole minutes since an origin in UTC, so
that a holding time is a subtraction and a change of the clocks cannot stretch or shrink it.

The moment of closing still counts as open: somebody is there to press start.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

MINUTE = timedelta(minutes=1)
DAY = timedelta(days=1)

Shift = tuple[time, time]
Interval = tuple[int, int]


def minute_at_or_before(moment: datetime, origin: datetime) -> int:
    """Whole minutes from ``origin`` to ``moment``, rounded down: safe for a due moment."""
    return (_aware(moment) - _aware(origin)) // MINUTE


def minute_at_or_after(moment: datetime, origin: datetime) -> int:
    """Whole minutes from ``origin`` to ``moment``, rounded up: safe for a receipt."""
    return -((_aware(origin) - _aware(moment)) // MINUTE)


def moment_of(minute: int, origin: datetime) -> datetime:
    """The UTC moment that lies ``minute`` minutes after ``origin``."""
    return _aware(origin) + minute * MINUTE


def _aware(moment: datetime) -> datetime:
    if moment.utcoffset() is None:
        raise ValueError(f"{moment.isoformat()} has no time zone: give an aware datetime.")
    return moment.astimezone(UTC)


@dataclass(frozen=True, slots=True)
class StaffedTimes:
    """Closed intervals (first minute, last minute) in which somebody is there, in order, apart."""

    intervals: tuple[Interval, ...]

    def __post_init__(self) -> None:
        for opens, closes in self.intervals:
            if closes < opens:
                raise ValueError(f"Staffed time ends at minute {closes}, before it begins at {opens}.")
        for (_, closes), (opens, _) in pairwise(self.intervals):
            if opens <= closes:
                raise ValueError(f"Staffed times overlap or are out of order at minute {opens}.")

    @classmethod
    def of(cls, intervals: Iterable[Interval]) -> StaffedTimes:
        """From intervals in any order; those that touch or overlap become one."""
        merged: list[Interval] = []
        for opens, closes in sorted(intervals):
            if merged and opens <= merged[-1][1]:
                merged[-1] = (merged[-1][0], max(merged[-1][1], closes))
            else:
                merged.append((opens, closes))
        return cls(tuple(merged))

    def next_at_or_after(self, minute: int) -> int | None:
        """The first staffed minute not before ``minute``; None if there is none."""
        index = bisect_left(self.intervals, minute, key=_closing)
        if index == len(self.intervals):
            return None
        return max(minute, self.intervals[index][0])

    def last_at_or_before(self, minute: int) -> int | None:
        """The last staffed minute not after ``minute``; None if there is none."""
        index = bisect_right(self.intervals, minute, key=_opening)
        if index == 0:
            return None
        return min(minute, self.intervals[index - 1][1])

    def without(self, closed: Iterable[Interval]) -> StaffedTimes:
        """These times less every minute of ``closed``, intervals in any order, that may overlap."""
        left = list(self.intervals)
        for first, last in closed:
            left = [
                piece
                for opens, closes in left
                for piece in ((opens, min(closes, first - 1)), (max(opens, last + 1), closes))
                if piece[0] <= piece[1]
            ]
        return StaffedTimes(tuple(left))

    def covers(self, minute: int) -> bool:
        """Whether somebody is there at ``minute``."""
        return self.next_at_or_after(minute) == minute


def _opening(interval: Interval) -> int:
    return interval[0]


def _closing(interval: Interval) -> int:
    return interval[1]


@dataclass(frozen=True, slots=True)
class OpeningHours:
    """Opening hours of each weekday in one IANA zone.

    ``weekly`` maps a weekday (Monday is 0) to its shifts (opening, closing) on the local clock. A
    closing that is not later than its opening lies on the next day, so 00:00 to 00:00 is a whole
    day and 22:00 to 06:00 a night. ``closed_on`` are local days without any shift that begins on
    them; ``special`` replaces the shifts of single local days and wins over both.

    A local time that a clock change skips is taken as the moment of the change; one that occurs
    twice as its first occurrence.
    """

    zone: str
    weekly: Mapping[int, tuple[Shift, ...]]
    closed_on: frozenset[date] = frozenset()
    special: Mapping[date, tuple[Shift, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        ZoneInfo(self.zone)
        for weekday in self.weekly:
            if weekday not in range(7):
                raise ValueError(f"Weekday {weekday} does not exist: Monday is 0, Sunday is 6.")
        for shifts in (*self.weekly.values(), *self.special.values()):
            for clock in (clock for shift in shifts for clock in shift):
                if clock.tzinfo is not None or clock.second or clock.microsecond:
                    raise ValueError(f"{clock.isoformat()}: give opening hours as local whole minutes.")

    def of_day(self, day: date) -> list[tuple[datetime, datetime]]:
        """The shifts that begin on a local ``day``, as UTC moments."""
        if day in self.special:
            shifts = self.special[day]
        elif day in self.closed_on:
            shifts = ()
        else:
            shifts = self.weekly.get(day.weekday(), ())
        found = []
        for opens, closes in shifts:
            last_day = day if closes > opens else day + DAY
            begin, end = self._utc(day, opens), self._utc(last_day, closes)
            if begin < end:  # both can fall into a skipped hour
                found.append((begin, end))
        return found

    def staffed(self, origin: datetime, first: int, last: int) -> StaffedTimes:
        """Opening hours from minute ``first`` to minute ``last`` after ``origin``."""
        zone = ZoneInfo(self.zone)
        day = moment_of(first, origin).astimezone(zone).date() - DAY
        last_day = moment_of(last, origin).astimezone(zone).date()
        intervals = []
        while day <= last_day:
            for begin, end in self.of_day(day):
                opens = max(first, minute_at_or_after(begin, origin))
                closes = min(last, minute_at_or_before(end, origin))
                if opens <= closes:
                    intervals.append((opens, closes))
            day += DAY
        return StaffedTimes.of(intervals)

    def next_open(self, moment: datetime, *, within_days: int = 400) -> datetime | None:
        """The first moment from ``moment`` on at which staff can act; None within ``within_days``."""
        moment = _aware(moment)
        day = moment.astimezone(ZoneInfo(self.zone)).date() - DAY
        for offset in range(within_days + 2):
            # A night shift of this day can begin before, and reach past, an early shift of the next.
            for begin, end in sorted(self.of_day(day + offset * DAY)):
                if moment <= end:
                    return max(moment, begin)
        return None

    def _utc(self, day: date, clock: time) -> datetime:
        zone = ZoneInfo(self.zone)
        local = datetime.combine(day, clock)
        first = local.replace(tzinfo=zone).astimezone(UTC)
        if first.astimezone(zone).replace(tzinfo=None) == local:
            return first
        # Skipped: the clocks change after ``second`` and not later than ``first``.
        second = local.replace(tzinfo=zone, fold=1).astimezone(UTC)
        offset = first.astimezone(zone).utcoffset()
        minutes = range(1, (first - second) // MINUTE + 1)
        steps = bisect_left(
            minutes, True, key=lambda step: (second + step * MINUTE).astimezone(zone).utcoffset() == offset
        )
        return second + minutes[steps] * MINUTE
