"""Bars as SVG, worked out here so that templates only print them. The table beside says the same."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

WIDTH, LABEL, ROW, THICK = 640, 190, 26, 16
ROOM = WIDTH - LABEL - 70


@dataclass(frozen=True, slots=True)
class Piece:
    """One part of a bar; ``kind`` 1 or 2 is told by shade and by hatching, never by colour alone."""

    x: float
    width: float
    kind: int


@dataclass(frozen=True, slots=True)
class Bar:
    label: str
    told: str
    y: float
    middle: float
    pieces: tuple[Piece, ...]
    end: float


@dataclass(frozen=True, slots=True)
class Bars:
    title: str
    height: int
    bars: tuple[Bar, ...]
    label_x: int = LABEL - 8
    start_x: int = LABEL
    thick: int = THICK

    @property
    def view_box(self) -> str:
        return f"0 0 {WIDTH} {self.height}"


def bars_of(
    title: str, rows: Iterable[tuple[str, str, tuple[float, ...]]], most: float | None = None
) -> Bars:
    """Horizontal bars; each row is a label, what is said at its end, and the lengths of its pieces.

    ``most`` is the length that fills the room, by default that of the longest row.
    """
    rows = list(rows)
    full = most or max((sum(lengths) for _, _, lengths in rows), default=0.0) or 1.0
    made = []
    for place, (label, told, lengths) in enumerate(rows):
        x, pieces = float(LABEL), []
        for kind, length in enumerate(lengths, 1):
            width = round(max(length, 0.0) / full * ROOM, 1)
            pieces.append(Piece(round(x, 1), width, kind))
            x += width
        y = place * ROW + 5
        short = label if len(label) <= 24 else f"{label[:23]}…"
        made.append(Bar(short, told, y, y + THICK / 2 + 4, tuple(pieces), round(x + 6, 1)))
    return Bars(title, len(rows) * ROW + 8, tuple(made))
