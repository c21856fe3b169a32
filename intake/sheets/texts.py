"""Cleaning what stands in a cell into plain text, whatever it came as."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import lru_cache

from intake.sheets.problems import CellFault

#: Longest text taken from one cell, in characters. Our choice.
LONGEST = 2000

#: Marks that turn the reading direction and stay unseen (Unicode Standard Annex 9, section 2),
#: and the byte order mark. The joiners U+200C and U+200D stay: scripts and emoji need them.
UNSEEN = dict.fromkeys(
    (0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x200B, 0xFEFF)
)

#: Every character that leaves a cell looking empty: those, and all white space.
BLANK = "".join(map(chr, UNSEEN)) + "".join(filter(str.isspace, map(chr, range(0x3001))))

NOT_STATED = frozenset({"?", "n/a", "unknown", "not known", "not measured", "not stated"})


@dataclass(frozen=True, slots=True)
class Formula:
    """A cell that holds a formula; its result is never trusted."""

    text: str


@dataclass(frozen=True, slots=True)
class SheetError:
    """A cell that holds a spreadsheet's error value, such as ``#N/A``."""

    text: str


def shortened(value: object, length: int = 60) -> str:
    """What stands in a cell, short enough to be shown in a message."""
    text = value.text if isinstance(value, Formula | SheetError) else str(value)
    text = " ".join(text[: length * 4].split())
    return text if len(text) <= length else f"{text[: length - 1]}…"


def quoted(value: object) -> str:
    """``shortened`` in quotation marks."""
    return f"“{shortened(value)}”"


def as_text(value: object) -> str:
    """A raw cell as clean text: NFC, single spaces, unseen direction marks taken out.

    Numbers and moments from a spreadsheet become the text a person would have typed. Raises
    ``CellFault`` for formulas, error values, unseen control characters and endless text.
    """
    if value is None:
        return ""
    if isinstance(value, str):
        return _clean(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        # A spreadsheet keeps 15 digits; what comes after them is noise of binary fractions.
        return f"{value:.15g}"
    if isinstance(value, datetime | date | time | timedelta):
        return _moment_text(value)
    if isinstance(value, Formula):
        raise CellFault(
            "This cell holds a formula, and formulas are not read. "
            "Copy the cell and paste it back as a value."
        )
    if isinstance(value, SheetError):
        raise CellFault(
            f"This cell holds the spreadsheet's error {shortened(value)}. Type the value, or leave it empty."
        )
    raise CellFault("This cell holds something that is neither text, a number nor a date. Type it anew.")


def shown_text(value: object) -> str:
    """A raw cell as the grid shows it for correction, also where it cannot be read as it is."""
    try:
        return as_text(value)
    except CellFault:
        return shortened(value, LONGEST)


def _clean(value: str) -> str:
    if len(value) > LONGEST:
        raise CellFault(
            f"This cell holds {len(value):,} characters; at most {LONGEST:,} can be read. Shorten it."
        )
    text = " ".join(value.split())
    if text.isascii() and text.isprintable():
        return text
    text = " ".join(unicodedata.normalize("NFC", text.translate(UNSEEN)).split())
    for character in text:
        code = ord(character)
        if (
            unicodedata.category(character) in ("Cc", "Cs")
            or code & 0xFFFE == 0xFFFE
            or 0xFDD0 <= code <= 0xFDEF
        ):
            raise CellFault(
                f"This cell holds a character that cannot be seen or stored (U+{code:04X}). "
                "Type the cell anew."
            )
    return text


def _moment_text(value: datetime | date | time | timedelta) -> str:
    if isinstance(value, timedelta):
        if not timedelta(0) <= value < timedelta(days=1):
            raise CellFault("This cell holds a length of time. Type a time of day such as 14:05.")
        value = datetime.combine(date(1900, 1, 1), time()) + value
    if isinstance(value, time):
        value = datetime.combine(date(1900, 1, 1), value)
    if isinstance(value, datetime):
        # Spreadsheets keep a fraction of a day, which lands microseconds beside the second.
        if value.year < 9999:
            value += timedelta(microseconds=500_000)
        value = value.replace(microsecond=0)
        clock = value.strftime("%H:%M:%S" if value.second else "%H:%M")
        if value.year <= 1900:
            return clock
        if not (value.hour or value.minute or value.second):
            return value.date().isoformat()
        return f"{value.date().isoformat()} {clock}"
    return value.isoformat()


@lru_cache(maxsize=4096)
def plain(text: str) -> str:
    """``text`` for comparing: lower case, µ as u, every script's digits as 0 to 9, one kind of dash."""
    text = text.replace("µ", "u").replace("μ", "u").replace("−", "-").replace("‐", "-").replace("–", "-")
    text = "".join(
        str(unicodedata.decimal(character, character)) if ord(character) > 127 else character
        for character in text
    )
    return " ".join(text.casefold().split())


@lru_cache(maxsize=4096)
def key(text: str) -> str:
    """``text`` for looking up a word: only letters and digits, in lower case and on one level."""
    return re.sub(r"[\W_]+", "", plain(unicodedata.normalize("NFKC", text)))
