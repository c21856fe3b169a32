"""Results out of a CSV file or workbook: one row a value, all faults in one pass."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, time
from io import BytesIO, StringIO

from openpyxl import load_workbook

from intake.rules.ions import BY_NAME
from intake.rules.results import ELEMENT_OF
from intake.rules.values import MASS_UNITS, UNITS
from intake.sheets.guard import MOST_BYTES, damaged, guard
from intake.sheets.measures import number_of
from intake.sheets.problems import CellFault, SheetProblem
from intake.sheets.texts import as_text, key, quoted
from intake.sheets.times import Clock, day_and_clock_of, moment, zone_named

#: Most rows of one file; about a hundred full trays. Our choice.
MOST_ROWS = 5000
HEADINGS = {
    "bottle": "Bottle", "run": "Run", "place": "Place", "injected": "Injected",
    "ion": "Ion", "value": "Value", "unit": "Unit", "as": "As",
    "dilution": "Dilution", "top": "Range top", "remark": "Remark",
}  # fmt: skip
NEEDED = ("ion", "value")
UNIT_BY_KEY = {key(unit.replace("µ", "u")): unit for unit in UNITS}


@dataclass(frozen=True, slots=True)
class ResultRow:
    """One value as stated; ``row`` is the number people see.

    ``bottle``, ``run``, ``place`` and ``injected`` name the injection, as far as the file has them;
    ``dilution`` is ``None`` where it says nothing of it.
    """

    row: int
    bottle: str
    run: str
    place: int | None
    injected: datetime | None
    ion: str
    value: float
    below: bool
    unit: str
    as_element: bool
    dilution: float | None
    top: float | None
    remark: str


@dataclass(frozen=True, slots=True)
class ResultFault:
    row: int
    heading: str
    sentence: str


def read_results(
    data: bytes, default_unit: str, zone: str = "UTC"
) -> tuple[list[ResultRow], list[ResultFault]]:
    """The values in ``data`` and every fault; ``SheetProblem`` where it cannot be read at all.

    Rows without a value are passed over, as a template half filled has them. Moments are on the clocks
    of the zone that their heading names after a comma, else of ``zone``.
    """
    lines = _workbook_lines(data) if data.startswith(b"PK") else _text_lines(data)
    places: dict[str, int] | None = None
    rows: list[ResultRow] = []
    faults: list[ResultFault] = []
    for number, cells in lines:
        if not any(cell not in (None, "") for cell in cells):
            continue
        if places is None:
            places, zone = _headings(cells, zone)
            continue
        if len(rows) + len(faults) >= MOST_ROWS:
            raise SheetProblem(f"This file has more than {MOST_ROWS:,} rows. Split it.")
        given = {code: cells[place] if place < len(cells) else None for code, place in places.items()}
        if given["value"] in (None, ""):
            continue
        row = _row(_Cells(number, given, faults), default_unit, zone)
        if row is not None:
            rows.append(row)
    if places is None:
        raise SheetProblem("This file is empty. It needs a row with the headings Bottle, Ion and Value.")
    return rows, faults


def _text_lines(data: bytes) -> Iterator[tuple[int, list[object]]]:
    if len(data) > MOST_BYTES:
        raise SheetProblem("This file is larger than 5 MB. Split it.")
    try:
        text = data.decode("utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", "replace")
    if "\x00" in text:
        raise SheetProblem("This is neither a CSV file nor a workbook. Save it anew as CSV or .xlsx.")
    first = text.lstrip().split("\n", 1)[0]
    separator = max(";\t,", key=first.count)
    try:
        for number, cells in enumerate(csv.reader(StringIO(text, newline=""), delimiter=separator), 1):
            yield number, list(cells)
    except csv.Error:
        raise SheetProblem("This file cannot be read as CSV. Save it anew as CSV or .xlsx.") from None


def _workbook_lines(data: bytes) -> Iterator[tuple[int, list[object]]]:
    guard(data)
    try:
        workbook = load_workbook(BytesIO(data), read_only=True, keep_links=False)
        lines = []
        for number, cells in enumerate(workbook.worksheets[0].iter_rows(max_col=40), 1):
            if number > MOST_ROWS + 50:
                break
            lines.append((number, [cell.value for cell in cells]))
        workbook.close()
    except Exception as problem:  # openpyxl raises whatever it stumbles over
        raise damaged() from problem
    yield from lines


def _headings(cells: Iterable[object], zone: str) -> tuple[dict[str, int], str]:
    """Where each column stands, and the zone of the moments."""
    known = {key(heading): code for code, heading in HEADINGS.items()}
    places: dict[str, int] = {}
    for place, cell in enumerate(cells):
        heading, _comma, after = str(cell or "").partition(",")
        code = known.get(key(heading))
        if code == "injected" and after.strip():
            zone = _zone(after.strip())
        if code in places:
            raise SheetProblem(f"Two columns are headed “{HEADINGS[code]}”. Remove one of them.")
        if code:
            places[code] = place
    missing = [HEADINGS[code] for code in NEEDED if code not in places]
    if "bottle" not in places and not {"run", "place"} <= set(places):
        missing.insert(0, "Bottle (or Run and Place)")
    if missing:
        raise SheetProblem(f"The first filled row must hold the headings; it lacks {', '.join(missing)}.")
    return places, zone


def _zone(name: str) -> str:
    try:
        return zone_named(name).key
    except (KeyError, ValueError):
        raise SheetProblem(
            f"The heading of the injections names the time zone {quoted(name)}, which is not known. "
            "Write it like Injected, Europe/Vienna, or leave it out."
        ) from None


class _Cells:
    """The cells of one row, read one after the other; a fault is noted and reading goes on."""

    def __init__(self, number: int, given: dict[str, object], faults: list[ResultFault]) -> None:
        self.number, self.given, self.faults, self.sound = number, given, faults, True

    def fail(self, code: str, sentence: str) -> None:
        self.faults.append(ResultFault(self.number, HEADINGS[code], sentence))
        self.sound = False

    def text(self, code: str) -> str:
        try:
            text = as_text(self.given.get(code))
        except CellFault as fault:
            self.fail(code, fault.sentence)
            return ""
        if text.startswith("=") and code != "remark":
            self.fail(code, "This cell holds a formula. Paste its value.")
            return ""
        return text

    def amount(self, code: str, text: str, least: float) -> float | None:
        if not text:
            return None
        try:
            return number_of(text, (), "", least)[0]
        except CellFault as fault:
            self.fail(code, fault.sentence)
            return None


def _row(cells: _Cells, default_unit: str, zone: str) -> ResultRow | None:
    bottle, run, ion = cells.text("bottle"), cells.text("run"), cells.text("ion").casefold()
    place, injected = _place(cells), _injected(cells, zone)
    if not bottle and not (run and place):
        cells.fail("bottle", "Write the bottle number, or the run and the place.")
    if ion not in BY_NAME:
        cells.fail("ion", f"{quoted(ion)} is no ion of ours. Write its name, such as nitrate.")
    text = cells.text("value")
    below = text.startswith("<")
    value = cells.amount("value", text.removeprefix("<").strip(), 0.0)
    unit = _unit(cells, default_unit)
    as_element = _as_element(cells, ion, unit)
    dilution = cells.amount("dilution", cells.text("dilution").removeprefix("1:"), 1.0)
    top = _top(cells)
    remark = cells.text("remark")[:200]
    if not cells.sound:
        return None
    if value is None:
        cells.fail("value", "Write the value as a number, such as 1.5 or <0.05, or leave the row out.")
        return None
    return ResultRow(
        cells.number, bottle, run, place, injected, ion, value, below, unit, as_element, dilution, top, remark
    )


def _top(cells: _Cells) -> float | None:
    top = cells.amount("top", cells.text("top"), 0.0)
    if top == 0:
        cells.fail("top", "The top of the range is more than 0. Correct it, or leave it empty.")
    return top


def _place(cells: _Cells) -> int | None:
    text = cells.text("place")
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and len(text) <= 6):
        cells.fail("place", f"{quoted(text)} is no place. Write its number in the run list, such as 12.")
        return None
    return int(text)


def _injected(cells: _Cells, zone: str) -> datetime | None:
    text = cells.text("injected")
    if not text:
        return None
    read = day_and_clock_of(text)
    if read is None:
        cells.fail("injected", f"{quoted(text)} is not a date with a time. Write it like 2026-11-27 19:40.")
        return None
    try:
        # A spreadsheet shows midnight as the bare date.
        return moment(read[0], read[1] or Clock(time()), zone)
    except CellFault as fault:
        cells.fail("injected", fault.sentence)
        return None


def _unit(cells: _Cells, default_unit: str) -> str:
    text = cells.text("unit")
    unit = UNIT_BY_KEY.get(key(text.replace("µ", "u").replace("μ", "u"))) if text else default_unit
    if unit is None:
        cells.fail("unit", f"{quoted(text)} is no unit we know. Write one of {', '.join(UNITS)}.")
        return default_unit
    return unit


def _as_element(cells: _Cells, ion: str, unit: str) -> bool:
    text = key(cells.text("as"))
    if text in ("", "ion", key(ion)):
        return False
    if text != ELEMENT_OF.get(ion, "").casefold():
        cells.fail("as", f"{ion} is not stated as {quoted(text)}. Write ion, or N, P or S where it fits.")
    elif unit not in MASS_UNITS:
        cells.fail("as", f"In {unit} it is the same as ion or element. Leave this empty.")
    return True
