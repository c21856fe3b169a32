"""The rulebooks that are shipped as files in ``fixtures/rulebooks``."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from intake.rules.book import Rulebook
from intake.rules.book_data import book_from_data

FOLDER = Path(__file__).parent.parent / "fixtures" / "rulebooks"


def shipped_codes() -> tuple[str, ...]:
    """The codes of the shipped rulebooks, the house rulebook first."""
    codes = sorted(path.stem for path in FOLDER.glob("*.json"))
    return tuple(sorted(codes, key=lambda code: code != "house"))


def shipped_data(code: str) -> dict[str, Any]:
    """The plain data of one shipped rulebook. Raises ``KeyError`` for an unknown code."""
    if code not in shipped_codes():
        raise KeyError(code)
    data: dict[str, Any] = json.loads((FOLDER / f"{code}.json").read_text(encoding="utf-8"))
    return data


def shipped_book(code: str) -> Rulebook:
    """One shipped rulebook. Raises ``KeyError`` for an unknown code."""
    return book_from_data(shipped_data(code))
