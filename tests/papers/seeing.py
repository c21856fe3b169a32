"""Looking at a PDF as a printer would show it."""

from __future__ import annotations

import pypdfium2
import zxingcpp
from PIL import Image, ImageFilter


def pages(content: bytes, dots_per_inch: int = 300) -> list[Image.Image]:
    """Every page as a picture of a printer with that many dots."""
    document = pypdfium2.PdfDocument(content)
    return [page.render(scale=dots_per_inch / 72).to_pil().convert("L") for page in document]


def text_of(content: bytes) -> str:
    """All text of the PDF, in reading order, white space folded."""
    document = pypdfium2.PdfDocument(content)
    return " ".join(" ".join(page.get_textpage().get_text_range().split()) for page in document)


def codes(page: Image.Image) -> list[str]:
    """Texts of all codes on a page, read by a general-purpose decoder."""
    return sorted(found.text for found in zxingcpp.read_barcodes(page))


def smudged(page: Image.Image) -> Image.Image:
    return page.filter(ImageFilter.GaussianBlur(1))
