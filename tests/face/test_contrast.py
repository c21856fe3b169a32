"""Contrast of the named colours, computed from the stylesheet itself.

Formula: WCAG 2.2, definitions of relative luminance and contrast ratio; 4.5 for text is success
criterion 1.4.3, 3 for signs and lines of controls 1.4.11.
"""

from __future__ import annotations

import re

import pytest
from django.conf import settings

SHEET = (settings.BASE_DIR / "static" / "labqueue.css").read_text(encoding="utf-8")
GUIDE = (settings.BASE_DIR / "DEVELOPERS.md").read_text(encoding="utf-8")
DARK_FROM = "@media (prefers-color-scheme: dark)"
DARK_TO = "@media (prefers-contrast: more)"


def colours(text: str) -> dict[str, str]:
    return dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", text))


LIGHT = colours(SHEET.partition(DARK_FROM)[0])
DARK = {**LIGHT, **colours(SHEET.partition(DARK_FROM)[2].partition(DARK_TO)[0])}
SCHEMES = {"light": LIGHT, "dark": DARK}

TEXT = ("ink", "slate", "spring", "clay", "ochre", "reed")
GROUNDS = ("paper", "sheet", "spring-wash", "clay-wash", "ochre-wash", "reed-wash")
#: Text that is set in the ground's colour on a filled ground: buttons, the page one is on.
FILLED = [("paper", "spring"), ("paper", "ink"), ("paper", "clay")]


def luminance(colour: str) -> float:
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (
        channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4 for channel in channels
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_the_formula_gives_the_published_ends():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)  # the usual near miss


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("name", TEXT)
def test_text_reaches_4_5(scheme, name, ground):
    palette = SCHEMES[scheme]
    assert contrast(palette[name], palette[ground]) >= 4.5


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize(("name", "ground"), FILLED)
def test_text_on_filled_grounds_reaches_4_5(scheme, name, ground):
    palette = SCHEMES[scheme]
    assert contrast(palette[name], palette[ground]) >= 4.5


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("ground", ["paper", "sheet"])
@pytest.mark.parametrize("name", ["silt", "beacon"])
def test_lines_of_controls_and_focus_reach_3(scheme, name, ground):
    palette = SCHEMES[scheme]
    assert contrast(palette[name], palette[ground]) >= 3


@pytest.mark.parametrize("name", [*TEXT, "silt", "beacon"])
def test_the_figures_written_down_are_right(name):
    figures = " / ".join(f"{contrast(palette[name], palette['paper']):.1f}" for palette in SCHEMES.values())
    assert re.search(rf"\| {name} \| [^|]* \| {figures} \|", GUIDE), f"DEVELOPERS.md: {name} {figures}"
    assert re.search(rf"\b{name}\b[^/]*{figures}", SHEET), f"labqueue.css: {name} {figures}"


def test_every_colour_in_use_is_named():
    used = {
        name
        for path in (settings.BASE_DIR / "static").glob("*.css")
        for name in re.findall(r"var\(--([a-z0-9-]+)", path.read_text(encoding="utf-8"))
    }
    named = set(re.findall(r"--([a-z0-9-]+):", SHEET))
    assert used <= named, used - named
