"""A text as a square code (QR code, ISO/IEC 18004), drawn as one SVG path."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from qrcode import QRCode
from qrcode.constants import ERROR_CORRECT_M

#: Blank modules on every side, as ISO/IEC 18004 asks.
QUIET = 4


@dataclass(frozen=True, slots=True)
class Squares:
    """``side`` is the width and height in modules, quiet zone included; ``path`` draws the dark ones."""

    side: int
    path: str


@lru_cache(maxsize=256)
def squares(text: str) -> Squares:
    """The code of ``text``."""
    code = QRCode(border=QUIET, error_correction=ERROR_CORRECT_M)
    code.add_data(text)
    code.make(fit=True)
    matrix = code.get_matrix()
    path = "".join(f"M{x} {y}h1v1h-1z" for y, row in enumerate(matrix) for x, dark in enumerate(row) if dark)
    return Squares(len(matrix), path)
