"""What changed since this morning: which bottles came, went, were held up or lost.

The morning is the beginning of the local day of the laboratory. Each question starts from an index
on the moment asked for, so that none works through history.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, time
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils.translation import gettext_lazy as _

from intake.models import BenchCheck, Bottle, ClockRow, Injection
from intake.states import BottleState
from labqueue.models import Place
from labqueue.states import STANDING


def morning_of(now: datetime) -> datetime:
    """The first moment of the laboratory's local day of ``now``."""
    zone = ZoneInfo(settings.TIME_ZONE)
    return datetime.combine(now.astimezone(zone).date(), time(), zone)


def _came(morning: datetime, now: datetime) -> QuerySet:
    return Bottle.objects.filter(arrival__received_at__gte=morning)


def _planned(morning: datetime, now: datetime) -> QuerySet:
    return Place.objects.filter(run__state__in=STANDING, run__created_at__gte=morning, awaiting=True)


def _injected(morning: datetime, now: datetime) -> QuerySet:
    return Injection.objects.filter(at__gte=morning, at__lte=now, voided_at__isnull=True)


def _held(morning: datetime, now: datetime) -> QuerySet:
    checks = BenchCheck.objects.filter(bottle=OuterRef("pk"), undone_at__isnull=True, entered_at__gte=morning)
    since = Q(decided_at__gte=morning) | Q(Exists(checks), decided_at__isnull=True)
    return Bottle.objects.filter(since, state=BottleState.ON_HOLD)


def _lost(morning: datetime, now: datetime) -> QuerySet:
    return ClockRow.objects.filter(waiting=True, due_at__gte=morning, due_at__lt=now)


def _late(morning: datetime, now: datetime) -> QuerySet:
    return ClockRow.objects.filter(stopped_at__gte=morning, stopped_at__gt=F("due_at"), void=False)


@dataclass(frozen=True, slots=True)
class Change:
    """Something that can happen to a bottle in a day: what is said after the count, what the filter
    calls it, the rows that tell of it, and which of their fields names the bottle.
    """

    words: object
    filter_words: object
    rows: Callable[[datetime, datetime], QuerySet]
    bottle: str


#: By the word in the address.
CHANGES: dict[str, Change] = {
    "came": Change(_("came"), _("came today"), _came, "pk"),
    "planned": Change(_("put into a run"), _("put into a run today"), _planned, "bottle"),
    "injected": Change(_("injected"), _("injected today"), _injected, "bottle"),
    "held": Change(_("put on hold"), _("put on hold today"), _held, "pk"),
    "lost": Change(_("lost a clock while waiting"), _("lost a clock today, waiting"), _lost, "bottle"),
    "late": Change(_("injected too late for a clock"), _("injected too late today"), _late, "bottle"),
}


def rows_today(word: str, now: datetime) -> QuerySet:
    """The rows that tell of ``word`` today; their field ``CHANGES[word].bottle`` names the bottle."""
    return CHANGES[word].rows(morning_of(now), now)


def changed(word: str, now: datetime, bottles: QuerySet) -> QuerySet:
    """Those of ``bottles`` to which ``word`` of ``CHANGES`` happened today."""
    return bottles.filter(pk__in=rows_today(word, now).values(CHANGES[word].bottle))
