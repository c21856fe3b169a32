"""What differs between two rulebooks, row by row and setting by setting."""

from __future__ import annotations

from dataclasses import dataclass, fields
from enum import StrEnum

from intake.rules.book import KeepingRow, Rulebook

#: Fields of a rulebook that are not settings but name and describe it.
_NOT_SETTINGS = frozenset({"code", "version", "title", "rows", "about", "dated"})

#: What is worked out from a book (``field.init`` false) is no setting either.
SETTINGS: tuple[str, ...] = tuple(
    field.name for field in fields(Rulebook) if field.init and field.name not in _NOT_SETTINGS
)


class Change(StrEnum):
    SAME = "same"
    CHANGED = "changed"
    ADDED = "added"
    REMOVED = "removed"


@dataclass(frozen=True, slots=True)
class RowDifference:
    """One row number in both books; ``old`` or ``new`` is ``None`` where the row is not there.

    ``fields`` names what differs: ion, conditions, limit, source, confidence, note.
    """

    number: int
    old: KeepingRow | None
    new: KeepingRow | None
    fields: tuple[str, ...]

    @property
    def change(self) -> Change:
        if self.old is None:
            return Change.ADDED
        if self.new is None:
            return Change.REMOVED
        return Change.CHANGED if self.fields else Change.SAME


@dataclass(frozen=True, slots=True)
class SettingDifference:
    name: str
    old: object
    new: object


def compare_rows(old: Rulebook, new: Rulebook) -> tuple[RowDifference, ...]:
    """Every row number of either book, in order, with what differs."""
    before = {row.number: row for row in old.rows}
    after = {row.number: row for row in new.rows}
    return tuple(
        RowDifference(number, before.get(number), after.get(number), _differing(before, after, number))
        for number in sorted(before.keys() | after.keys())
    )


def _differing(before: dict[int, KeepingRow], after: dict[int, KeepingRow], number: int) -> tuple[str, ...]:
    old, new = before.get(number), after.get(number)
    if old is None or new is None:
        return ()
    names = (field.name for field in fields(KeepingRow))
    return tuple(name for name in names if getattr(old, name) != getattr(new, name))


def compare_settings(old: Rulebook, new: Rulebook) -> tuple[SettingDifference, ...]:
    """The settings that differ."""
    return tuple(
        SettingDifference(name, getattr(old, name), getattr(new, name))
        for name in SETTINGS
        if getattr(old, name) != getattr(new, name)
    )
