"""The laboratory's hours out of the database: the week, public holidays, days of our own."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, datetime, time
from functools import lru_cache
from zoneinfo import ZoneInfo

import holidays
from django.conf import settings

from labqueue.hours import OpeningHours as Hours
from labqueue.models import ClosedDay, Laboratory, OpeningHours


@lru_cache(maxsize=64)
def public_holidays(country: str, region: str, year: int) -> tuple[tuple[date, str], ...]:
    """The public holidays of one year with their names, in order; none without a country."""
    if not country:
        return ()
    found = holidays.country_holidays(country, subdiv=region or None, years=year, language="en_US")
    return tuple(sorted(found.items()))


def closed_days(
    lab: Laboratory, first: date, last: date, own: Mapping[date, str] | None = None
) -> dict[date, str]:
    """Every local day from ``first`` to ``last`` on which nobody is there though the week says so.

    ``own`` closed days are read where they are not given.
    """
    found = {
        day: name
        for year in range(first.year, last.year + 1)
        for day, name in public_holidays(lab.country, lab.region, year)
        if first <= day <= last
    }
    if own is None:
        own = dict(ClosedDay.objects.filter(day__gte=first, day__lte=last).values_list("day", "reason"))
    return found | {day: reason for day, reason in own.items() if first <= day <= last}


Shifts = Mapping[int, Sequence[tuple[time, time]]]


def weekly_shifts() -> Shifts:
    """The shifts of each weekday: one query."""
    weekly: dict[int, list[tuple[time, time]]] = defaultdict(list)
    for weekday, opens, closes in OpeningHours.objects.values_list("weekday", "opens", "closes"):
        weekly[weekday].append((opens, closes))
    return weekly


def opening_hours(
    lab: Laboratory,
    first: datetime,
    last: datetime,
    weekly: Shifts | None = None,
    own: Mapping[date, str] | None = None,
) -> Hours:
    """The hours from ``first`` to ``last``, on the laboratory's clock.

    ``weekly`` shifts and ``own`` closed days by reason are read where they are not given: a query each.
    """
    zone = ZoneInfo(settings.TIME_ZONE)
    weekly = weekly_shifts() if weekly is None else weekly
    closed = closed_days(lab, first.astimezone(zone).date(), last.astimezone(zone).date(), own)
    return Hours(
        settings.TIME_ZONE,
        {weekday: tuple(shifts) for weekday, shifts in weekly.items()},
        closed_on=frozenset(closed),
    )
