"""What the queue shows as a file: CSV and workbook, one row a bottle, in the order of the page.

Moments are local times of the laboratory with the zone in their heading. No text is ever taken as a
formula. Rows are read some at a time and handed on, so that memory does not grow with the queue.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime
from tempfile import TemporaryFile
from typing import IO
from zoneinfo import ZoneInfo

from django.conf import settings
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font

from intake.phrasebook import said
from intake.sheets.plaintable import csv_lines
from intake.sheets.write import put_text
from intake.shown import show_list
from labqueue.foresight import Foresight
from labqueue.queuerows import QueueRow

#: Most bottles of one file (our choice): twice what a full laboratory has waiting.
MOST_ROWS = 20_000
WIDTHS = (18, 24, 60, 12, 12, 8, 18, 24, 18, 14, 28, 24, 18, 10, 40, 9, 24, 24, 40)
MOMENT = "%Y-%m-%d %H:%M"

Cells = tuple[str | int, ...]


def columns() -> tuple[str, ...]:
    zone = settings.TIME_ZONE
    return (
        f"due ({zone})",
        "ions that run out next",
        "will it make it",
        "kept as things stand",
        "bottle",
        "line",
        "sample",
        "site",
        f"collected ({zone})",
        "consignment",
        "title",
        "group",
        f"received ({zone})",
        "state",
        "heaviest finding",
        "findings",
        "run out already",
        "without a limit",
        "reservation",
    )


def _local(moment: datetime | None, zone: ZoneInfo) -> str:
    return "" if moment is None else f"{moment.astimezone(zone):{MOMENT}}"


def cells(row: QueueRow, foresight: Foresight) -> Cells:
    """One row of the file; numbers are numbers, everything else is text."""
    zone = ZoneInfo(settings.TIME_ZONE)
    left = row.left
    due_at = left.clock.due_at if left.clock else None
    outlook = foresight.of(row.pk, due_at, row.state)
    kept = "" if outlook is None or due_at is None else "no" if outlook.lost else "yes"
    return (
        _local(due_at, zone),
        show_list(map(said, left.ions)),
        outlook.sentence if outlook else "",
        kept,
        row.number,
        row.line,
        row.own_id,
        row.site,
        _local(row.collected_at, zone),
        row.consignment,
        row.title,
        row.group,
        _local(row.received_at, zone),
        row.state,
        said(row.finding),
        row.findings,
        show_list(map(said, left.run_out)),
        show_list(map(said, left.unlimited)),
        row.reservation,
    )


def as_csv(rows: Iterable[tuple[QueueRow, Foresight]]) -> Iterator[bytes]:
    return csv_lines(columns(), (cells(row, foresight) for row, foresight in rows))


def as_workbook(rows: Iterable[tuple[QueueRow, Foresight]]) -> IO[bytes]:
    """The rows as a workbook whose texts stay texts, in a file at its beginning."""
    workbook = Workbook(write_only=True)
    sheet = workbook.create_sheet("Queue")
    sheet.freeze_panes = "A2"
    for place, width in enumerate(WIDTHS):
        sheet.column_dimensions[chr(ord("A") + place)].width = width

    def cell(value: str | int, *, bold: bool = False) -> WriteOnlyCell | int | None:
        if not isinstance(value, str):
            return value
        if not value:
            return None
        made = WriteOnlyCell(sheet)
        put_text(made, value)
        if bold:
            made.font = Font(bold=True)
        return made

    sheet.append([cell(heading, bold=True) for heading in columns()])
    for row, foresight in rows:
        sheet.append([cell(value) for value in cells(row, foresight)])
    written = TemporaryFile()  # noqa: SIM115 - the answer closes it once it is sent
    workbook.save(written)
    written.seek(0)
    return written
