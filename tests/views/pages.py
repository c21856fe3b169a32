"""What tests of the submitter's pages share: addresses, posting a grid, reading a page."""

from __future__ import annotations

import re
from collections.abc import Sequence
from html import unescape

from django.urls import reverse

from intake.models import Consignment
from intake.sheets.columns import COLUMNS

#: A row as a person types it, with both bottles.
TYPED = {
    "own_id": "Mill 1",
    "site": "Mill brook, below the weir",
    "collected_date": "2026-03-03",
    "collected_time": "09:00",
    "ph": "7.4",
    "ec": "420",
    "ec_unit": "µS/cm",
    "ec_reference": "compensated to 25 °C",
    "filter_pore": "0.45",
    "anion_ions": "common anions",
    "anion_volume": "50",
    "cation_ions": "common cations",
    "cation_acid": "nitric",
    "cation_acid_mol_l": "1",
    "cation_acid_ml": "0.5",
}


def address(name: str, consignment: Consignment, *more: str) -> str:
    return reverse(f"intake:{name}", args=[consignment.number, *more])


def typed(**changes: str) -> dict[str, str]:
    return TYPED | changes


def grid(rows: Sequence[dict[str, str]], **hidden: object) -> dict[str, object]:
    """What a browser posts of the page of samples; a row's ``was`` is its former own id."""
    data: dict[str, object] = {code: [row.get(code, "") for row in rows] for code in _codes()}
    data["was"] = [row.get("was", "") for row in rows]
    return data | {name: str(value) for name, value in hidden.items()}


def _codes() -> list[str]:
    return [column.code for column in COLUMNS]


def text_of(response: object) -> str:
    """The page as text, without its tags."""
    words = re.sub(r"<[^>]+>", " ", response.content.decode())
    return " ".join(unescape(words).split())


def hidden_of(response: object, name: str) -> str:
    """The value of the first hidden field called ``name``."""
    found = re.search(rf'<input type="hidden" name="{name}" value="([^"]*)"', response.content.decode())
    return unescape(found.group(1)) if found else ""
