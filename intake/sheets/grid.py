"""The sheet on a page, on its way in: what a browser posts of it.

Every column posts one list of texts under its code, and ``was`` one list of the own ids the
rows had when the page was read; the lists are equally long and aligned by place.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from intake.sheets.columns import COLUMNS
from intake.sheets.problems import SheetProblem
from intake.sheets.table import RawRow, Reading, is_blank

#: The page is for entries one looks over; longer ones go by workbook (our choice).
MOST_ROWS = 200
WAS = "was"


class Lists(Protocol):
    """What is asked of posted data."""

    def getlist(self, key: str) -> list[str]: ...


@dataclass(frozen=True, slots=True)
class PostedRow:
    """One row as it was typed. ``was`` is the own id it had when the page was read."""

    number: int
    was: str
    texts: Mapping[str, str]

    @property
    def blank(self) -> bool:
        return all(is_blank(text) for text in self.texts.values())

    def raw(self) -> RawRow:
        return RawRow(self.number, self.texts)


def posted_rows(data: Lists) -> list[PostedRow]:
    """The rows that were posted. Raises ``SheetProblem`` when they are not whole or too many."""
    was = data.getlist(WAS)
    lists = {column.code: data.getlist(column.code) for column in COLUMNS}
    if not was or any(len(texts) != len(was) for texts in lists.values()):
        raise SheetProblem(
            "The page did not reach us whole, so nothing was saved. Go back and save once more; "
            "for very long lists use the spreadsheet."
        )
    if len(was) > 2 * MOST_ROWS:
        raise SheetProblem(
            f"This page takes {MOST_ROWS} samples. Use the spreadsheet for more; nothing was saved."
        )
    return [
        PostedRow(place + 1, was[place], {code: texts[place] for code, texts in lists.items()})
        for place in range(len(was))
    ]


def refuse_too_many(rows: Sequence[PostedRow]) -> None:
    """Raise ``SheetProblem`` for more filled rows than the page takes."""
    filled = sum(not row.blank for row in rows)
    if filled > MOST_ROWS:
        raise SheetProblem(
            f"There are {filled} samples; this page takes {MOST_ROWS}. Use the spreadsheet for more. "
            "Nothing was saved."
        )


def renamed(rows: Sequence[PostedRow], reading: Reading, standing_ids: Iterable[str]) -> dict[str, str]:
    """New own ids by the ids their samples had, for the rows of a sound ``reading``.

    A row added under an id that another row gave up maps to the empty id, which no sample has:
    it is a new sample and must not take over the other's bottles.
    """
    standing = set(standing_ids)
    by_number = {row.number: row.was for row in rows}
    claims: dict[str, str] = {}
    for number, entry in zip(reading.numbers, reading.entries, strict=True):
        was = by_number[number]
        if was in standing and was not in claims.values():
            claims[entry.own_id] = was
    taken = set(claims.values())
    named = {entry.own_id: claims.get(entry.own_id, "") for entry in reading.entries}
    return {own_id: was for own_id, was in named.items() if was != own_id and (was or own_id in taken)}
