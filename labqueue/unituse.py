"""How the units were used: runs, injections, and the share of the hours that were there.

Reads the runs of the period alone, by index, whatever came before.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Count, Max, Min, Q

from labqueue.hours import DAY
from labqueue.laboratory import opening_hours
from labqueue.models import Run, Unit
from labqueue.planning.sequence import PlaceKind
from labqueue.planning.use import Interval, common, joined, length, without

HOUR = timedelta(hours=1)
#: A run that began before the period may reach into it; none takes longer than this (our choice).
LONGEST_RUN = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Use:
    """One unit over one span: ``hours`` it ran, of which in staffed hours; what there was of both.

    ``injections`` are those of samples that were entered, ``checks`` those of blanks and standards,
    as far as the run got.
    """

    name: str
    line: str
    runs: int
    injections: int
    checks: int
    hours: float
    hours_staffed: float
    possible: float
    possible_staffed: float

    @property
    def percent_staffed(self) -> int | None:
        """``None`` for a unit that never ran."""
        return _share(self.hours_staffed, self.possible_staffed)

    @property
    def percent(self) -> int | None:
        """Of all hours, nights and holidays too, in which the unit was in service."""
        return _share(self.hours, self.possible)


def _share(part: float, whole: float) -> int | None:
    return round(100 * part / whole) if whole else None


@dataclass(frozen=True, slots=True)
class _Ran:
    span: Interval
    injections: int
    checks: int


def units_used(start: datetime, now: datetime) -> list[Use]:
    """Each unit that stands or ran since ``start``, in order of line and name."""
    return [_use(unit, runs, there, staffed) for unit, runs, there, staffed in _told(start, now)]


def units_used_by_month(start: datetime, now: datetime, zone: str) -> list[tuple[str, Use]]:
    """The same month by month, each month named like 2026-03."""
    told = list(_told(start, now))
    rows = []
    for name, month in _months(start, now, zone):
        for unit, runs, there, staffed in told:
            of_month = [ran for ran in runs if month[0] <= ran.span[0] < month[1]]
            clipped = common(there, [month])
            spans = common(joined(ran.span for ran in runs), [month])
            rows.append((name, _use(unit, of_month, clipped, common(staffed, [month]), spans)))
    return rows


def _use(
    unit: Unit,
    runs: list[_Ran],
    there: list[Interval],
    staffed: list[Interval],
    spans: list[Interval] | None = None,
) -> Use:
    ran = common(joined(run.span for run in runs) if spans is None else spans, there)
    return Use(
        unit.name,
        unit.get_line_display(),
        len(runs),
        sum(run.injections for run in runs),
        sum(run.checks for run in runs),
        length(ran) / HOUR,
        length(common(ran, staffed)) / HOUR,
        length(there) / HOUR,
        length(common(there, staffed)) / HOUR,
    )


def _told(
    start: datetime, now: datetime
) -> Iterable[tuple[Unit, list[_Ran], list[Interval], list[Interval]]]:
    """Each unit with its runs, the spans in which it was there, and the staffed hours."""
    runs = _runs(start, now)
    staffed = _staffed(start, now)
    units = Unit.objects.filter(Q(retired_at__isnull=True) | Q(pk__in=runs)).annotate(
        first_run=Min("runs__planned_start")
    )
    for unit in units.order_by("line", "name"):
        yield unit, runs[unit.pk], _there(unit, start, now), staffed


def _there(unit: Unit, start: datetime, now: datetime) -> list[Interval]:
    """When ``unit`` could have run: from its first run on, less the time it is known to have been out."""
    begins = max(start, unit.first_run or now)
    ends = min(now, unit.retired_at or now)
    out = [(unit.out_from, unit.out_until or now)] if unit.out_from else []
    return without(joined([(begins, ends)]), joined(out))


def _staffed(start: datetime, now: datetime) -> list[Interval]:
    """Opening hours from ``start`` to ``now``, by the week as it is today."""
    hours = opening_hours(start, now)
    zone = ZoneInfo(hours.zone)
    day, last = start.astimezone(zone).date() - DAY, now.astimezone(zone).date()
    found: list[Interval] = []
    while day <= last:
        found += hours.of_day(day)
        day += DAY
    return common(joined(found), [(start, now)]) if start < now else []


def _runs(start: datetime, now: datetime) -> dict[int, list[_Ran]]:
    """What ran since ``start``, by unit; a run counts from its start to its last injection. One query."""
    sample = Q(places__kind=PlaceKind.SAMPLE.value)
    done = Q(places__failed=False, places__planned_at__lte=now)
    rows = (
        Run.objects.filter(
            planned_start__gte=start - LONGEST_RUN, planned_start__lte=now, started_at__isnull=False
        )
        .order_by("planned_start")
        .values_list("unit_id", "unit__inject_min", "started_at")
        .annotate(
            last=Max("places__planned_at", filter=done),
            injections=Count("places", filter=sample & Q(places__injected_at__isnull=False)),
            checks=Count("places", filter=done & ~sample),
        )
    )
    found: dict[int, list[_Ran]] = defaultdict(list)
    for unit, inject_min, began, last, injections, checks in rows:
        ends = min(now, last + timedelta(minutes=inject_min)) if last else began
        if ends >= start:
            found[unit].append(_Ran((max(began, start), max(ends, start)), injections, checks))
    return found


def _months(start: datetime, now: datetime, zone: str) -> list[tuple[str, Interval]]:
    there = ZoneInfo(zone)
    found = []
    begin = start.astimezone(there).replace(day=1, hour=0, minute=0, second=0, microsecond=0)
    while begin <= now:
        year, month = divmod(begin.year * 12 + begin.month, 12)
        following = datetime(year, month + 1, 1, tzinfo=there)
        found.append((f"{begin:%Y-%m}", (begin, following)))
        begin = following
    return found
