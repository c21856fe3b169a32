"""Reading one cell: from what was typed, or what a spreadsheet holds, to a typed value.

Every function takes clean text and raises ``CellFault`` with a sentence for the person.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time
from difflib import get_close_matches
from functools import lru_cache

from intake.rules.facts import Line
from intake.rules.words import say_list
from intake.sheets.columns import Column, Kind
from intake.sheets.ionlists import ions_of
from intake.sheets.measures import number_of
from intake.sheets.problems import CellFault
from intake.sheets.texts import NOT_STATED, as_text, key, plain, quoted
from intake.sheets.times import HOW_TO_DATE, HOW_TO_TIME, Clock, clock_of, day_and_clock_of

#: What is written between the values of the anion and the cation bottle where they differ.
DIVIDER = "|"

#: Kinds of columns in which a date or time is meant.
TIMED = frozenset({Kind.DATE, Kind.TIME, Kind.MOMENT, Kind.SINCE})

YES = frozenset({"y", "yes", "x", "✓", "✔", "true", "1"})
NO = frozenset({"n", "no", "false", "0"})
AT_ONCE = frozenset({"at once", "immediately", "at collection", "straight away", "right away"})

#: Other spellings of choices by the fact they feed, as ``texts.key`` writes them.
SPELLINGS: dict[str, dict[str, str]] = {
    "ec_unit": {
        "uscm1": "µS/cm", "muscm": "µS/cm", "muscm1": "µS/cm", "mscm1": "mS/cm",
        "dsm1": "dS/m", "msm1": "mS/m", "sm1": "S/m",
    },
    "ec_reference": {
        "25c": "25", "20c": "20", "at25c": "25", "at20c": "20", "uncompensated": "raw",
    },
    "filter_membrane": {
        "pes": "polyethersulfone", "polyethersulphone": "polyethersulfone",
        "pvdf": "polyvinylidene fluoride", "ptfe": "hydrophilic PTFE", "ca": "cellulose acetate",
        "cn": "cellulose nitrate", "glassfiber": "glass fibre", "gf": "glass fibre",
    },
    "container": {
        "pe": "polyethylene", "hdpe": "polyethylene", "pp": "polypropylene", "ptfe": "fluoropolymer",
    },
    "acid_kind": {
        "no": "none", "n": "none", "hno3": "nitric", "nitricacid": "nitric", "h2so4": "sulfuric",
        "sulphuric": "sulfuric", "sulfuricacid": "sulfuric", "sulphuricacid": "sulfuric",
        "hcl": "hydrochloric",
        "hydrochloricacid": "hydrochloric", "yes": "yes", "y": "yes", "x": "yes",
    },
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Measure:
    """A number and the unit typed after it, if any, as ``Column.units`` spells it."""

    value: float
    unit: str = ""


@dataclass(frozen=True, slots=True)
class DayCell:
    """A date, with the time of day where one was typed beside it."""

    day: date
    clock: Clock | None = None


@dataclass(frozen=True, slots=True)
class Stated:
    """When something happened: at once, on a day at a time, at a time alone; or only whether it did."""

    happened: bool = True
    at_once: bool = False
    day: date | None = None
    clock: Clock | None = None


@dataclass(frozen=True, slots=True)
class Pair:
    """What a paired column says of the anion and the cation bottle."""

    anion: object
    cation: object


@lru_cache(maxsize=4096, typed=True)
def read_cell(column: Column, raw: object) -> object:
    """The typed value of ``raw`` in ``column``; ``None`` when nothing is stated.

    Raises ``CellFault``. What type belongs to which kind is seen in ``READERS``. Answers are kept, as
    most cells of a long sheet hold what the cell above holds.
    """
    # An apostrophe in front tells a spreadsheet to keep what follows as text.
    text = as_text(raw).removeprefix("'") if column.kind in TIMED else _untimed_text(raw, column)
    if column.paired and DIVIDER in text:
        parts = [part.strip() for part in text.split(DIVIDER)]
        if len(parts) != 2:
            raise CellFault(
                f"{quoted(text)} has more than one {DIVIDER}. Type one value for both bottles, "
                f"or anion {DIVIDER} cation."
            )
        return Pair(*(_read(column, part) for part in parts))
    value = _read(column, text)
    return Pair(value, value) if column.paired and value is not None else value


def _read(column: Column, text: str) -> object:
    if not text:
        return None
    if len(text) > column.limit:
        raise CellFault(
            f"This is {len(text)} characters long; “{column.name}” takes {column.limit}. Shorten it."
        )
    return READERS[column.kind](column, text)


def _untimed_text(raw: object, column: Column) -> str:
    """Raw text where no date is meant: a spreadsheet makes dates of 7.2 or 3-4 on its own."""
    if isinstance(raw, datetime | date | time):
        raise CellFault(
            f"The spreadsheet turned what was typed here into a date ({as_text(raw)}). "
            "Set the cell's format to text and type it again."
        )
    if isinstance(raw, bool) and column.kind is Kind.TEXT:
        return str(raw).upper()
    return as_text(raw)


def _text(column: Column, text: str) -> str:
    return text


def _choice(column: Column, text: str) -> str | None:
    wanted = key(text)
    others = {spelling: value for fact in column.facts for spelling, value in SPELLINGS.get(fact, {}).items()}
    for value, label in column.choices:
        if wanted and wanted in (key(value), key(label)):
            return value
    if wanted in others:
        return others[wanted]
    if plain(text) in NOT_STATED:
        return None
    labels = [label for _, label in column.choices]
    near = get_close_matches(plain(text), labels, n=2, cutoff=0.6)
    if near:
        raise CellFault(f"{quoted(text)} is not known here. Did you mean {say_list(near, 'or')}?")
    raise CellFault(f"{quoted(text)} is not known here. Choose {say_list(labels, 'or')}.")


def _yes_no(column: Column, text: str) -> bool | None:
    word = plain(text)
    if word in YES:
        return True
    if word in NO:
        return False
    if word in NOT_STATED:
        return None
    raise CellFault(f"{quoted(text)} is neither yes nor no. Type yes or no, or leave it empty.")


def _number(column: Column, text: str) -> Measure | None:
    word = plain(text)
    if word in NOT_STATED:
        return None
    for name, value in column.words:
        if word == name:
            return Measure(value)
    value, unit = number_of(text, column.units, column.unit, column.least)
    return Measure(value, unit)


def _date(column: Column, text: str) -> DayCell | None:
    if plain(text) in NOT_STATED:
        return None
    found = day_and_clock_of(text)
    if found is None:
        raise CellFault(f"{quoted(text)} is not a date. {HOW_TO_DATE}")
    day, clock = found
    # Programs that export tables write a date as midnight to the second; nobody means that time.
    if text.endswith("00:00:00"):
        clock = None
    return DayCell(day, clock)


def _time(column: Column, text: str) -> Clock | None:
    if plain(text) in NOT_STATED:
        return None
    clock = clock_of(text)
    if clock is None:
        raise CellFault(f"{quoted(text)} is not a time of day. {HOW_TO_TIME}")
    return clock


def _moment(column: Column, text: str) -> Stated | None:
    word = plain(text)
    if word in NOT_STATED:
        return None
    if word in AT_ONCE:
        return Stated(at_once=True)
    found = day_and_clock_of(text)
    day, clock = found if found else (None, clock_of(text))
    if clock is None and day is None:
        raise CellFault(f"{quoted(text)} is not a moment. Type a date and a time such as 2026-03-04 14:05.")
    if clock is None:
        raise CellFault(
            f"{quoted(text)} has no time. Type it after the date, such as 2026-03-04 14:05; "
            "for midnight type '2026-03-04 00:00 with the apostrophe in front."
        )
    if clock.to_the_hour:
        raise CellFault(f"{quoted(text)} has no minutes. {HOW_TO_TIME}")
    return Stated(day=day, clock=clock)


def _since(column: Column, text: str) -> Stated | None:
    word = plain(text)
    if word in YES | NO:
        return Stated(happened=word in YES)
    return _moment(column, text)


def _ions(column: Column, text: str) -> tuple[str, ...]:
    return ions_of(text, column.line or Line.ANION)


READERS: dict[Kind, Callable[[Column, str], object]] = {
    Kind.TEXT: _text,
    Kind.CHOICE: _choice,
    Kind.YES_NO: _yes_no,
    Kind.NUMBER: _number,
    Kind.DATE: _date,
    Kind.TIME: _time,
    Kind.MOMENT: _moment,
    Kind.SINCE: _since,
    Kind.IONS: _ions,
}
