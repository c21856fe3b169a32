"""Moments on local clocks: zones, the ends of local days and months, and the edges of time.

Everything is computed in UTC; a zone is only asked what its wall clock shows. Moments that
would leave the years Python can name are held at ``EARLIEST`` and ``LATEST``.
"""

from __future__ import annotations

from calendar import isleap
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

#: Kept two days clear of the years 1 and 9999, so that no zone's offset can leave the range.
EARLIEST = datetime(1, 1, 3, tzinfo=UTC)
LATEST = datetime(9999, 12, 29, tzinfo=UTC)

_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)

INSTANT = timedelta(microseconds=1)


@lru_cache(maxsize=1024)
def zone_named(name: str) -> ZoneInfo:
    """The IANA zone called ``name``. Raises ``ValueError`` when there is none."""
    try:
        return ZoneInfo(name)
    except (KeyError, OSError, ValueError) as problem:
        raise ValueError(f"There is no time zone called {name!r}.") from problem


def within_time(moment: datetime) -> datetime:
    """``moment`` in UTC, held between ``EARLIEST`` and ``LATEST``."""
    if moment <= EARLIEST:
        return EARLIEST
    if moment >= LATEST:
        return LATEST
    return moment if moment.tzinfo is UTC else moment.astimezone(UTC)


@lru_cache(maxsize=1024)
def _span(minutes: float) -> timedelta:
    """Nothing that leads beyond the edge of time is longer than the whole of it."""
    return min(timedelta(minutes=min(minutes, 1e10)), LATEST - EARLIEST)


def later(moment: datetime, minutes: float) -> datetime:
    """``minutes`` of elapsed time after ``moment``, in UTC."""
    start, span = within_time(moment), _span(minutes)
    return start + span if span <= LATEST - start else LATEST


def local(moment: datetime, zone: str) -> datetime:
    """``moment`` as the wall clock of ``zone`` shows it."""
    return within_time(moment).astimezone(zone_named(zone))


@lru_cache(maxsize=65536)
def start_of_day(day: date, zone: str) -> datetime:
    """The first moment of the local ``day`` in ``zone``, in UTC.

    Where clocks jump over midnight the day begins at the jump.
    """
    midnight = datetime(day.year, day.month, day.day, tzinfo=zone_named(zone))
    return within_time(midnight)


def end_of_day(day: date, zone: str) -> datetime:
    """The last instant of the local ``day`` in ``zone``: what tables write as 24:00."""
    return start_of_day(day + timedelta(days=1), zone) - INSTANT


def end_of_month(day: date, zone: str) -> datetime:
    """The last instant of the local month in which ``day`` lies."""
    if (day.year, day.month) == (LATEST.year, LATEST.month):
        return LATEST
    following = day.replace(day=1) + timedelta(days=_days_in(day.year, day.month - 1))
    return start_of_day(following, zone) - INSTANT


def months_later(moment: datetime, months: int, zone: str) -> datetime:
    """The same wall-clock time ``months`` calendar months on, in UTC.

    A day that the later month lacks becomes its last day (the rule of dateutil's
    ``relativedelta``; no published one was found). A wall time that clocks show twice or skip
    gives the earlier of its readings, so that no limit grows by a clock change.
    """
    there = local(moment, zone)
    year, month = divmod(there.year * 12 + there.month - 1 + months, 12)
    if year >= LATEST.year:
        return LATEST
    day = min(there.day, _days_in(year, month))
    # Made anew: ``replace`` takes several times as long.
    wall = (year, month + 1, day, there.hour, there.minute, there.second, there.microsecond, there.tzinfo)
    return min(datetime(*wall).astimezone(UTC), datetime(*wall, fold=1).astimezone(UTC))


def _days_in(year: int, month: int) -> int:
    """The length of a month, counted from 0 for January."""
    return 29 if month == 1 and isleap(year) else _DAYS[month]
