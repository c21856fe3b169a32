"""Reading an uploaded workbook into raw rows, tolerant where a human is, and never more than that.

The rows go to ``intake.sheets.table.read_rows``, like those of the grid page.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from io import BytesIO
from itertools import pairwise
from typing import Any

from openpyxl import load_workbook
from openpyxl.utils import get_column_letter
from openpyxl.utils.cell import coordinate_to_tuple
from openpyxl.worksheet._reader import FORMULA_TAG, INLINE_STRING, SHEET_MAIN_NS, WorkSheetParser

from intake.numbers import CONSIGNMENT, grouped, is_number, tidy
from intake.rules.moments import zone_named
from intake.rules.words import say_list
from intake.sheets.columns import BY_CODE
from intake.sheets.guard import damaged, guard
from intake.sheets.headings import HEADINGS_WITHIN, Headings, looks_like_headings, read_headings
from intake.sheets.problems import SheetProblem
from intake.sheets.table import RawRow, is_blank
from intake.sheets.texts import Formula, SheetError, key, quoted, shortened

#: Most samples in one sheet. Our choice; a consignment of more is split.
MOST_ROWS = 5000
#: The last row and the most columns a spreadsheet program knows (from memory).
LAST_ROW = 1_048_576
MOST_CELLS_IN_A_ROW = 16_384
#: Columns beyond this are not looked at.
MOST_COLUMNS = 200

#: What the example row bears instead of a sample id; a row with it is passed over.
EXAMPLE = "EXAMPLE, not read"

NUMBER_LABEL = "Consignment"
ZONE_LABEL = "Local times of"


@dataclass(frozen=True, slots=True)
class Sheet:
    """What stands in a workbook, before its cells are judged.

    ``letters`` maps column codes to the workbook's letters. ``number`` and ``zone`` are those
    written above the headings, empty where there are none. ``extra`` are headings that mean
    nothing to us, ``absent`` those of everyday columns that are not there.
    """

    title: str
    rows: tuple[RawRow, ...]
    headings: Headings
    number: str = ""
    zone: str = ""

    @property
    def letters(self) -> dict[str, str]:
        return self.headings.letters

    @property
    def extra(self) -> tuple[str, ...]:
        return self.headings.extra

    @property
    def absent(self) -> tuple[str, ...]:
        return self.headings.absent


TEXT_TAG = f"{{{SHEET_MAIN_NS}}}t"

#: The number of a row and its cells, as openpyxl parses them.
Line = tuple[int, list[dict[str, Any]]]


class FormulaBlindParser(WorkSheetParser):
    """openpyxl's parser of one sheet as a stream, which never works on the formulas it meets.

    A cell with plain text in it, as nearly every one has, is read without the objects made of others.

    Used below openpyxl's own read-only worksheet because that believes the size a sheet claims,
    invents the rows between two distant ones and hides merged cells.
    """

    def parse_cell(self, element: Any) -> dict[str, Any]:
        place = element.get("r")
        if not place or element.get("t") != "inlineStr" or len(element) != 1:
            return super().parse_cell(element)
        held = element[0]
        if held.tag != INLINE_STRING or len(held) != 1 or held[0].tag != TEXT_TAG:
            return super().parse_cell(element)
        _row, self.col_counter = coordinate_to_tuple(place)
        return {"column": self.col_counter, "value": held[0].text or "", "data_type": "s"}

    def parse_formula(self, element: Any) -> str:
        return f"={element.findtext(FORMULA_TAG) or ''}"

    def parse_row(self, row: Any) -> Line:
        if len(row) > MOST_CELLS_IN_A_ROW:
            raise damaged()
        number, cells = super().parse_row(row)
        if not 0 < number <= LAST_ROW:
            raise damaged()
        return number, cells


#: How often whoever waits hears of the rows read so far.
TELL_EVERY = 250


def read_sheet(
    data: bytes, *, number: str = "", zone: str = "", told: Callable[[int], None] = lambda rows: None
) -> Sheet:
    """The sheet of samples in the workbook ``data``; ``told`` hears how many rows were read so far.

    ``number`` and ``zone`` are those of the consignment it is meant for; where the workbook names
    others it is refused, as its samples or its times would land in the wrong place. Raises
    ``SheetProblem`` for everything that cannot be read.
    """
    guard(data)
    try:
        sheet = _read(data, told)
    except SheetProblem:
        raise
    except Exception as problem:  # openpyxl raises whatever it stumbles over
        raise damaged() from problem
    _check_belongs(sheet, number, zone)
    return sheet


def _read(data: bytes, told: Callable[[int], None]) -> Sheet:
    workbook = load_workbook(BytesIO(data), read_only=True, keep_links=False)
    try:
        shown = [worksheet for worksheet in workbook.worksheets if worksheet.sheet_state == "visible"]
        read = (_read_worksheet(workbook, worksheet, told) for worksheet in shown)
        found = [sheet for sheet in read if sheet is not None]
    finally:
        workbook.close()
    if len(found) > 1:
        raise SheetProblem(
            f"The sheets {say_list(quoted(sheet.title) for sheet in found)} all have headings for samples. "
            "Keep the one that is meant and remove the others."
        )
    if not found:
        looked = say_list(quoted(worksheet.title) for worksheet in shown[:5]) or "no sheet"
        raise SheetProblem(
            f"No row with the headings was found in the first {HEADINGS_WITHIN} rows of {looked}. "
            f"One row must hold “{BY_CODE['own_id'].heading}” and the other headings of the workbook."
        )
    return found[0]


def _read_worksheet(workbook: Any, worksheet: Any, told: Callable[[int], None]) -> Sheet | None:
    """The samples of ``worksheet``, or ``None`` when it has no row of headings."""
    with worksheet._get_source() as source:
        parser = FormulaBlindParser(
            source,
            worksheet._shared_strings,
            epoch=workbook.epoch,
            date_formats=workbook._date_formats,
            timedelta_formats=workbook._timedelta_formats,
        )
        lines: Iterator[Line] = parser.parse()
        above, headings = _find_headings(lines)
        if headings is None:
            return None
        rows, filled = _read_data(lines, headings, told)
        _refuse_merged(parser, headings)
    if filled > MOST_ROWS:
        raise SheetProblem(
            f"This sheet has {filled:,} filled rows; one consignment takes at most {MOST_ROWS:,} samples. "
            "Split it over several consignments."
        )
    number, zone = _read_above(above)
    return Sheet(worksheet.title, tuple(rows), headings, number, zone)


def _find_headings(lines: Iterator[Line]) -> tuple[list[list[str]], Headings | None]:
    """The texts above the headings, and the headings; ``None`` when they do not come in time."""
    above: list[list[str]] = []
    for row, cells in lines:
        if row > HEADINGS_WITHIN:
            break
        texts = {
            cell["column"]: shortened(cell["value"], 200)
            for cell in cells
            if cell["column"] <= MOST_COLUMNS and not is_blank(cell["value"])
        }
        if looks_like_headings(texts.values()):
            return above, read_headings(row, texts)
        above.append(list(texts.values()))
    return above, None


def _read_data(
    lines: Iterator[Line], headings: Headings, told: Callable[[int], None]
) -> tuple[list[RawRow], int]:
    """The filled rows under the headings, and how many there are in all."""
    rows: list[RawRow] = []
    filled = 0
    places = headings.places
    for number, cells in lines:
        raw = {
            places[cell["column"]]: _raw(cell)
            for cell in cells
            if cell["column"] in places and not is_blank(cell["value"])
        }
        if not raw or _is_example(raw):
            continue
        filled += 1
        if filled <= MOST_ROWS:
            rows.append(RawRow(number, raw))
        if filled % TELL_EVERY == 0:
            told(filled)
    return rows, filled


def _raw(cell: dict[str, Any]) -> object:
    kind, value = cell["data_type"], cell["value"]
    if kind == "f":
        return Formula(str(value))
    if kind == "e":
        return SheetError(str(value))
    return value


def _is_example(raw: dict[str, object]) -> bool:
    own_id = raw.get("own_id")
    return isinstance(own_id, str) and len(own_id) < 60 and key(own_id) == key(EXAMPLE)


def _refuse_merged(parser: WorkSheetParser, headings: Headings) -> None:
    """Merged cells hide all values but one, so from the headings down there must be none."""
    merged = getattr(parser, "merged_cells", None)
    for area in merged.mergeCell if merged else ():
        left, top, right, bottom = area.bounds
        if bottom >= headings.row and any(left <= number <= right for number in headings.places):
            what = "headings" if top <= headings.row else "cells"
            first, last = f"{get_column_letter(left)}{top}", f"{get_column_letter(right)}{bottom}"
            raise SheetProblem(
                f"The {what} from {first} to {last} are merged, so it is not certain what belongs where. "
                "Split the merged cells and upload it again."
            )


def _read_above(above: list[list[str]]) -> tuple[str, str]:
    """The consignment number and the time zone written above the headings, if any."""
    number = zone = ""
    for texts in above:
        for label, text in pairwise(texts):
            if key(label) == key(NUMBER_LABEL) and is_number(text, CONSIGNMENT):
                number = tidy(text)
            if key(label) == key(ZONE_LABEL):
                zone = text
    return number, zone


def _check_belongs(sheet: Sheet, number: str, zone: str) -> None:
    if number and sheet.number and sheet.number != tidy(number):
        raise SheetProblem(
            f"This workbook was made for consignment {grouped(sheet.number)}; this is consignment "
            f"{grouped(tidy(number))}. Upload it there, or download a workbook for this one."
        )
    if sheet.zone:
        try:
            zone_named(sheet.zone)
        except ValueError:
            raise SheetProblem(
                f"{quoted(sheet.zone)}, which the workbook names beside “{ZONE_LABEL}”, is no time zone. "
                f"Write one there such as Europe/Berlin."
            ) from None
    if zone and sheet.zone and sheet.zone != zone:
        raise SheetProblem(
            f"The times in this workbook are local times of {sheet.zone}; this consignment uses {zone}. "
            "Download a fresh workbook, or set the consignment's time zone back."
        )
