"""Writing faults back into the workbook a person uploaded: at the cell, and in words at the row's end."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from io import BytesIO

from openpyxl import load_workbook
from openpyxl.cell import Cell, MergedCell
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, PatternFill, Protection
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from intake.sheets.columns import COLUMNS
from intake.sheets.headings import WHAT_IS_WRONG, heading_key
from intake.sheets.instructions import font
from intake.sheets.problems import CellProblem
from intake.sheets.read import Sheet
from intake.sheets.write import AUTHOR, put_text, saved

#: Ground of a cell with a fault; black text on it keeps a contrast above 4.5 to 1.
WRONG = PatternFill("solid", fgColor="FFF6C7BD")
NOTE_TITLE = "To correct: "


def marked_workbook(
    data: bytes,
    sheet: Sheet,
    problems: Iterable[CellProblem],
    corrections: Mapping[str, Mapping[str, str]] | None = None,
    say: Callable[[str], str] = str,
) -> bytes:
    """The workbook ``data``, from which ``sheet`` was read, with ``problems`` marked in it.

    Marks of an earlier round are taken away; nothing that the person typed is changed but for
    ``corrections`` made on the page (texts by column code, by number of the row). A column that is
    marked or corrected and is not in the sheet is added at its end. ``say`` puts a sentence into the
    language of whoever asks.
    """
    workbook = load_workbook(BytesIO(data), keep_links=False)
    worksheet = workbook[sheet.title]
    _unmark(worksheet)
    problems, corrections = list(problems), corrections or {}
    wanted = {problem.column for problem in problems}
    wanted |= {code for texts in corrections.values() for code, text in texts.items() if text.strip()}
    letters = sheet.letters | _added_columns(worksheet, sheet, wanted - set(sheet.letters))
    _put_right(worksheet, letters, corrections)
    end = _end_column(worksheet, sheet.headings.row)
    sentences: dict[int, list[str]] = defaultdict(list)
    for problem in problems:
        sentences[problem.row].append(f"{problem.heading}: {say(problem.sentence)}")
        if letter := letters.get(problem.column):
            _mark(worksheet[f"{letter}{problem.row}"], say(problem.sentence))
    for row, lines in sentences.items():
        cell = worksheet.cell(row, end)
        put_text(cell, "\n".join(lines))
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        cell.protection = Protection(locked=False)
    return saved(workbook)


def _added_columns(worksheet: Worksheet, sheet: Sheet, codes: set[str]) -> dict[str, str]:
    """Make columns for ``codes`` at the end of the sheet, open to writing; their letters by code."""
    letters = {}
    for column in (column for column in COLUMNS if column.code in codes):
        number = worksheet.max_column + 1
        heading = worksheet.cell(sheet.headings.row, number)
        put_text(heading, column.heading)
        heading.font = font(bold=True)
        heading.alignment = Alignment(wrap_text=True, vertical="top")
        letters[column.code] = get_column_letter(number)
        worksheet.column_dimensions[letters[column.code]].width = column.width
        for row in sheet.rows:
            worksheet.cell(row.number, number).protection = Protection(locked=False)
    return letters


def _put_right(
    worksheet: Worksheet, letters: Mapping[str, str], corrections: Mapping[str, Mapping[str, str]]
) -> None:
    for number, texts in corrections.items():
        for code, text in texts.items():
            letter = letters.get(code)
            cell = worksheet[f"{letter}{number}"] if letter else None
            if cell is not None and not isinstance(cell, MergedCell):
                put_text(cell, text)


def _mark(cell: Cell | MergedCell, sentence: str) -> None:
    if isinstance(cell, MergedCell):
        return
    cell.fill = WRONG
    note = Comment(NOTE_TITLE + sentence, AUTHOR)
    note.width, note.height = 300, 120
    cell.comment = note


def _unmark(worksheet: Worksheet) -> None:
    for cells in worksheet.iter_rows():
        for cell in cells:
            note = cell.comment
            if note is not None and note.text.startswith(NOTE_TITLE):
                cell.comment = None
                cell.fill = PatternFill()


def _end_column(worksheet: Worksheet, heading_row: int) -> int:
    """The number of the column for the sentences, made where there is none; emptied where there is."""
    wanted = heading_key(WHAT_IS_WRONG)
    for cell in worksheet[heading_row]:
        if isinstance(cell.value, str) and heading_key(cell.value) == wanted:
            for row in range(heading_row + 1, worksheet.max_row + 1):
                worksheet.cell(row, cell.column).value = None
            return int(cell.column)
    end = worksheet.max_column + 1
    heading = worksheet.cell(heading_row, end)
    put_text(heading, WHAT_IS_WRONG)
    heading.font = font(bold=True)
    worksheet.column_dimensions[get_column_letter(end)].width = 70
    return end
