"""Every row of every shipped rulebook against a table typed by hand from the documents.

``data/rulebooks.json`` names the source beside each row. Rows marked from memory could not be
read here and have to be checked before use; the app shows that mark.
"""

import json
from collections import Counter
from pathlib import Path

import pytest

from intake.rules.book import Conditions, Confidence, Counting, KeepingRow, Outcome, Rulebook
from intake.rules.book_data import book_from_data, book_to_data
from intake.rules.facts import Container
from intake.shipped import shipped_book, shipped_codes, shipped_data

REFERENCE = json.loads((Path(__file__).parent / "data" / "rulebooks.json").read_text(encoding="utf-8"))
PLASTIC = {Container.POLYETHYLENE, Container.POLYPROPYLENE, Container.OTHER_PLASTIC}


def said(number: float) -> str:
    return f"{number:g}"


def _filter(conditions: Conditions) -> str:
    pore, within = conditions.filter_pore_max_um, conditions.filtered_within_min
    if pore is None and within is None:
        return ""
    return f"filter {'any' if pore is None else said(pore)}" + (
        f" within {said(within)} min" if within else ""
    )


def _cool(conditions: Conditions) -> str:
    if conditions.max_c is None:
        return ""
    lowest = "" if conditions.min_c is None else f"{said(conditions.min_c)}-"
    return f"cool {lowest}{said(conditions.max_c)}"


def _acid(conditions: Conditions) -> str:
    if conditions.acid is None:
        return ""
    if not conditions.acid:
        return "no acid"
    text = " or ".join(kind.value for kind in conditions.acid)
    text += f" below pH {said(conditions.acid_ph_max)}" if conditions.acid_ph_max is not None else ""
    return text + (f" within {said(conditions.acid_within_min)} min" if conditions.acid_within_min else "")


def kept(row: KeepingRow) -> str:
    """The conditions of a row in the words of the reference table."""
    conditions = row.conditions
    assert conditions.frozen_within_min is None
    assert conditions.to_brim is None
    parts = [
        _filter(conditions),
        _cool(conditions),
        {None: "", True: "frozen", False: "not frozen"}[conditions.frozen],
        _acid(conditions),
        {None: "", True: "chlorinated", False: "not chlorinated"}[conditions.chlorinated],
        conditions.additive or "",
    ]
    if conditions.containers is not None:
        assert set(conditions.containers) == PLASTIC
        parts.append("plastic")
    return "; ".join(part for part in parts if part)


def limit(row: KeepingRow) -> str | None:
    if row.limit is None:
        return None
    if row.limit.unit.value == "immediately":
        return "immediately"
    return f"{said(row.limit.value)} {row.limit.unit.value}"


@pytest.mark.parametrize("code", shipped_codes())
def test_every_row_stands_in_the_documents_and_every_row_of_theirs_is_shipped(code: str):
    shipped = Counter((row.ion, limit(row), kept(row)) for row in shipped_book(code).rows)
    typed = Counter((row["ion"], row["limit"], row["kept"]) for row in REFERENCE if row["book"] == code)
    assert shipped == typed


@pytest.mark.parametrize("code", shipped_codes())
def test_what_was_only_remembered_is_marked(code: str):
    for row in shipped_book(code).rows:
        [typed] = [
            typed
            for typed in REFERENCE
            if (typed["book"], typed["ion"], typed["limit"], typed["kept"])
            == (code, row.ion, limit(row), kept(row))
        ]
        assert (row.confidence is Confidence.MEMORY) is typed["from_memory"]


@pytest.mark.parametrize("code", shipped_codes())
def test_every_row_says_where_it_comes_from_and_has_its_own_number(code: str):
    book = shipped_book(code)
    assert [row.number for row in book.rows] == list(range(1, len(book.rows) + 1))
    assert all(row.source.document for row in book.rows)
    assert len(book.about) > 60
    assert book.dated


@pytest.mark.parametrize("code", shipped_codes())
def test_a_shipped_file_reads_and_writes_without_loss(code: str):
    book = shipped_book(code)
    assert book.code == code
    assert book_from_data(book_to_data(book)) == book


def test_nothing_of_the_standards_nobody_could_read_is_shipped():
    for code in shipped_codes():
        for row in shipped_data(code)["rows"]:
            assert "ISO 5667" not in json.dumps(row)
            assert "AS/NZS" not in json.dumps(row)
    assert shipped_book("own-copy").rows == ()


def _setting(code: str) -> tuple[Counting, Outcome, float]:
    book: Rulebook = shipped_book(code)
    return book.counting, book.departure, book.immediately_min


@pytest.mark.parametrize(
    ("code", "counting", "departure", "source"),
    [
        ("house", "elapsed", Outcome.ACCEPT_WITH_WORD, "house choice; ISO/IEC 17025 7.4.3 asks the customer"),
        ("us-drinking-water", "elapsed", Outcome.REFUSE, "Wisconsin NR 149.46(2)(a)1: reject by default"),
        ("us-wastewater", "elapsed", Outcome.ACCEPT_WITH_WORD, "Wisconsin NR 149.46(2)(a)2: qualify"),
        ("sw846-9056a", "end of period", Outcome.ACCEPT_WITH_WORD, "EPA SW-846 answer page, question 9"),
        ("sw846-table-2-40b", "end of period", Outcome.ACCEPT_WITH_WORD, "the same question 9"),
    ],
)
def test_each_book_has_its_own_counting_and_choice(code: str, counting: str, departure: Outcome, source: str):
    assert _setting(code)[:2] == (Counting(counting), departure), source


@pytest.mark.parametrize(
    ("code", "minutes", "source"),
    [
        ("us-wastewater", 15, "EPA SW-846 answer page, question 13: 15 minutes since 2007"),
        ("epa-300-0", 10, "EPA Method 300.0 8.3, note: more than 10 minutes needs ethylenediamine"),
    ],
)
def test_what_at_once_means(code: str, minutes: float, source: str):
    assert _setting(code)[2] == minutes, source
