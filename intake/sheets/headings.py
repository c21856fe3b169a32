"""Finding the row of headings and telling which column is which, as a person would."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from difflib import get_close_matches

from openpyxl.utils import get_column_letter

from intake.rules.words import say_list
from intake.sheets.columns import BY_CODE, COLUMNS, Column
from intake.sheets.problems import SheetProblem
from intake.sheets.texts import key, quoted

#: Without these columns there is no sheet; the others may be missing, which means "not stated".
NEEDED = ("own_id", "collected_date", "collected_time", "anion_ions", "cation_ions")

#: The heading over the column in which faults are explained; it is written, never read.
WHAT_IS_WRONG = "What is wrong"

#: How many rows may stand above the headings.
HEADINGS_WITHIN = 40


def heading_key(text: str) -> str:
    """A heading for comparing; ``mu`` before a unit is the same as ``µ``."""
    return re.sub(r"mum$", "um", key(text))


def _spellings(column: Column) -> set[str]:
    """The heading with its unit, without it, without "field", and the code."""
    bare = column.heading.removesuffix(f", {column.unit}") if column.unit else column.heading
    written = {column.heading, bare, bare.removeprefix("Field "), column.code}
    return {heading_key(each) for each in (*written, *(each.replace(" bottle:", "") for each in written))}


CODES: dict[str, str] = {spelling: column.code for column in COLUMNS for spelling in _spellings(column)}
#: Headings that fit both bottles, and so neither.
UNDECIDED: dict[str, tuple[str, ...]] = {
    heading_key(short): tuple(column.code for column in COLUMNS if column.line and column.name == name)
    for name in sorted({column.name for column in COLUMNS if column.line})
    for short in {name, *(column.short_heading for column in COLUMNS if column.line and column.name == name)}
}


@dataclass(slots=True)
class Headings:
    """Which column stands where. ``places`` maps column numbers (from 1) to codes."""

    row: int
    places: dict[int, str] = field(default_factory=dict)
    extra: tuple[str, ...] = ()

    @property
    def letters(self) -> dict[str, str]:
        """The letter of the workbook's column by code."""
        return {code: get_column_letter(number) for number, code in self.places.items()}

    @property
    def absent(self) -> tuple[str, ...]:
        """Headings of everyday columns that are not in the sheet."""
        there = set(self.places.values())
        return tuple(column.heading for column in COLUMNS if column.everyday and column.code not in there)


def looks_like_headings(texts: Iterable[str]) -> bool:
    """Whether a row is the one with the headings: the sample id and two more, or five of any."""
    codes = {CODES[found] for text in texts if (found := heading_key(text)) in CODES}
    return len(codes) >= 5 or (len(codes) >= 3 and "own_id" in codes)


def read_headings(row: int, texts: dict[int, str]) -> Headings:
    """The headings of ``row``; ``texts`` maps column numbers to what stands there.

    Raises ``SheetProblem`` for a heading that stands twice, one that is nearly or half a known
    one, and when a column is missing without which nothing can be read.
    """
    headings = Headings(row)
    unknown: dict[int, str] = {}
    for number, text in sorted(texts.items()):
        code = CODES.get(heading_key(text))
        if code is None:
            unknown[number] = text
        elif code in headings.places.values():
            raise SheetProblem(
                f"Columns {headings.letters[code]} and {get_column_letter(number)} are both headed "
                f"“{BY_CODE[code].heading}”. Remove one of them."
            )
        else:
            headings.places[number] = code
    headings.extra = tuple(
        text for text in unknown.values() if text.strip() and heading_key(text) != heading_key(WHAT_IS_WRONG)
    )
    _refuse_near_misses(headings, unknown)
    missing = [BY_CODE[code].heading for code in NEEDED if code not in headings.places.values()]
    if missing:
        raise SheetProblem(
            f"The headings in row {row} lack {say_list(f'“{heading}”' for heading in missing)}. "
            "Put the column back, empty if you have nothing to say, or download a fresh workbook."
        )
    return headings


def _refuse_near_misses(headings: Headings, unknown: dict[int, str]) -> None:
    """Data under a misspelt heading would be lost without a word, so it is asked about."""
    free = {
        spelling: code
        for column in COLUMNS
        if (code := column.code) not in headings.places.values()
        for spelling in _spellings(column)
    }
    for number, text in unknown.items():
        place = f"Column {get_column_letter(number)} is headed {quoted(text)}"
        wanted = heading_key(text)
        if not wanted:
            continue
        codes = UNDECIDED.get(wanted)
        if codes:
            meant = say_list((f"“{BY_CODE[code].heading}”" for code in codes), "or")
            raise SheetProblem(f"{place}, which could be either bottle. Write {meant}.")
        near = get_close_matches(wanted, free, n=1, cutoff=0.8)
        if near:
            raise SheetProblem(
                f"{place}. Did you mean “{BY_CODE[free[near[0]]].heading}”? "
                "Correct the heading, or rename the column if it is your own."
            )
