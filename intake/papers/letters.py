"""The letters of our papers: one family out of a package, so that every machine prints alike."""

from __future__ import annotations

from functools import lru_cache

import font_roboto
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

PLAIN = "Plain"
STRONG = "Strong"
#: What stands for a letter the family does not have (an emoji, say); the number is always legible.
UNKNOWN = "?"


@lru_cache(maxsize=1)
def _covered() -> frozenset[int]:
    """Code points that both weights can print."""
    plain, strong = TTFont(PLAIN, font_roboto.Roboto), TTFont(STRONG, font_roboto.RobotoBold)
    pdfmetrics.registerFont(plain)
    pdfmetrics.registerFont(strong)
    pdfmetrics.registerFontFamily(PLAIN, normal=PLAIN, bold=STRONG, italic=PLAIN, boldItalic=STRONG)
    return frozenset(plain.face.charToGlyph) & frozenset(strong.face.charToGlyph)


def prepare() -> None:
    """Make the letters known to the PDF library; every paper does so before it draws."""
    _covered()


def printable(text: str) -> str:
    """``text`` on one line, with ``UNKNOWN`` for each letter that could not be printed."""
    covered = _covered()
    return "".join(
        letter if ord(letter) in covered else UNKNOWN
        for letter in " ".join(text.split())
        if letter.isprintable()
    )


def width_of(text: str, font: str, size: float) -> float:
    """The width of ``text`` in points."""
    prepare()
    return pdfmetrics.stringWidth(text, font, size)


def fitted(text: str, font: str, size: float, width: float) -> str:
    """``text``, cut with an ellipsis where it is wider than ``width`` points."""
    text = printable(text)
    if width_of(text, font, size) <= width:
        return text
    while text and width_of(f"{text}…", font, size) > width:
        text = text[:-1]
    return f"{text}…"
