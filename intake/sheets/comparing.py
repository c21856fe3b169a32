"""What a sheet would change in the samples that stand there, told in the sheet's own words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from intake.actions.entries import SampleEntry
from intake.sheets.columns import COLUMNS
from intake.sheets.rowtexts import raw_texts


@dataclass(frozen=True, slots=True)
class CellChange:
    """One cell that would change."""

    heading: str
    was: str
    becomes: str


@dataclass(frozen=True, slots=True)
class SampleChange:
    """One sample with the cells that would change."""

    own_id: str
    cells: tuple[CellChange, ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """Own ids added and removed, samples changed, and how many stay as they are."""

    added: tuple[str, ...]
    changed: tuple[SampleChange, ...]
    removed: tuple[str, ...]
    same: int
    reordered: bool

    @property
    def nothing(self) -> bool:
        return not (self.added or self.changed or self.removed or self.reordered)


def compare(standing: Sequence[SampleEntry], stated: Sequence[SampleEntry], zone: str) -> Comparison:
    """``stated`` against ``standing``, matched by own id; local times are those of ``zone``."""
    before = {entry.own_id: entry for entry in standing}
    after = {entry.own_id: entry for entry in stated}
    changed = [
        SampleChange(own_id, _cells(before[own_id], entry, zone))
        for own_id, entry in after.items()
        if own_id in before and before[own_id] != entry
    ]
    kept = [own_id for own_id in before if own_id in after]
    return Comparison(
        added=tuple(own_id for own_id in after if own_id not in before),
        changed=tuple(changed),
        removed=tuple(own_id for own_id in before if own_id not in after),
        same=len(kept) - len(changed),
        reordered=kept != [own_id for own_id in after if own_id in before],
    )


def _cells(was: SampleEntry, becomes: SampleEntry, zone: str) -> tuple[CellChange, ...]:
    old, new = raw_texts(was, zone), raw_texts(becomes, zone)
    return tuple(
        CellChange(column.heading, old.get(column.code, ""), new.get(column.code, ""))
        for column in COLUMNS
        if old.get(column.code, "") != new.get(column.code, "")
    )
