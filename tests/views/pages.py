"""What tests of the submitter's pages share: addresses, posting a grid, reading a page."""

from __future__ import annotations

import re
from collections.abc import Sequence
from html import unescape

from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from intake.models import Consignment
from intake.sheets.columns import COLUMNS

#: Addresses of one consignment, by the way they are opened.
PAGES = ("consignment", "consignment_amend", "consignment_send", "consignment_withdraw")
ENTRY_PAGES = ("samples", "sheet", "sheet_file")

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


def queries_of(client: object, url: str) -> int:
    """How many questions the database is asked for a page, once the session is warm."""
    client.get(url)
    with CaptureQueriesContext(connection) as caught:
        assert client.get(url).status_code == 200
    return len(caught)


def carried_by(response: object) -> dict[str, str]:
    """What the form of ``response`` carries unseen, to be posted back."""
    return {name: hidden_of(response, name) for name in ("token", "version", "seen")}


def hidden_of(response: object, name: str) -> str:
    """The value of the first hidden field called ``name``."""
    found = re.search(rf'<input type="hidden" name="{name}" value="([^"]*)"', response.content.decode())
    return unescape(found.group(1)) if found else ""
