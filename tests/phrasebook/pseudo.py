"""A language of its own: each phrase in brackets, its holes outside them."""

from __future__ import annotations

import re
from functools import cache

from intake.phrasebook.book import Phrasebook
from intake.phrasebook.phrase import parts_of
from tests.words.gathering import ROOT
from tests.words.phrases import gathered

#: What every language writes alike: units and formulas, figures, zones, the keys of fields.
ALIKE = re.compile(
    r"\b(?:mL|mg/L|mol/L|meq/L|[µmdu]?S/c?m|pH|EC|UTC|h|d|min|N|P|S)\b|°[CF]|[A-Z][A-Za-z_]+/[A-Za-z_/+\-\d]+"
)


def wrapped(text: str) -> str:
    fixed, holes = parts_of(text)
    parts = [
        "⟦" + part.replace("{", "{{").replace("}", "}}") + "⟧" if part.strip() else part for part in fixed
    ]
    return parts[0] + "".join(f"{{{hole}}}{part}" for hole, part in zip(holes, parts[1:], strict=True))


@cache
def book() -> Phrasebook:
    return Phrasebook({text: wrapped(text) for text in gathered(ROOT)})


@cache
def identity() -> Phrasebook:
    return Phrasebook({text: text for text in gathered(ROOT)})


def english_left(text: str, own: tuple[str, ...] = ()) -> str:
    """What of ``text`` no phrase has said; ``own`` are people's words in it."""
    left = re.sub(r"⟦.*?⟧", " ", book().say(text))
    for words in sorted(own, key=len, reverse=True):
        left = left.replace(words, "")
    left = ALIKE.sub("", left)
    return left if re.search(r"[^\W\d_]", left) else ""
