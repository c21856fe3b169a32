"""By when the bottles of a consignment have to be handed over."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db.models import Min

from intake.models import ClockRow, Consignment
from intake.papers.fieldcard import SendBy
from intake.rules.facts import Line
from labqueue.laboratory import bench
from labqueue.planning.faring import hand_over_by


def send_by(consignment: Consignment, at: datetime) -> SendBy | None:
    """When the first clock of ``consignment`` runs out after ``at``, and until when its bottles can be
    handed over so that none does; ``None`` where no clock can be kept.
    """
    rows = (
        ClockRow.objects.keepable(at)
        .filter(bottle__consignment=consignment)
        .order_by()
        .values_list("bottle__line")
        .annotate(due=Min("due_at"))
    )
    due = {Line(line): moment for line, moment in rows}
    if not due:
        return None
    laboratory = bench(at - timedelta(days=2), max(due.values()) + timedelta(days=2), at)
    return SendBy(min(due.values()), hand_over_by(laboratory, due, at))
