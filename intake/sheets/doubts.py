"""Readings that look wrong, each cause once, with the cells at which they were typed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from intake.actions.confirming import Doubt
from intake.alike import MOST_SENTENCES, title_of
from intake.sheets.columns import column_of


@dataclass(frozen=True, slots=True)
class Doubted:
    """One reading: its sample and name, where its cell is on the page of samples, and what is said."""

    own_id: str
    heading: str
    anchor: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Cause:
    """What one rule doubts with one weight: the first readings, and how many more there are."""

    weight: str
    title: str
    told: tuple[Doubted, ...]
    untold: int


def causes_of(doubts: Iterable[Doubt]) -> list[Cause]:
    """``doubts`` by their cause, the heaviest first."""
    same: dict[tuple[str, str], list[Doubt]] = {}
    for doubt in sorted(doubts, key=lambda doubt: -doubt.weight.rank):
        same.setdefault((doubt.code, doubt.weight.value), []).append(doubt)
    return [
        Cause(
            weight,
            title_of(code),
            tuple(_doubted(doubt) for doubt in found[:MOST_SENTENCES]),
            len(found[MOST_SENTENCES:]),
        )
        for (code, weight), found in same.items()
    ]


def _doubted(doubt: Doubt) -> Doubted:
    column = column_of(doubt.fact)
    row = "r" + str(doubt.row)
    if column is None:
        return Doubted(doubt.own_id, "", row, doubt.sentence)
    return Doubted(doubt.own_id, column.heading, "-".join((row, column.code)), doubt.sentence)
