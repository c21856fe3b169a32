"""Which of several rows a bottle earns, and that what a book remembers changes no judgement."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from intake.rules import earning
from intake.rules.book import Limit, LimitUnit
from intake.rules.examples import example
from intake.rules.judge import judge
from tests.rules.cases import HOUSE

CHLORIDE = HOUSE.by_ion["chloride"][0]


def book_of(*limits: Limit):
    """The house rulebook with one row for chloride for each of ``limits``, numbered from 1."""
    rows = [replace(CHLORIDE, number=place, limit=limit) for place, limit in enumerate(limits, 1)]
    return replace(HOUSE, rows=tuple(rows))


def row_earned(book, collected: datetime) -> int | None:
    facts = example(
        sample={"collected_at": collected, "declared_at": collected},
        anion={"ions": frozenset({"chloride"}), "filtered_at": None, "chilled_at": None},
    )
    bottles = [bottle for bottle in facts.bottles if bottle.line == "anion"]
    return judge(facts.sample, bottles, book).clocks[0].row


@pytest.mark.parametrize("order", [(1, 2, 3), (3, 1, 2), (2, 3, 1)])
def test_whether_30_days_or_a_month_is_longer_depends_on_the_month_of_collection(order):
    """One book judges all, in any order: what it found for one bottle does not bind the next."""
    book = book_of(Limit(30, LimitUnit.DAYS), Limit(1, LimitUnit.MONTHS))
    wanted = {1: 2, 2: 1, 3: 2}  # January has 31 days, February 2026 has 28
    for month in order:
        assert row_earned(book, datetime(2026, month, 5, 12, tzinfo=UTC)) == wanted[month]
    assert not book.standings


def test_the_longest_of_clearly_different_limits_is_remembered():
    book = book_of(Limit(48, LimitUnit.HOURS), Limit(6, LimitUnit.MONTHS), Limit(28, LimitUnit.DAYS))
    assert [row_earned(book, datetime(2026, month, 5, 12, tzinfo=UTC)) for month in (1, 2, 3)] == [2, 2, 2]
    assert len(book.standings) == 1


def test_what_a_book_remembers_is_bounded_and_changes_no_judgement(monkeypatch):
    monkeypatch.setattr(earning, "MOST_STANDINGS", 3)
    remembering = replace(HOUSE)
    for tenths in (30, 40, 50, 60, 70, 80, 30, 70):
        facts = example(arrival={"temperature_c": tenths / 10})
        fresh = judge(facts.sample, facts.bottles, replace(HOUSE))
        assert judge(facts.sample, facts.bottles, remembering) == fresh
        assert 0 < len(remembering.standings) <= 3
