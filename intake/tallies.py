"""Counting what happened month by month: clocks kept, days taken, findings. By indexed moments only."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from dateutil.relativedelta import relativedelta
from django.db.models import (
    Case,
    CharField,
    Count,
    DurationField,
    ExpressionWrapper,
    F,
    Q,
    Sum,
    Value,
    When,
)

from intake.choices import TallyKind
from intake.models import Arrival, Bottle, ClockRow, Consignment, FindingRow, Injection, Sample
from intake.rules.judgement import Weight

MONTHS = 12


@dataclass(frozen=True, slots=True)
class Tally:
    """How many there were of ``kind``, of the group with key ``group``, in a month such as 2026-11.

    ``name`` is an ion or the code of a finding, ``kept`` the clocks stopped in time, ``seconds`` what
    all of them took together.
    """

    month: str
    kind: str
    group: int
    name: str
    count: int
    kept: int = 0
    seconds: float = 0.0


@dataclass(frozen=True, slots=True)
class Span:
    """From ``start``, the beginning of a month in ``zone``, to before ``end``."""

    start: datetime
    end: datetime
    zone: str

    def of(self, moment: str) -> dict[str, datetime]:
        """The condition that ``moment`` lies in it."""
        return {f"{moment}__gte": self.start, f"{moment}__lt": self.end}

    def begins(self) -> list[datetime]:
        """The beginning of each of its months, and of the one after."""
        first = self.start.astimezone(ZoneInfo(self.zone))
        found = [first]
        while found[-1] < self.end:
            found.append(first + relativedelta(months=len(found)))
        return found

    def names(self) -> list[str]:
        """Its months, such as 2026-11."""
        return [f"{begin:%Y-%m}" for begin in self.begins()[:-1]]

    def months(self) -> list[Span]:
        """Each of its months by itself."""
        return [Span(begin, after, self.zone) for begin, after in pairwise(self.begins())]


def span_of(now: datetime, zone: str) -> Span:
    """The twelve months that end with that of ``now``."""
    there = now.astimezone(ZoneInfo(zone))
    months = there.year * 12 + there.month - 1 - (MONTHS - 1)
    start = datetime(months // 12, months % 12 + 1, 1, tzinfo=ZoneInfo(zone))
    return Span(start, start + relativedelta(months=MONTHS), zone)


def _month(moment: str, span: Span) -> Case:
    """The month of ``moment``, such as 2026-11.

    Compared with the ends of the months, which are worked out once: SQLite would call Python for every
    row to find a month in a time zone.
    """
    return Case(
        *(
            When(**{f"{moment}__lt": after}, then=Value(f"{begin:%Y-%m}"))
            for begin, after in pairwise(span.begins())
        ),
        output_field=CharField(),
    )


def counted(span: Span) -> list[Tally]:
    """Everything that is counted of ``span``, in four queries."""
    return [*_clocks(span), *_arrivals(span), *_injections(span), *_findings(span)]


def _clocks(span: Span) -> Iterator[Tally]:
    """Clocks with a due moment that an injection stopped."""
    rows = (
        ClockRow.objects.filter(**span.of("stopped_at"), void=False, due_at__isnull=False)
        .order_by()
        .values("ion", month=_month("stopped_at", span), group=F("bottle__consignment__group_id"))
        .annotate(stopped=Count("pk"), kept=Count("pk", filter=Q(stopped_at__lte=F("due_at"))))
    )
    for row in rows:
        yield Tally(row["month"], TallyKind.CLOCK, row["group"], row["ion"], row["stopped"], row["kept"])


def _took(first: str, last: str) -> Sum:
    return Sum(ExpressionWrapper(F(last) - F(first), output_field=DurationField()))


def _arrivals(span: Span) -> Iterator[Tally]:
    """Bottles that arrived, and how long after their collection."""
    # The arrivals are a list of their own, so that a database begins with them and not with all bottles.
    arrivals = Arrival.objects.filter(**span.of("received_at")).order_by().values("pk")
    rows = (
        Bottle.objects.filter(arrival__in=arrivals, sample__collected_at__isnull=False)
        .order_by()
        .values(month=_month("arrival__received_at", span), group=F("consignment__group_id"))
        .annotate(count=Count("pk"), took=_took("sample__collected_at", "arrival__received_at"))
    )
    return _lasting(TallyKind.ARRIVAL, rows)


def _injections(span: Span) -> Iterator[Tally]:
    """Injections that stand, and how long after the arrival."""
    rows = (
        Injection.objects.filter(**span.of("at"), voided_at__isnull=True, bottle__arrival__isnull=False)
        .order_by()
        .values(month=_month("at", span), group=F("bottle__consignment__group_id"))
        .annotate(count=Count("pk"), took=_took("bottle__arrival__received_at", "at"))
    )
    return _lasting(TallyKind.INJECTION, rows)


def _lasting(kind: str, rows: object) -> Iterator[Tally]:
    for row in rows:
        took: timedelta = row["took"]
        yield Tally(row["month"], kind, row["group"], "", row["count"], seconds=took.total_seconds())


def _findings(span: Span) -> Iterator[Tally]:
    """Samples received that have a caution or a bar, by its code."""
    received = Consignment.objects.filter(**span.of("received_at")).order_by().values("pk")
    samples = Sample.objects.filter(consignment__in=received).order_by().values("pk")
    rows = (
        FindingRow.objects.filter(rank__gte=Weight.CAUTION.rank, sample__in=samples)
        .order_by()
        .values(
            "code",
            month=_month("sample__consignment__received_at", span),
            group=F("sample__consignment__group_id"),
        )
        .annotate(samples=Count("sample", distinct=True))
    )
    for row in rows:
        yield Tally(row["month"], TallyKind.FINDING, row["group"], row["code"], row["samples"])
