"""The card of commands: every code on it reads as the word beside it."""

import re

import pytest
import zxingcpp
from django.urls import reverse
from PIL import Image, ImageDraw, ImageFilter

from intake.forms.scans import Kind, read

pytestmark = pytest.mark.django_db

#: Dots of a 300 dpi printer for one module of the card's codes (112 px wide, 96 px an inch).
DOTS = 12
PICTURE = re.compile(
    r'<svg viewBox="0 0 (\d+) \1".*?<path class="card-dark" d="([^"]+)".*?<kbd>([^<]+)</kbd>', re.S
)
RUN = re.compile(r"M(\d+) (\d+)h(\d+)v1h-\3z")


def printed(side: int, path: str) -> Image.Image:
    page = Image.new("L", (side * DOTS, side * DOTS), 255)
    pen = ImageDraw.Draw(page)
    for across, down, length in (map(int, run) for run in RUN.findall(path)):
        corner = ((across + length) * DOTS - 1, (down + 1) * DOTS - 1)
        pen.rectangle((across * DOTS, down * DOTS, *corner), fill=0)
    return page


def test_every_code_reads_as_its_word_and_means_something(signed_in, reception):
    """Read by zxing-cpp, a general-purpose decoder, also after a smudge of one dot."""
    page = signed_in(reception).get(reverse("intake:command_card")).text
    pictures = PICTURE.findall(page)
    assert len(pictures) == 23
    for side, path, word in pictures:
        code = printed(int(side), path)
        for seen in (code, code.filter(ImageFilter.GaussianBlur(1))):
            assert [found.text for found in zxingcpp.read_barcodes(seen)] == [word]
        assert read(word).kind is not Kind.NO_COMMAND
