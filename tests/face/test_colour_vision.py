"""The palette as people with colour-vision deficiency see it.

Simulated by colorspacious after Machado, Oliveira and Fernandes (2009), at full severity. Colour is the
last of three signs, and ``test_signs`` holds that words and drawings differ by themselves, so hues may
fall together; what may not suffer is contrast.
"""

from __future__ import annotations

import numpy
import pytest
from colorspacious import cspace_convert, deltaE

from tests.face.test_contrast import FILLED, GROUNDS, SCHEMES, TEXT, contrast

KINDS = ("protanomaly", "deuteranomaly", "tritanomaly")


def seen(colour: str, kind: str) -> str:
    """``colour`` as somebody without the cone of ``kind`` sees it."""
    given = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    vision = {"name": "sRGB1+CVD", "cvd_type": kind, "severity": 100}
    simulated = numpy.clip(cspace_convert(given, vision, "sRGB1"), 0, 1)
    return "#" + "".join(f"{round(255 * channel):02x}" for channel in simulated)


def distance(one: str, other: str) -> float:
    return float(
        deltaE(*([int(colour[i : i + 2], 16) for i in (1, 3, 5)] for colour in (one, other)), "sRGB255")
    )


@pytest.mark.parametrize("kind", KINDS)
def test_greys_stay_grey(kind):
    assert distance(seen("#808080", kind), "#808080") < 2


def test_the_simulation_makes_red_and_green_alike():
    red, green = "#b03020", "#4a7a20"
    assert distance(seen(red, "deuteranomaly"), seen(green, "deuteranomaly")) < distance(red, green) / 2


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("scheme", SCHEMES)
def test_text_keeps_its_contrast(scheme, kind):
    palette = SCHEMES[scheme]
    pairs = [(name, ground) for name in TEXT for ground in GROUNDS] + FILLED
    found = {pair: contrast(seen(palette[pair[0]], kind), seen(palette[pair[1]], kind)) for pair in pairs}
    assert {pair: round(value, 2) for pair, value in found.items() if value < 4.5} == {}
