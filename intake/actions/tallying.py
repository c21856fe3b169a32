"""Keeping what was counted of each month, so that the overview need not count a year anew.

Nothing is decided by these figures; they are counted from what stands, every time from the beginning,
so that a correction of the past is in them after the next count.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from intake.models import CountedMonth, MonthTally
from intake.tallies import Span, counted, span_of

#: Months at the end of the year that are counted each time; older ones change by corrections only.
STILL_MOVING = 2


def count_months(span: Span, *, at: datetime) -> int:
    """Count every month of ``span`` and keep it in place of what was counted before."""
    found = counted(span)
    names = span.names()
    with transaction.atomic():
        CountedMonth.objects.filter(month__in=names).delete()
        months = {name: CountedMonth.objects.create(month=name, counted_at=at) for name in names}
        MonthTally.objects.bulk_create(
            MonthTally(
                month=months[tally.month],
                kind=tally.kind,
                group_id=tally.group,
                name=tally.name,
                count=tally.count,
                kept=tally.kept,
                seconds=tally.seconds,
            )
            for tally in found
        )
    return len(found)


def months_due(at: datetime, zone: str) -> Sequence[Span]:
    """What is to be counted at ``at``: all twelve months the first time, then those that still move."""
    span = span_of(at, zone)
    months = span.months()
    past = [month.names()[0] for month in months[:-STILL_MOVING]]
    if CountedMonth.objects.filter(month__in=past).count() < len(past):
        return [span]
    return months[-STILL_MOVING:]
