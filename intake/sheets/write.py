"""Writing the workbook of a consignment: the sheet to fill, filled as far as samples are known.

openpyxl takes text that begins with "=" as a formula and refuses aware datetimes; so text is
written as text, and moments as local times of the zone named above the headings.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, datetime, time
from io import BytesIO

from openpyxl import Workbook
from openpyxl.cell import Cell
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Border, PatternFill, Protection, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from intake.actions.entries import SampleEntry
from intake.numbers import grouped
from intake.sheets.cells import AT_ONCE
from intake.sheets.columns import COLUMNS, Column, Group, Kind
from intake.sheets.instructions import fit_to_paper, font, write_instructions
from intake.sheets.read import EXAMPLE, MOST_ROWS, NUMBER_LABEL, ZONE_LABEL
from intake.sheets.rowtexts import raw_texts

TITLE = "Samples"
AUTHOR = "labqueue"

ABOUT_ROW, GROUP_ROW, HEADING_ROW, EXAMPLE_ROW, FIRST_ROW = 1, 2, 3, 4, 5

FORMATS: dict[Kind, str] = {
    Kind.TEXT: "@",
    Kind.CHOICE: "@",
    Kind.IONS: "@",
    Kind.DATE: "yyyy-mm-dd",
    Kind.TIME: "hh:mm",
    Kind.MOMENT: "yyyy-mm-dd hh:mm",
    Kind.SINCE: "yyyy-mm-dd hh:mm",
}
TIME_TEXT = re.compile(r"\d\d:\d\d(:\d\d)?")
MOMENT_TEXT = re.compile(r"\d{4}-\d\d-\d\d \d\d:\d\d(:\d\d)?")

#: Grounds of the four groups, light enough for black text, and of the example row.
GROUNDS = {
    Group.SAMPLE: "FFDDE8E6",
    Group.KEPT: "FFE8E4D8",
    Group.ANION: "FFDCE6F2",
    Group.CATION: "FFF2E2DC",
}
EXAMPLE_INK = "FF5F6B6D"
LINE = Side(style="thin", color="FF7A8687")


def consignment_workbook(*, number: str, title: str, zone: str, entries: Iterable[SampleEntry] = ()) -> bytes:
    """The workbook for the consignment ``number``, with ``entries`` already in it."""
    workbook = Workbook()
    sheet = workbook.active
    sheet.title = TITLE
    rows = [raw_texts(entry, zone) for entry in entries]
    _write_above(sheet, number, title, zone)
    for place, column in enumerate(COLUMNS, 1):
        _set_column(
            sheet, place, column, folded=not (column.everyday or any(column.code in row for row in rows))
        )
        _write_heading(sheet, place, column)
        _write_example(sheet, place, column)
    for row, texts in enumerate(rows, FIRST_ROW):
        for place, column in enumerate(COLUMNS, 1):
            if column.code in texts:
                write_cell(sheet.cell(row, place), column, texts[column.code])
    _offer_choices(sheet)
    _protect(sheet)
    fit_to_paper(sheet)
    sheet.print_title_rows = f"{GROUP_ROW}:{HEADING_ROW}"
    write_instructions(workbook.create_sheet("How to fill"), zone)
    workbook.properties.creator = AUTHOR
    workbook.properties.title = f"{grouped(number)} {title}".strip()
    return saved(workbook)


def saved(workbook: Workbook) -> bytes:
    """The bytes of ``workbook`` as a file."""
    made = BytesIO()
    workbook.save(made)
    return made.getvalue()


def put_text(cell: Cell, text: str) -> None:
    """Write ``text`` as text, whatever it begins with, now and when somebody edits it."""
    cell.value = text
    cell.data_type = "s"
    cell.quotePrefix = text[:1] in ("=", "+", "-", "@")


def write_cell(cell: Cell, column: Column, text: str) -> None:
    """Write ``text`` as what it means to a spreadsheet: a number, a date, a time, or text."""
    value = _sheet_value(column, text)
    if isinstance(value, str):
        put_text(cell, value)
    else:
        cell.value = value
    cell.number_format = FORMATS.get(column.kind, "General")
    if isinstance(value, time | datetime) and value.second:
        cell.number_format += ":ss"
    cell.alignment = Alignment(horizontal="left")
    cell.protection = Protection(locked=False)


def _sheet_value(column: Column, text: str) -> str | float | date | time | datetime:
    if column.kind is Kind.NUMBER:
        try:
            return float(text)
        except ValueError:
            return text
    if column.kind is Kind.DATE:
        return date.fromisoformat(text)
    if column.kind is Kind.TIME and TIME_TEXT.fullmatch(text):
        return time.fromisoformat(text)
    if column.kind in (Kind.MOMENT, Kind.SINCE) and MOMENT_TEXT.fullmatch(text):
        # A spreadsheet cannot tell midnight from a date without time, so midnight stays text.
        moment = datetime.fromisoformat(text)
        return text if moment.time() == time() else moment
    return text


def _write_above(sheet: Worksheet, number: str, title: str, zone: str) -> None:
    told = (
        NUMBER_LABEL,
        grouped(number),
        ZONE_LABEL,
        zone,
        title,
        "Please read the sheet “How to fill” first.",
    )
    for place, text in enumerate(told, 1):
        put_text(sheet.cell(ABOUT_ROW, place), text)
        sheet.cell(ABOUT_ROW, place).font = font(bold=place in (2, 4, 5))


def _write_heading(sheet: Worksheet, place: int, column: Column) -> None:
    ground = PatternFill("solid", fgColor=GROUNDS[column.group])
    group, heading = sheet.cell(GROUP_ROW, place), sheet.cell(HEADING_ROW, place)
    for cell in (group, heading):
        cell.fill = ground
        cell.font = font(bold=True)
    if COLUMNS[place - 2].group is not column.group:
        put_text(group, column.group.value.capitalize())
        group.border, heading.border = Border(left=LINE), Border(left=LINE, bottom=LINE)
    else:
        heading.border = Border(bottom=LINE)
    put_text(heading, column.heading)
    heading.alignment = Alignment(wrap_text=True, vertical="bottom")
    note = Comment(column.hint, AUTHOR)
    note.width, note.height = 260, 110
    heading.comment = note


def _write_example(sheet: Worksheet, place: int, column: Column) -> None:
    cell = sheet.cell(EXAMPLE_ROW, place)
    text = EXAMPLE if column.code == "own_id" else column.example
    if text:
        write_cell(cell, column, text)
    cell.font = font(italic=True, color=EXAMPLE_INK)
    cell.protection = Protection(locked=True)


def _set_column(sheet: Worksheet, place: int, column: Column, *, folded: bool) -> None:
    """Width and format of a whole column, so that rows below the filled ones have them too."""
    dimension = sheet.column_dimensions[get_column_letter(place)]
    dimension.width = column.width + 2
    dimension.number_format = FORMATS.get(column.kind, "General")
    dimension.alignment = Alignment(horizontal="left")
    dimension.protection = Protection(locked=False)
    if not column.everyday:
        dimension.outlineLevel = 1
        dimension.hidden = folded


def _offer_choices(sheet: Worksheet) -> None:
    """Drop-downs where there are choices. Other words are let through: reading is tolerant."""
    for place, column in enumerate(COLUMNS, 1):
        offered = [label for _, label in column.choices]
        if column.kind is Kind.SINCE:
            offered = ["yes", "no", min(AT_ONCE, key=len)]
        if not offered:
            continue
        listed = DataValidation(
            type="list", formula1=f'"{",".join(offered)}"', allow_blank=True, showErrorMessage=False
        )
        letter = get_column_letter(place)
        listed.add(f"{letter}{FIRST_ROW}:{letter}{FIRST_ROW + MOST_ROWS - 1}")
        sheet.add_data_validation(listed)


def _protect(sheet: Worksheet) -> None:
    """Lock the headings against slips; no password, and the cells to fill stay open."""
    sheet.freeze_panes = sheet.cell(FIRST_ROW, 2)
    sheet.row_dimensions[HEADING_ROW].height = 78
    sheet.sheet_properties.outlinePr.summaryRight = False
    protection = sheet.protection
    protection.sheet = True
    for allowed in (
        "formatCells",
        "formatColumns",
        "formatRows",
        "insertRows",
        "deleteRows",
        "sort",
        "autoFilter",
    ):
        setattr(protection, allowed, False)
