"""The statement as a workbook: one row an ion, every text as text and never a formula."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from openpyxl import Workbook
from openpyxl.styles import Alignment
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from intake.models import Statement
from intake.saying import (
    VOID,
    about_content,
    about_release,
    bottle_lines,
    ion_lines,
    notes,
    replaced_words,
    sample_lines,
)
from intake.sheets.instructions import fit_to_paper, font
from intake.sheets.write import put_text, saved
from intake.stating import moment_of

Plain = Mapping[str, object]

#: Heading and width in characters; a heading ending in a comma gets the time zone.
COLUMNS = (
    ("Sample", 14), ("Site", 24), ("Collected,", 18), ("Bottle", 12), ("Line", 9), ("Received,", 18),
    ("Ion", 13), ("Limit", 11), ("Due,", 18), ("Injected,", 18), ("Used, %", 9), ("Outcome", 14),
    ("Value, mg/L", 12), ("Flags", 30),
    ("Remarks", 40), ("Bottle and sample", 70), ("How the clock was counted", 60),
)  # fmt: skip
MOMENT_FORMAT = "yyyy-mm-dd hh:mm"


def statement_workbook(statement: Statement, *, sound: bool, replaced_by: Statement | None) -> bytes:
    """The statement's ions, one row each, and a sheet that says what it is about."""
    workbook = Workbook()
    sheet = workbook.active
    sheet.title = "Ions"
    content = statement.content
    zone = content["consignment"]["zone"]
    for place, (heading, width) in enumerate(COLUMNS, 1):
        put_text(sheet.cell(1, place), f"{heading} {zone}" if heading.endswith(",") else heading)
        sheet.cell(1, place).font = font(bold=True)
        sheet.cell(1, place).alignment = Alignment(wrap_text=True, vertical="bottom")
        sheet.column_dimensions[get_column_letter(place)].width = width
    for row, values in enumerate(_rows(content, zone), 2):
        _write_row(sheet, row, values)
    sheet.freeze_panes = "B2"
    fit_to_paper(sheet)
    about = workbook.create_sheet("About")
    _write_about(about, statement, sound=sound, replaced_by=replaced_by)
    if not sound:
        workbook.active = about
    workbook.properties.creator = "labqueue"
    workbook.properties.title = f"Statement {statement}"
    return saved(workbook)


def _rows(content: Plain, zone: str) -> Iterator[list[object]]:
    for sample in content["samples"]:
        for bottle in sample["bottles"]:
            told = [*sample_lines(sample), *bottle_lines(bottle, zone)]
            for ion in bottle["ions"]:
                yield [
                    sample["own_id"],
                    sample["site"],
                    _local(sample["collected_at"], zone),
                    bottle["number"],
                    bottle["line"],
                    _local(bottle["received_at"], zone),
                    ion["ion"],
                    ion["limit"],
                    _local(ion["due_at"], zone),
                    _local(ion["injected_at"], zone),
                    ion["share_percent"],
                    ion["outcome"],
                    *_value(ion),
                    "; ".join(ion_lines(ion, zone)),
                    " ".join(told),
                    ion["reason"],
                ]


def _value(ion: Plain) -> tuple[object, str]:
    """The last value and its flags; a value below a limit stays text, so that nobody adds it up."""
    if not ion["results"]:
        return None, ""
    last = ion["results"][-1]
    number = f"<{last['mg_l']:g}" if last["below"] else last["mg_l"]
    return number, "; ".join(last["flags"])


def _local(text: object, zone: str) -> datetime | None:
    """A moment as a spreadsheet keeps it: local time of the zone that the heading names."""
    moment = moment_of(text)
    return moment.astimezone(ZoneInfo(zone)).replace(tzinfo=None) if moment else None


def _write_row(sheet: Worksheet, row: int, values: Iterable[object]) -> None:
    for place, value in enumerate(values, 1):
        cell = sheet.cell(row, place)
        if isinstance(value, str):
            put_text(cell, value)
        elif value is not None:
            cell.value = value
        if isinstance(value, datetime):
            cell.number_format = MOMENT_FORMAT
        cell.alignment = Alignment(vertical="top", wrap_text=place > len(COLUMNS) - 3)


def _write_about(
    sheet: Worksheet, statement: Statement, *, sound: bool, replaced_by: Statement | None
) -> None:
    pairs = [("Statement", str(statement))]
    if not sound:
        pairs.append(("Void", str(VOID)))
    if replaced_by is not None:
        pairs.append(("Replaced", replaced_words(replaced_by)))
    pairs += about_release(statement) + about_content(statement.content)
    pairs += [("Notes and sources", str(note)) for note in notes(statement.content)]
    for row, (name, told) in enumerate(pairs, 1):
        put_text(sheet.cell(row, 1), name)
        put_text(sheet.cell(row, 2), told)
        sheet.cell(row, 1).font = font(bold=True)
        sheet.cell(row, 2).alignment = Alignment(wrap_text=True, vertical="top")
    sheet.column_dimensions["A"].width = 22
    sheet.column_dimensions["B"].width = 100
    fit_to_paper(sheet)
