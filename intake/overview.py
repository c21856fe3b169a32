"""How a laboratory did in the last twelve months. Counted by the database, by indexed moments only."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from dateutil.relativedelta import relativedelta
from django.db.models import (
    Avg,
    Case,
    CharField,
    Count,
    DurationField,
    Exists,
    ExpressionWrapper,
    F,
    OuterRef,
    Q,
    Value,
    When,
)

from intake.models import Arrival, Bottle, ClockRow, Consignment, FindingRow, Injection, Question, Sample
from intake.rules.judgement import Weight
from intake.states import ConsignmentState
from intake.stating import OPEN

MONTHS = 12
FINDINGS_SHOWN = 5
TO_CLOSE_SHOWN = 20
DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Kept:
    """Clocks that were stopped under one name, and how many of them in time."""

    name: str
    stopped: int
    kept: int

    @property
    def percent(self) -> int:
        """Rounded down, so that 100 means all of them."""
        return 100 * self.kept // self.stopped


@dataclass(frozen=True, slots=True)
class Days:
    """Mean days of a group's bottles: collection to arrival, and arrival to injection."""

    group: str
    bottles: int
    to_arrival: float | None
    to_injection: float | None


@dataclass(frozen=True, slots=True)
class Common:
    """A finding that a group's samples have most often: of how many samples."""

    group: str
    code: str
    samples: int


def since(now: datetime, zone: str) -> datetime:
    """The beginning of the month eleven months before that of ``now``."""
    there = now.astimezone(ZoneInfo(zone))
    months = there.year * 12 + there.month - 1 - (MONTHS - 1)
    return datetime(months // 12, months % 12 + 1, 1, tzinfo=ZoneInfo(zone))


@dataclass(frozen=True, slots=True)
class KeptTable:
    """Stopped clocks by month, group and ion, and the same rolled up."""

    rows: tuple[tuple[str, str, str, Kept], ...]

    def _rolled(self, place: int) -> list[Kept]:
        stopped: Counter[Hashable] = Counter()
        kept: Counter[Hashable] = Counter()
        for row in self.rows:
            stopped[row[place]] += row[3].stopped
            kept[row[place]] += row[3].kept
        return [Kept(str(name), count, kept[name]) for name, count in stopped.items()]

    def by_month(self) -> list[Kept]:
        return sorted(self._rolled(0), key=lambda one: one.name)

    def by_group(self) -> list[Kept]:
        return sorted(self._rolled(1), key=lambda one: (one.percent, one.name))

    def by_ion(self) -> list[Kept]:
        return sorted(self._rolled(2), key=lambda one: (one.percent, one.name))


def _month(moment: str, start: datetime, zone: str) -> Case:
    """The month of ``moment`` in ``zone``, such as 2026-11, for the months from that of ``start`` on.

    Compared with the ends of the months, which are worked out once: SQLite would call Python for every
    row to find a month in a time zone.
    """
    first = start.astimezone(ZoneInfo(zone)).replace(day=1, hour=0, minute=0, second=0, microsecond=0)
    begins = [first + relativedelta(months=count) for count in range(MONTHS + 1)]
    return Case(
        *(
            When(**{f"{moment}__lt": after}, then=Value(f"{begin:%Y-%m}"))
            for begin, after in pairwise(begins)
        ),
        default=Value(f"{begins[-1]:%Y-%m}"),
        output_field=CharField(),
    )


def clocks_kept(start: datetime, zone: str) -> KeptTable:
    """Clocks with a due moment that an injection stopped since ``start``, in one query."""
    rows = (
        ClockRow.objects.filter(stopped_at__gte=start, void=False, due_at__isnull=False)
        .order_by()
        .values(
            "ion",
            month=_month("stopped_at", start, zone),
            group=F("bottle__consignment__group__name"),
        )
        .annotate(stopped=Count("pk"), kept=Count("pk", filter=Q(stopped_at__lte=F("due_at"))))
    )
    told = [
        (row["month"], row["group"], row["ion"], Kept(row["ion"], row["stopped"], row["kept"]))
        for row in rows
    ]
    return KeptTable(tuple(sorted(told, key=lambda row: row[:3])))


def _mean(rows: Iterable[dict[str, object]]) -> dict[str, tuple[int, float]]:
    return {row["group"]: (row["count"], row["mean"] / DAY) for row in rows if row["mean"] is not None}


def _between(first: str, last: str) -> Avg:
    return Avg(ExpressionWrapper(F(last) - F(first), output_field=DurationField()))


def days_taken(start: datetime) -> list[Days]:
    """Mean days by group since ``start``, in two queries."""
    # The arrivals are a list of their own, so that a database begins with them and not with all bottles.
    arrivals = Arrival.objects.filter(received_at__gte=start).order_by().values("pk")
    came = Bottle.objects.filter(arrival__in=arrivals, sample__collected_at__isnull=False)
    arrived = _mean(
        came.order_by()
        .values(group=F("consignment__group__name"))
        .annotate(count=Count("pk"), mean=_between("sample__collected_at", "arrival__received_at"))
    )
    shots = Injection.objects.filter(at__gte=start, voided_at__isnull=True, bottle__arrival__isnull=False)
    injected = _mean(
        shots.order_by()
        .values(group=F("bottle__consignment__group__name"))
        .annotate(count=Count("pk"), mean=_between("bottle__arrival__received_at", "at"))
    )
    return [
        Days(
            group,
            arrived.get(group, (0, 0.0))[0],
            arrived[group][1] if group in arrived else None,
            injected[group][1] if group in injected else None,
        )
        for group in sorted({*arrived, *injected})
    ]


def commonest_findings(start: datetime) -> list[Common]:
    """The cautions and bars that each group's received samples have most often, in one query."""
    received = Consignment.objects.filter(received_at__gte=start).order_by().values("pk")
    samples = Sample.objects.filter(consignment__in=received).order_by().values("pk")
    rows = (
        FindingRow.objects.filter(rank__gte=Weight.CAUTION.rank, sample__in=samples)
        .order_by()
        .values("code", group=F("sample__consignment__group__name"))
        .annotate(samples=Count("sample", distinct=True))
    )
    by_group: dict[str, list[Common]] = defaultdict(list)
    for row in rows:
        by_group[row["group"]].append(Common(row["group"], row["code"], row["samples"]))
    return [
        common
        for group in sorted(by_group)
        for common in sorted(by_group[group], key=lambda one: (-one.samples, one.code))[:FINDINGS_SHOWN]
    ]


def open_questions() -> int:
    """How many questions wait for an answer."""
    return Question.objects.open().count()


def to_close(start: datetime) -> list[Consignment]:
    """Consignments received since ``start``, measured and without a statement, the oldest first."""
    waiting = Bottle.objects.filter(consignment=OuterRef("pk"), state__in=OPEN)
    received = Consignment.objects.filter(
        state=ConsignmentState.RECEIVED, received_at__gte=start, statements__isnull=True
    )
    found = received.filter(~Exists(waiting)).select_related("group").order_by("received_at", "pk")
    return list(found[:TO_CLOSE_SHOWN])


def arrivals_since(start: datetime) -> int:
    return Arrival.objects.filter(received_at__gte=start).count()
