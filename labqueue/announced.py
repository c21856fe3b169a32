"""Bottles that are still to come, and when they can be put on a tray."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import QuerySet

from intake.models import Bottle
from intake.states import BottleState, ConsignmentState, DateState

#: When bottles of a day can be put on a tray unless the manager says otherwise (our choice).
USUAL_READY_FROM = time(12)


@dataclass(frozen=True, slots=True)
class Announced:
    """When announced bottles come, by bottle key; how many have no day, how many should be here."""

    comes: dict[int, datetime] = field(default_factory=dict)
    undated: int = 0
    overdue: int = 0


def still_to_come(lines: Iterable[str]) -> QuerySet:
    """Bottles that the laboratory was told of and that have not been received."""
    return Bottle.objects.filter(
        line__in=lines,
        state=BottleState.EXPECTED,
        consignment__state__in=(ConsignmentState.SENT, ConsignmentState.RECEIVED),
    )


def announced(lines: Iterable[str], now: datetime, ready_from: time) -> Announced:
    """The bottles to come on ``lines``: one query.

    A bottle comes on the agreed day of its consignment, without one on the day that was asked for,
    and can be put on a tray at ``ready_from`` on the laboratory's clock.
    """
    rows = still_to_come(lines).values_list(
        "pk",
        "consignment__requested_on",
        "consignment__date_request__day",
        "consignment__date_request__state",
    )
    zone = ZoneInfo(settings.TIME_ZONE)
    comes: dict[int, datetime] = {}
    undated = overdue = 0
    for bottle, asked, day, state in rows.order_by("pk"):
        expected = _day(asked, day, state)
        if expected is None:
            undated += 1
            continue
        moment = datetime.combine(expected, ready_from, zone)
        if moment < now:
            overdue += 1
        else:
            comes[bottle] = moment
    return Announced(comes, undated, overdue)


def _day(asked: date | None, day: date | None, state: str | None) -> date | None:
    if state == DateState.DECLINED:
        return None
    return day if state == DateState.AGREED else asked
