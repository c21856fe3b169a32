"""A text as a QR code (ISO/IEC 18004), drawn as one SVG path."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby

import segno

#: Blank modules that ISO/IEC 18004 asks for on every side.
QUIET_ZONE = 4


@dataclass(frozen=True, slots=True)
class Squares:
    """``side`` is the width and height in modules, quiet zone included; ``path`` draws the dark ones."""

    side: int
    path: str


@lru_cache(maxsize=256)
def squares(text: str) -> Squares:
    """The code of ``text``; rows are drawn as runs, so that no hairlines show between squares."""
    code = segno.make_qr(text, error="m", boost_error=True)
    rows = [list(row) for row in code.matrix_iter(border=QUIET_ZONE)]
    parts = []
    for down, row in enumerate(rows):
        across = 0
        for dark, run in groupby(row):
            length = len(list(run))
            if dark:
                parts.append(f"M{across} {down}h{length}v1h-{length}z")
            across += length
    return Squares(len(rows), "".join(parts))
