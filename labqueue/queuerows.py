"""What the queue says of the bottles it shows, read off at one moment.

One question brings everything that stands in a row: the bottle, its sample, its consignment, its
heaviest finding and its clocks. Nothing is made into models: a page reads them and forgets them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from operator import itemgetter
from typing import NamedTuple

from django.db.models import Count, IntegerField, OuterRef, Q, QuerySet, Subquery, Value

from intake.choices import Decision
from intake.models import Bottle, FindingRow
from intake.rules.judgement import Weight


class Clock(NamedTuple):
    """One clock of a row, with the names that a stored one has."""

    ion: str
    starts_at: datetime | None
    due_at: datetime | None
    stopped_at: datetime | None
    void: bool


@dataclass(frozen=True, slots=True)
class Left:
    """What is left of one bottle at a moment: the soonest keepable clock and the run-out ions."""

    ions: tuple[str, ...]
    clock: Clock | None
    run_out: tuple[str, ...]
    unlimited: tuple[str, ...]


def left_of(clocks: Iterable[Clock], now: datetime) -> Left:
    """Read off ``clocks`` of a bottle (or stored ones), by due moment, how it stands at ``now``."""
    running = [clock for clock in clocks if clock.stopped_at is None and not clock.void]
    keepable = [clock for clock in running if clock.due_at is not None and clock.due_at >= now]
    soonest = keepable[0] if keepable else None
    return Left(
        ions=tuple(clock.ion for clock in keepable if clock.due_at == soonest.due_at) if soonest else (),
        clock=soonest,
        run_out=tuple(clock.ion for clock in running if clock.due_at is not None and clock.due_at < now),
        unlimited=tuple(clock.ion for clock in running if clock.due_at is None),
    )


class QueueRow(NamedTuple):
    """One bottle as the queue knows it. ``received_at`` is empty before arrival; ``reservation`` is
    why it was accepted with one; ``finding`` the heaviest caution or bar, of ``findings`` in all.
    """

    pk: int
    number: str
    line: str
    state: str
    weightiest: int
    reservation: str
    own_id: str
    site: str
    collected_at: datetime | None
    consignment: str
    title: str
    group: str
    received_at: datetime | None
    finding: str
    findings: int
    left: Left


FIELDS = (
    "pk",
    "number",
    "line",
    "state",
    "weightiest",
    "decision",
    "decision_reason",
    "sample__own_id",
    "sample__site",
    "sample__collected_at",
    "consignment__number",
    "consignment__title",
    "consignment__group__name",
    "arrival__received_at",
    "finding",
    "finding_count",
)
CLOCK_FIELDS = tuple(f"clocks__{name}" for name in Clock._fields)


def _with_findings(bottles: QuerySet) -> QuerySet:
    """Add the sentence of the heaviest caution or bar of bottle or sample, and how many there are."""
    own = Q(bottle=OuterRef("pk")) | Q(bottle__isnull=True)
    findings = FindingRow.objects.filter(own, sample=OuterRef("sample"), rank__gte=Weight.CAUTION.rank)
    counted = findings.order_by().annotate(all=Value(1)).values("all").annotate(count=Count("pk"))
    return bottles.annotate(
        finding=Subquery(findings.order_by("-rank", "pk").values("sentence")[:1]),
        finding_count=Subquery(counted.values("count"), output_field=IntegerField()),
    )


def rows_of(pks: Sequence[int], now: datetime) -> list[QueueRow]:
    """The bottles of these keys in their order, as they stand at ``now``: one query."""
    found = (
        _with_findings(Bottle.objects.filter(pk__in=pks))
        .order_by("pk", "clocks__due_at", "clocks__pk")
        .values_list(*FIELDS, *CLOCK_FIELDS)
    )
    rows = {pk: _row(list(lines), now) for pk, lines in groupby(found, key=itemgetter(0))}
    return [rows[pk] for pk in pks if pk in rows]


def _row(lines: list[tuple], now: datetime) -> QueueRow:
    pk, number, line, state, weightiest, decision, reason, *rest = lines[0][: len(FIELDS)]
    own_id, site, collected_at, consignment, title, group, received_at, finding, findings = rest
    clocks = [Clock(*line[len(FIELDS) :]) for line in lines if line[len(FIELDS)] is not None]
    return QueueRow(
        pk,
        number,
        line,
        state,
        weightiest,
        reason if decision == Decision.RESERVED else "",
        own_id,
        site,
        collected_at,
        consignment,
        title,
        group,
        received_at,
        finding or "",
        findings or 0,
        left_of(clocks, now),
    )
