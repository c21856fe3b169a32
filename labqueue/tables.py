"""The queue as a table."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

import django_tables2 as tables
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from intake.choices import Decision
from intake.models import Bottle, FindingRow
from intake.navigation import address_of
from labqueue.foresight import Foresight, Outlook
from labqueue.queue import Left, findings_of, left_of, ordered


class QueueColumn(tables.Column):
    """A column that sorts the whole queue; ties keep their order of expiry."""

    def __init__(self, sort: str, **kwargs: object) -> None:
        self.sort = sort
        super().__init__(empty_values=(), **kwargs)

    def order(self, queryset: QuerySet, is_descending: bool) -> tuple[QuerySet, bool]:
        return ordered(queryset, f"-{self.sort}" if is_descending else self.sort), True


@dataclass(frozen=True, slots=True)
class ShownBottle:
    """One row of the queue, read off at one moment. ``received_at`` is empty before arrival."""

    number: str
    address: str
    line: str
    own_id: str
    site: str
    group: str
    left: Left
    received_at: datetime | None
    findings: list[FindingRow]
    weightiest: int
    further: int
    state: str
    reservation: str
    outlook: Outlook | None


def shown(bottle: Bottle, now: datetime, foresight: Foresight) -> ShownBottle:
    """What the queue says of ``bottle`` at ``now``."""
    findings = findings_of(bottle)
    left = left_of(bottle, now)
    return ShownBottle(
        number=bottle.number,
        address=address_of("intake:bottle", bottle.number),
        line=bottle.get_line_display(),
        own_id=bottle.sample.own_id,
        site=bottle.sample.site,
        group=bottle.consignment.group.name,
        left=left,
        received_at=bottle.arrival.received_at if bottle.arrival else None,
        findings=findings,
        weightiest=bottle.weightiest,
        further=max(len(findings) - 1, 0),
        state=bottle.state,
        reservation=bottle.decision_reason if bottle.decision == Decision.RESERVED else "",
        outlook=foresight.of(bottle.pk, left.clock.due_at if left.clock else None),
    )


class QueueTable(tables.Table):
    """Waiting bottles; every clock is read off at one ``now``."""

    due = QueueColumn("due", verbose_name=_("Due"), attrs={"th": {"class": "queue-due"}})
    next = tables.Column(empty_values=(), orderable=False, verbose_name=_("Runs out next"))
    outlook = tables.Column(empty_values=(), orderable=False, verbose_name=_("Will it make it?"))
    bottle = QueueColumn("bottle", verbose_name=_("Bottle"))
    sample = QueueColumn("sample", verbose_name=_("Sample"))
    group = QueueColumn("group", verbose_name=_("Group"))
    findings = QueueColumn("findings", verbose_name=_("Findings"))
    state = QueueColumn("state", verbose_name=_("State"))

    class Meta:
        template_name = "labqueue/_queue_table.html"

    def __init__(
        self, data: QuerySet, *args: object, now: datetime, foresight: Foresight, **kwargs: object
    ) -> None:
        self.now, self.foresight = now, foresight
        super().__init__(data, *args, **kwargs)

    def shown(self) -> Iterator[ShownBottle]:
        """The rows of this page."""
        return (shown(row.record, self.now, self.foresight) for row in self.paginated_rows)
