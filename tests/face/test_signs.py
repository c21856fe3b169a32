"""Words and shapes before colour: every sign can be told from its fellows without it."""

from __future__ import annotations

import re

import pytest
from django.conf import settings

from intake.pictures import signs
from intake.pictures.timeleft import Urgency

SHAPES = (settings.BASE_DIR / "static" / "shapes.svg").read_text(encoding="utf-8")
STYLE = (settings.BASE_DIR / "static" / "signs.css").read_text(encoding="utf-8")
FAMILIES = {
    "weights": list(signs.WEIGHTS.values()),
    "bottles": list(signs.BOTTLES.values()),
    "consignments": list(signs.CONSIGNMENTS.values()),
    "urgencies": [signs.urgency_sign(level) for level in Urgency],
}


def drawing(shape: str) -> str:
    return re.search(rf'<symbol id="{shape}"[^>]*>(.*?)</symbol>', SHAPES, re.S).group(1)


@pytest.mark.parametrize("family", FAMILIES)
def test_no_two_share_a_word_or_a_drawing(family):
    members = FAMILIES[family]
    assert len({str(sign.word) for sign in members}) == len(members)
    assert len({drawing(sign.shape) for sign in members}) == len(members)


@pytest.mark.parametrize("family", FAMILIES)
def test_each_has_a_tone_in_the_stylesheet(family):
    for sign in FAMILIES[family]:
        assert re.search(rf"\.sign-{sign.tone}\b", STYLE), sign


def test_shapes_are_drawn_in_the_text_colour_only():
    colours = set(re.findall(r'(?:fill|stroke)="([^"]+)"', SHAPES))
    assert colours <= {"none", "currentColor", "var(--sheet, #fff)"}
