"""Reading somebody's list of injections: any columns, matched by the person once.

A file becomes headings and rows of texts; with a matching these become place or bottle and moment,
and every row that cannot be is told with its number.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from io import BytesIO, StringIO
from itertools import islice

from django.utils.translation import gettext as _
from openpyxl import load_workbook

from intake import numbers
from intake.errors import EntryProblem
from intake.sheets.guard import MOST_BYTES, guard
from intake.sheets.problems import CellFault
from intake.sheets.texts import as_text
from intake.sheets.times import day_and_clock_of, moment
from labqueue.models import Place
from labqueue.planning.sequence import PlaceKind

#: A run has a few hundred injections at most; more is another kind of file (our choice).
MOST_ROWS = 5000
MOST_COLUMNS = 60
LONGEST_CELL = 200
SNIFFED = 8192

#: What the columns of a list can mean to us.
OURS = ("place", "bottle", "moment")

Row = tuple[int, list[str]]


@dataclass(frozen=True, slots=True)
class ListRead:
    headings: list[str]
    rows: list[Row]


def read_list(data: bytes) -> ListRead:
    """Headings and rows of a CSV file or workbook; raises ``EntryProblem`` for what is neither."""
    if not data:
        raise EntryProblem("This file is empty. Choose the list of injections.")
    if len(data) > MOST_BYTES:
        raise EntryProblem(
            f"This file is larger than {MOST_BYTES // 1024**2} MB. Export the injections of this run only."
        )
    lines = _workbook_lines(data) if data.startswith(b"PK") else _csv_lines(data)
    headings: list[str] = []
    rows: list[Row] = []
    for number, texts in lines:
        if not any(texts):
            continue
        if not headings:
            headings = [
                text or _("column %(number)s") % {"number": index} for index, text in enumerate(texts, 1)
            ]
            continue
        if len(rows) == MOST_ROWS:
            raise EntryProblem(
                f"This list has more than {MOST_ROWS:,} rows; a run has a few hundred injections at most. "
                "Export the injections of this run only."
            )
        rows.append((number, texts))
    if not rows:
        raise EntryProblem("No rows were found below the first one. The first row must hold the headings.")
    return ListRead(headings, rows)


def _csv_lines(data: bytes) -> Iterator[Row]:
    if b"\x00" in data:
        raise EntryProblem(
            "This is neither a CSV file nor a workbook (.xlsx). Export the list as one of them."
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", "replace")
    try:
        dialect = csv.Sniffer().sniff(text[:SNIFFED], delimiters=",;\t")
    except csv.Error:
        dialect = csv.excel
    try:
        for number, cells in enumerate(csv.reader(StringIO(text), dialect), 1):
            yield number, [cell.strip()[:LONGEST_CELL] for cell in cells[:MOST_COLUMNS]]
    except csv.Error as problem:
        raise EntryProblem(
            "This file breaks off in the middle of a cell. Export the list again."
        ) from problem


def _workbook_lines(data: bytes) -> Iterator[Row]:
    guard(data)
    try:
        workbook = load_workbook(BytesIO(data), read_only=True, data_only=True, keep_links=False)
        sheet = workbook.worksheets[0]
        sheet.reset_dimensions()
        lines = sheet.iter_rows(max_row=MOST_ROWS + 100, max_col=MOST_COLUMNS, values_only=True)
        found = list(enumerate(islice(lines, MOST_ROWS + 100), 1))
    except Exception as problem:  # openpyxl raises whatever it stumbles over
        raise EntryProblem(
            "This workbook cannot be read. Save it again as .xlsx, or export a CSV."
        ) from problem
    for number, cells in found:
        yield number, [_text(cell) for cell in cells]


def _text(cell: object) -> str:
    if isinstance(cell, datetime):
        # Spreadsheets keep a fraction of a day, which lands microseconds beside the second.
        return f"{cell + timedelta(microseconds=500_000):%Y-%m-%d %H:%M:%S}"
    try:
        return as_text(cell)[:LONGEST_CELL]
    except CellFault:
        return ""


@dataclass(frozen=True, slots=True)
class Entry:
    """One row that can be taken: the place and the moment of its injection."""

    row: int
    place: Place
    at: datetime


@dataclass(frozen=True, slots=True)
class RowFault:
    row: int
    sentence: str


class Matcher:
    """Reads rows by a matching of columns against the places of one run."""

    def __init__(self, headings: Sequence[str], matching: Mapping[str, str], zone: str) -> None:
        self._columns = {
            ours: headings.index(theirs) for ours, theirs in matching.items() if theirs in headings
        }
        self._zone = zone

    @property
    def complete(self) -> bool:
        """Whether a moment and either place or bottle is matched."""
        return "moment" in self._columns and bool({"place", "bottle"} & set(self._columns))

    def read(self, rows: Iterable[Row], places: Iterable[Place]) -> tuple[list[Entry], list[RowFault]]:
        """Rows that name a sample of this run, and what is wrong with the others.

        Rows of blanks, standards, duplicates and spikes are passed over without a word.
        """
        by_position = {place.position: place for place in places}
        by_bottle: dict[str, list[Place]] = {}
        for place in by_position.values():
            if place.bottle is not None:
                by_bottle.setdefault(place.bottle.number, []).append(place)
        entries, faults = [], []
        unplaced: dict[str, list[tuple[int, datetime]]] = {}
        for number, texts in rows:
            try:
                bottle = numbers.tidy(self._cell(texts, "bottle"))
                if bottle and bottle not in by_bottle:
                    raise CellFault(f"Bottle {numbers.grouped(bottle)} is not on this run.")
                place = self._place(texts, bottle, by_position)
                if place is not None and place.kind == PlaceKind.SAMPLE.value:
                    entries.append(Entry(number, place, self._moment(texts)))
                elif place is None and bottle:
                    unplaced.setdefault(bottle, []).append((number, self._moment(texts)))
            except CellFault as fault:
                faults.append(RowFault(number, fault.sentence))
        for bottle, told in unplaced.items():
            entries += _in_order(told, by_bottle[bottle])
        return sorted(entries, key=lambda entry: entry.row), faults

    def _cell(self, texts: Sequence[str], ours: str) -> str:
        column = self._columns.get(ours)
        return "" if column is None or column >= len(texts) else texts[column].lstrip("'").strip()

    def _place(self, texts: Sequence[str], bottle: str, by_position: Mapping[int, Place]) -> Place | None:
        """The place a row names; ``None`` where it names none but may still name a bottle."""
        position = self._cell(texts, "place")
        if not position:
            if "place" in self._columns and not bottle:
                raise CellFault("The row names no place.")
            return None
        if not (position.isascii() and position.isdigit()) or int(position) not in by_position:
            raise CellFault(f"Place “{position}” is not on this run.")
        found = by_position[int(position)]
        if bottle and found.kind == PlaceKind.SAMPLE.value and found.bottle.number != bottle:
            raise CellFault(
                f"Place {found.position} holds bottle {found.bottle}, not {numbers.grouped(bottle)}."
            )
        return found

    def _moment(self, texts: Sequence[str]) -> datetime:
        text = self._cell(texts, "moment")
        if not text:
            raise CellFault("The row has no moment of injection.")
        read = day_and_clock_of(text)
        if read is None or read[1] is None:
            raise CellFault(f"“{text[:40]}” is not a date with a time. Write it like 2026-11-27 19:40.")
        return moment(read[0], read[1], self._zone)


def _in_order(told: Sequence[tuple[int, datetime]], places: Sequence[Place]) -> list[Entry]:
    """Rows that name a bottle alone, put to its places: the earlier moment to the earlier place.

    Places that await come first; a duplicate or spike of the bottle takes its row and is passed over.
    """
    moments = sorted({moment for _row, moment in told})
    waiting_first = sorted(places, key=lambda place: (not place.awaiting, place.position))
    taken = sorted(waiting_first[: len(moments)], key=lambda place: place.position)
    of_moment = {moment: taken[min(index, len(taken) - 1)] for index, moment in enumerate(moments)}
    return [
        Entry(row, of_moment[moment], moment)
        for row, moment in told
        if of_moment[moment].kind == PlaceKind.SAMPLE.value
    ]
