"""Putting an uploaded sheet right on the page: its faulty rows out, their corrected cells in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from intake.sheets.columns import BY_CODE
from intake.sheets.grid import MOST_ROWS, PostedRow
from intake.sheets.problems import CellProblem
from intake.sheets.read import Sheet
from intake.sheets.table import RawRow
from intake.sheets.texts import shown_text


def corrected(sheet: Sheet, corrections: Mapping[str, Mapping[str, str]]) -> Sheet:
    """``sheet`` with the cells of ``corrections`` (texts by column code, by number of the row)."""
    if not corrections:
        return sheet
    rows = (RawRow(row.number, {**row.cells, **corrections.get(str(row.number), {})}) for row in sheet.rows)
    return replace(sheet, rows=tuple(rows))


def rows_to_correct(sheet: Sheet, problems: Sequence[CellProblem]) -> list[PostedRow]:
    """The rows with faults as the page shows them, at most as many as it carries.

    Each has the number it has in the workbook, also as its ``was``, by which it comes back.
    """
    faulty = {problem.row for problem in problems}
    return [
        PostedRow(row.number, str(row.number), {code: shown_text(raw) for code, raw in row.cells.items()})
        for row in sheet.rows
        if row.number in faulty
    ][:MOST_ROWS]


def corrections_of(sheet: Sheet, posted: Sequence[PostedRow]) -> dict[int, dict[str, str]]:
    """The cells of ``posted`` that say something else than ``sheet``; unknown rows are passed over.

    A cell that was left alone keeps what the workbook holds there, a date for example.
    """
    standing = {str(row.number): row for row in sheet.rows}
    found: dict[int, dict[str, str]] = {}
    for row in posted:
        stands = standing.get(row.was)
        if stands is None:
            continue
        cells = {
            code: row.texts[code]
            for code in BY_CODE
            if row.texts[code].strip() != shown_text(stands.cells.get(code)).strip()
        }
        if cells:
            found[stands.number] = cells
    return found
