"""A table of plain rows as CSV or workbook. Texts stay texts: none is ever taken as a formula."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from math import ceil

from openpyxl import Workbook
from openpyxl.styles import Alignment
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from intake.sheets.instructions import fit_to_paper, font
from intake.sheets.write import put_text, saved

#: Characters that make spreadsheet programs take a text for a formula, or pass over the one before
#: it (OWASP, "CSV Injection"; from memory).
DANGEROUS = ("=", "+", "-", "@", "\t", "\r")
#: Height of a line at the usual size, the tallest row a workbook may have (Excel, specifications and
#: limits; from memory), and by how much words broken at spaces need more room than their letters.
LINE_POINTS, TALLEST_POINTS, ROOMY = 15.0, 409.0, 1.15
MOMENT_FORMAT = "yyyy-mm-dd hh:mm"

#: Each column's heading and its width in characters.
Headings = Sequence[tuple[str, float]]
Cell = str | float | datetime | None


def harmless(value: Cell) -> Cell:
    """``value`` as CSV may hold it: with an apostrophe before what would become a formula."""
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M}"
    return f"'{value}" if isinstance(value, str) and value.startswith(DANGEROUS) else value


class _Line:
    """A file that hands back what is written into it."""

    def write(self, text: str) -> str:
        return text


def csv_lines(headings: Sequence[str], rows: Iterable[Iterable[Cell]]) -> Iterator[bytes]:
    """A table line by line, as it is read, so that memory does not grow with it.

    UTF-8 with a byte order mark, so that spreadsheet programs read it as such; lines by RFC 4180.
    """
    writer = csv.writer(_Line())
    yield b"\xef\xbb\xbf" + writer.writerow(headings).encode()
    for row in rows:
        yield writer.writerow([harmless(value) for value in row]).encode()


def table_csv(headings: Sequence[str], rows: Iterable[Iterable[Cell]]) -> bytes:
    """The lines of ``csv_lines`` in one piece."""
    return b"".join(csv_lines(headings, rows))


def table_workbook(
    title: str,
    headings: Sequence[tuple[str, float]],
    rows: Iterable[Iterable[Cell]],
    wrapped: Sequence[int] = (),
) -> bytes:
    """A workbook of one sheet; ``headings`` come with the width of their column in characters."""
    workbook = Workbook()
    sheet = workbook.active
    write_table(sheet, headings, rows, wrapped)
    sheet.title = title[:31]
    workbook.properties.creator = "labqueue"
    workbook.properties.title = title
    return saved(workbook)


def write_table(
    sheet: Worksheet,
    headings: Sequence[tuple[str, float]],
    rows: Iterable[Iterable[Cell]],
    wrapped: Sequence[int] = (),
) -> None:
    """Headings and rows into ``sheet``; the columns ``wrapped`` (from 1) break their lines."""
    for place, (heading, width) in enumerate(headings, 1):
        put_text(sheet.cell(1, place), heading)
        sheet.cell(1, place).font = font(bold=True)
        sheet.cell(1, place).alignment = Alignment(wrap_text=True, vertical="bottom")
        sheet.column_dimensions[get_column_letter(place)].width = width
    for number, row in enumerate(rows, 2):
        lines = 1
        for place, value in enumerate(row, 1):
            cell = sheet.cell(number, place)
            if isinstance(value, str):
                put_text(cell, value)
            elif value is not None:
                cell.value = value
            if isinstance(value, datetime):
                cell.number_format = MOMENT_FORMAT
            cell.alignment = Alignment(vertical="top", wrap_text=place in wrapped)
            if place in wrapped and isinstance(value, str):
                lines = max(lines, ceil(len(value) * ROOMY / headings[place - 1][1]))
        if lines > 1:
            sheet.row_dimensions[number].height = min(lines * LINE_POINTS, TALLEST_POINTS)
    sheet.freeze_panes = "B2"
    sheet.print_title_rows = "1:1"
    fit_to_paper(sheet)
