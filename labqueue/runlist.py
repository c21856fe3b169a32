"""The run list as a file: CSV and workbook, with plain columns of our own.

Columns: place (injection, from 1), kind, planned injection (local, the zone in the heading),
bottle, sample (the group's own id), dilution (5 means five times the volume), volume correction
(times the result gives the water before acid), remarks. No text is ever taken as a formula.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from io import StringIO
from zoneinfo import ZoneInfo

from django.conf import settings
from openpyxl import Workbook
from openpyxl.styles import Font

from intake.sheets.write import put_text, saved
from intake.states import BottleState
from labqueue.models import Place, Run

#: Characters that make spreadsheet programs take a text for a formula, or pass over the one before
#: it (OWASP, "CSV Injection"; from memory).
DANGEROUS = ("=", "+", "-", "@", "\t", "\r")
WIDTHS = (8, 16, 20, 12, 18, 10, 18, 40)


def columns() -> tuple[str, ...]:
    return (
        "place",
        "kind",
        f"planned injection ({settings.TIME_ZONE})",
        "bottle",
        "sample",
        "dilution",
        "volume correction",
        "remarks",
    )


def harmless(text: str) -> str:
    """``text`` as CSV may hold it: with an apostrophe before what would become a formula."""
    return f"'{text}" if text.startswith(DANGEROUS) else text


def places_of(run: Run) -> list[Place]:
    """The places of a run with bottle and sample, in order: one query."""
    return list(run.places.select_related("bottle__sample__consignment__group").order_by("position"))


def cells(place: Place) -> tuple[int | str | float, ...]:
    """One line of the list; numbers are numbers, everything else is text."""
    there = place.planned_at.astimezone(ZoneInfo(settings.TIME_ZONE))
    bottle = place.bottle
    return (
        place.position,
        place.kind,
        f"{there:%Y-%m-%d %H:%M}",
        bottle.number if bottle else "",
        bottle.sample.own_id if bottle else "",
        place.dilution if bottle else "",
        round(place.volume_factor, 4) if bottle else "",
        remarks(place),
    )


def remarks(place: Place) -> str:
    """What the list says beside a place; a bottle still to come is never passed over in silence."""
    if place.reserved:
        said = "reserved, has come" if place.bottle.state == BottleState.READY else "reserved, not here yet"
        return f"{said}; {place.remark}" if place.remark else said
    return place.remark


def as_csv(places: Iterable[Place]) -> bytes:
    """UTF-8 with a byte order mark, so that spreadsheet programs read it as such; lines by RFC 4180."""
    out = StringIO()
    writer = csv.writer(out)
    writer.writerow(columns())
    for place in places:
        writer.writerow(harmless(cell) if isinstance(cell, str) else cell for cell in cells(place))
    return b"\xef\xbb\xbf" + out.getvalue().encode()


def as_workbook(run: Run, places: Iterable[Place]) -> bytes:
    """The list as a workbook whose texts stay texts."""
    workbook = Workbook()
    sheet = workbook.active
    sheet.title = f"Run {run.number}"
    for column, heading in enumerate(columns(), 1):
        cell = sheet.cell(1, column)
        put_text(cell, heading)
        cell.font = Font(bold=True)
        sheet.column_dimensions[cell.column_letter].width = WIDTHS[column - 1]
    for row, place in enumerate(places, 2):
        for column, value in enumerate(cells(place), 1):
            if isinstance(value, str):
                if value:
                    put_text(sheet.cell(row, column), value)
            else:
                sheet.cell(row, column).value = value
    sheet.freeze_panes = "A2"
    return saved(workbook)
