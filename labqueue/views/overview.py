"""The manager's overview: what was kept, how long things take, who needs help."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from intake import overview as counted
from intake.permissions import require
from intake.phrasebook import said
from intake.plots import Bars, bars_of
from intake.rules.catalogue import BY_CODE
from intake.rules.words import say_number
from intake.sheets.plaintable import Cell, table_csv
from intake.tallies import Span, span_of
from intake.views.files import CSV, file_answer
from labqueue.unituse import units_used, units_used_by_month


def _kept_bars(title: str, rows: list[counted.Kept]) -> Bars:
    return bars_of(title, ((row.name, f"{row.percent} %", (row.percent,)) for row in rows), most=100)


@login_required
@require_safe
def overview(request: HttpRequest) -> HttpResponse:
    """Shares, days and findings of the last twelve months."""
    require(request.user, "overview.see")
    zone = settings.TIME_ZONE
    span = span_of(request.at, zone)
    start, year = span.start, counted.year(span)
    kept, days = year.clocks(), year.days()
    used = units_used(start, request.at)
    shares = [
        (_("By month"), _("Month"), kept.by_month()),
        (_("By ion"), _("Ion"), [replace(ion, name=said(ion.name)) for ion in kept.by_ion()]),
        (_("By group"), _("Group"), kept.by_group()),
    ]
    context = {
        "at": request.at,
        "zone": zone,
        "start": start,
        "counted_at": year.counted_at,
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
        "units": used,
        "units_bars": bars_of(
            _("Share of opening hours by unit"),
            ((row.name, f"{row.percent_staffed} %", (row.percent_staffed,)) for row in used if row.runs),
            most=100,
        ),
        "findings": [(row, _title(row.code)) for row in year.findings()],
        "questions": counted.open_questions(),
        "arrivals": counted.arrivals_since(start),
        "to_close": counted.to_close(start),
    }
    return render(request, "labqueue/overview.html", context)


def _lengths(row: counted.Days) -> tuple[float, float]:
    return row.to_arrival or 0.0, row.to_injection or 0.0


def _title(code: str) -> str:
    rule = BY_CODE.get(code)
    return said(rule.what) if rule else code


def _clock_rows(span: Span, now: datetime) -> Iterator[list[Cell]]:
    yield ["Month", "Group", "Ion", "Stopped", "Kept"]
    for month, group, ion, kept in counted.year(span).clocks().rows:
        yield [month, group, ion, kept.stopped, kept.kept]


def _day_rows(span: Span, now: datetime) -> Iterator[list[Cell]]:
    yield ["Group", "Bottles", "Days from collection to arrival", "Days from arrival to injection"]
    for row in counted.year(span).days():
        yield [row.group, row.bottles, row.to_arrival, row.to_injection]


def _finding_rows(span: Span, now: datetime) -> Iterator[list[Cell]]:
    yield ["Group", "Finding", "Samples"]
    for row in counted.year(span).findings():
        yield [row.group, row.code, row.samples]


def _unit_rows(span: Span, now: datetime) -> Iterator[list[Cell]]:
    yield [
        "Month", "Unit", "Line", "Runs", "Samples injected", "Blanks and standards", "Hours run",
        "Hours run in opening hours", "Opening hours", "All hours in service",
    ]  # fmt: skip
    for month, row in units_used_by_month(span.start, now, span.zone):
        hours = (row.hours, row.hours_staffed, row.possible_staffed, row.possible)
        yield [
            month, row.name, row.line, row.runs, row.injections, row.checks, *(round(one, 1) for one in hours)
        ]  # fmt: skip


TABLES = {"clocks": _clock_rows, "days": _day_rows, "findings": _finding_rows, "units": _unit_rows}


@login_required
@require_safe
def overview_file(request: HttpRequest, table: str) -> HttpResponse:
    """One table of the overview as CSV."""
    require(request.user, "overview.see")
    if table not in TABLES:
        raise Http404
    headings, *rows = TABLES[table](span_of(request.at, settings.TIME_ZONE), request.at)
    return file_answer(table_csv([str(heading) for heading in headings], rows), f"{table}.csv", CSV)
