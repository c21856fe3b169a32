"""Workbooks for tests: sound ones, and the same taken apart and put together wrongly."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from zipfile import ZIP_DEFLATED, ZipFile

from openpyxl import Workbook, load_workbook
from openpyxl.worksheet.worksheet import Worksheet

from intake.sheets.columns import COLUMNS
from intake.sheets.write import FIRST_ROW, consignment_workbook, saved

#: A well-formed consignment number (ISO/IEC 7064 MOD 37,36 check character by python-stdnum).
NUMBER = "CF5TVGD6"
ZONE = "Europe/Berlin"
SHEET_PART = "xl/worksheets/sheet1.xml"


def empty() -> bytes:
    return consignment_workbook(number=NUMBER, title="Spring round", zone=ZONE)


def edited(change: Callable[[Worksheet], object], data: bytes | None = None) -> bytes:
    """A workbook after ``change`` was done to its sheet of samples."""
    workbook = load_workbook(BytesIO(data or empty()))
    change(workbook["Samples"])
    return saved(workbook)


def filled(*rows: dict[str, object]) -> bytes:
    """A workbook into which a person typed ``rows`` by column code."""

    def fill(sheet: Worksheet) -> None:
        for number, row in enumerate(rows, FIRST_ROW):
            for place, column in enumerate(COLUMNS, 1):
                if column.code in row:
                    sheet.cell(number, place).value = row[column.code]

    return edited(fill)


def plain(*rows: list[object]) -> bytes:
    """A workbook that somebody made by themselves."""
    workbook = Workbook()
    for row in rows:
        workbook.active.append(row)
    return saved(workbook)


def parts(data: bytes) -> dict[str, bytes]:
    with ZipFile(BytesIO(data)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def archive_of(contents: dict[str, bytes], compression: int = ZIP_DEFLATED) -> bytes:
    made = BytesIO()
    with ZipFile(made, "w", compression) as archive:
        for name, content in contents.items():
            archive.writestr(name, content)
    return made.getvalue()


def with_parts(changes: dict[str, bytes], data: bytes | None = None) -> bytes:
    return archive_of({**parts(data or empty()), **changes})


def in_sheet(old: str, new: str, data: bytes | None = None) -> bytes:
    """A workbook whose sheet's XML has ``old`` replaced by ``new``."""
    contents = parts(data or filled({"own_id": "a"}))
    text = contents[SHEET_PART].decode()
    assert old in text
    return archive_of({**contents, SHEET_PART: text.replace(old, new, 1).encode()})
