"""QR codes drawn as squares, so that they stay sharp on any printer."""

from __future__ import annotations

import segno
from reportlab.pdfgen.canvas import Canvas

#: Blank modules that ISO/IEC 18004 asks for on every side of a QR code.
QUIET_ZONE = 4


def draw_code(canvas: Canvas, text: str, x: float, y: float, side: float) -> None:
    """Draw ``text`` as a QR code with its quiet zone into the square at ``x``, ``y`` (points).

    Error correction M: a quarter-smudged label of our short numbers still reads. Rows are
    drawn as runs, so that no hairlines show between squares.
    """
    code = segno.make_qr(text, error="m", boost_error=True)
    rows = [list(row) for row in code.matrix]
    module = side / (len(rows) + 2 * QUIET_ZONE)
    canvas.setFillGray(1)
    canvas.rect(x, y, side, side, stroke=0, fill=1)
    canvas.setFillGray(0)
    for down, row in enumerate(rows):
        top = y + side - (QUIET_ZONE + down + 1) * module
        for start, length in _runs(row):
            canvas.rect(x + (QUIET_ZONE + start) * module, top, length * module, module, stroke=0, fill=1)


def _runs(row: list[int]) -> list[tuple[int, int]]:
    """Start and length of every run of dark modules."""
    runs: list[tuple[int, int]] = []
    for place, dark in enumerate(row):
        if not dark:
            continue
        if runs and runs[-1][0] + runs[-1][1] == place:
            runs[-1] = (runs[-1][0], runs[-1][1] + 1)
        else:
            runs.append((place, 1))
    return runs


def modules_of(text: str) -> int:
    """How many modules wide the code of ``text`` is, with its quiet zone."""
    return len(list(segno.make_qr(text, error="m", boost_error=True).matrix)) + 2 * QUIET_ZONE
