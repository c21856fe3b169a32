"""The manager's overview: what was kept, how long things take, who needs help."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from io import StringIO

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from intake import overview as counted
from intake.permissions import require
from intake.plots import Bars, bars_of
from intake.rules.catalogue import BY_CODE
from intake.rules.words import say_number


def _kept_bars(title: str, rows: list[counted.Kept]) -> Bars:
    return bars_of(title, ((row.name, f"{row.percent} %", (row.percent,)) for row in rows), most=100)


@login_required
@require_safe
def overview(request: HttpRequest) -> HttpResponse:
    """Shares, days and findings of the last twelve months."""
    require(request.user, "overview.see")
    zone = settings.TIME_ZONE
    start = counted.since(request.at, zone)
    kept, days = counted.clocks_kept(start, zone), counted.days_taken(start)
    shares = [
        (_("By month"), _("Month"), kept.by_month()),
        (_("By ion"), _("Ion"), kept.by_ion()),
        (_("By group"), _("Group"), kept.by_group()),
    ]
    context = {
        "at": request.at,
        "zone": zone,
        "start": start,
        "shares": [(title, name, rows, _kept_bars(title, rows)) for title, name, rows in shares],
        "any": bool(kept.rows),
        "days": days,
        "days_bars": bars_of(
            _("Mean days by group"),
            (
                (
                    row.group,
                    f"{say_number(sum(_lengths(row)), 2)} d",
                    _lengths(row),
                )
                for row in days
            ),
        ),
        "findings": [(row, _title(row.code)) for row in counted.commonest_findings(start)],
        "questions": counted.open_questions(),
        "arrivals": counted.arrivals_since(start),
        "to_close": counted.to_close(start),
    }
    return render(request, "intake/overview.html", context)


def _lengths(row: counted.Days) -> tuple[float, float]:
    return row.to_arrival or 0.0, row.to_injection or 0.0


def _title(code: str) -> str:
    rule = BY_CODE.get(code)
    return rule.what if rule else code


def _clock_lines(start: object, zone: str) -> Iterator[list[object]]:
    yield ["Month", "Group", "Ion", "Stopped", "Kept"]
    for month, group, ion, kept in counted.clocks_kept(start, zone).rows:
        yield [month, group, ion, kept.stopped, kept.kept]


def _day_lines(start: object, zone: str) -> Iterator[list[object]]:
    yield ["Group", "Bottles", "Days from collection to arrival", "Days from arrival to injection"]
    for row in counted.days_taken(start):
        yield [row.group, row.bottles, row.to_arrival, row.to_injection]


def _finding_lines(start: object, zone: str) -> Iterator[list[object]]:
    yield ["Group", "Finding", "Samples"]
    for row in counted.commonest_findings(start):
        yield [row.group, row.code, row.samples]


TABLES = {"clocks": _clock_lines, "days": _day_lines, "findings": _finding_lines}


@login_required
@require_safe
def overview_file(request: HttpRequest, table: str) -> HttpResponse:
    """One table of the overview as CSV."""
    require(request.user, "overview.see")
    if table not in TABLES:
        raise Http404
    written = StringIO()
    writer = csv.writer(written)
    zone = settings.TIME_ZONE
    for line in TABLES[table](counted.since(request.at, zone), zone):
        writer.writerow([_safe(value) for value in line])
    return HttpResponse(
        written.getvalue(),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{table}.csv"'},
    )


def _safe(value: object) -> object:
    """A text that a spreadsheet would take for a formula is marked as text."""
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r") else value
