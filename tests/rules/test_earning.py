"""Which of several rows a bottle earns, and that what a book remembers changes no judgement."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from intake.rules import earning
from intake.rules.book import Conditions, Limit, LimitUnit
from intake.rules.examples import example
from intake.rules.facts import AcidKind
from intake.rules.holding import clock_start
from intake.rules.judge import judge
from intake.rules.keeping import Broken
from tests.rules.cases import HOUSE

CHLORIDE = HOUSE.by_ion["chloride"][0]
ACIDIFIED = {"acidified": True, "acid_kind": AcidKind.NITRIC}


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


#: One ion, ways to keep it from the longest on, and the condition a bottle is told about.
NEAREST = [
    ("a step never taken counts twice: it is told to be warm, not to lack acid", [
        (Limit(28, LimitUnit.DAYS), Conditions(acid=(AcidKind.NITRIC,))),
        (Limit(48, LimitUnit.HOURS), Conditions(acid=(), max_c=6)),
    ], {"chilled": False}, Broken.COLD),
    ("an acid that is too much is one step, as cold is: the longer way is told", [
        (Limit(28, LimitUnit.DAYS), Conditions(max_c=6)),
        (Limit(48, LimitUnit.HOURS), Conditions(acid=())),
    ], {"chilled": False, **ACIDIFIED}, Broken.COLD),
    ("the same the other way round", [
        (Limit(28, LimitUnit.DAYS), Conditions(acid=())),
        (Limit(48, LimitUnit.HOURS), Conditions(max_c=6)),
    ], {"chilled": False, **ACIDIFIED}, Broken.ACID),
    ("never frozen", [
        (Limit(28, LimitUnit.DAYS), Conditions(frozen=True)),
        (Limit(48, LimitUnit.HOURS), Conditions(max_c=6)),
    ], {"chilled": False}, Broken.COLD),
    ("frozen where it must not be is one step", [
        (Limit(28, LimitUnit.DAYS), Conditions(frozen=False)),
        (Limit(48, LimitUnit.HOURS), Conditions(acid=())),
    ], {"frozen": True, **ACIDIFIED}, Broken.FROZEN),
    ("nothing added", [
        (Limit(28, LimitUnit.DAYS), Conditions(additive="ethylenediamine")),
        (Limit(48, LimitUnit.HOURS), Conditions(max_c=6)),
    ], {"chilled": False}, Broken.COLD),
    ("not chlorinated", [
        (Limit(28, LimitUnit.DAYS), Conditions(chlorinated=True)),
        (Limit(48, LimitUnit.HOURS), Conditions(max_c=6)),
    ], {"chilled": False}, Broken.COLD),
    ("as near to both: the longer way is told", [
        (Limit(28, LimitUnit.DAYS), Conditions(filter_pore_max_um=0.2)),
        (Limit(48, LimitUnit.HOURS), Conditions(max_c=6)),
    ], {"chilled": False}, Broken.FILTER),
]  # fmt: skip


@pytest.mark.parametrize("turned", [False, True], ids=["", "the other way round"])
@pytest.mark.parametrize(("words", "ways", "bottle", "broken"), NEAREST, ids=[case[0] for case in NEAREST])
def test_a_bottle_is_told_about_the_way_it_came_nearest_to(words, ways, bottle, broken, turned):
    rows = tuple(
        replace(CHLORIDE, number=place, limit=limit, conditions=conditions)
        for place, (limit, conditions) in enumerate(reversed(ways) if turned else ways, 1)
    )
    book = replace(HOUSE, rows=rows)
    facts = example(anion={"ions": frozenset({"chloride"}), **bottle})
    sample, anion = facts.sample, facts.bottles[0]
    start = clock_start(sample)
    case = earning.open_case(sample, anion, book, start, earning.Terms(start.at, sample.zone, book))
    assert list(case.costs) == [broken], words
    assert case.earned["chloride"].row.limit == Limit(48, LimitUnit.HOURS), "and waits the strictest time"


def test_two_ways_that_may_be_longer_or_shorter_are_compared_each_time():
    """Of three limits only two are unsure; the sure one must not make them sure."""
    book = book_of(Limit(48, LimitUnit.HOURS), Limit(30, LimitUnit.DAYS), Limit(1, LimitUnit.MONTHS))
    assert row_earned(book, datetime(2026, 1, 5, 12, tzinfo=UTC)) == 3
    assert row_earned(book, datetime(2026, 2, 5, 12, tzinfo=UTC)) == 2
    assert not book.standings


def test_one_unsure_ion_keeps_the_whole_bottle_from_being_remembered():
    unsure = book_of(Limit(30, LimitUnit.DAYS), Limit(1, LimitUnit.MONTHS)).rows
    sure = replace(HOUSE.by_ion["nitrate"][0], number=3, conditions=Conditions())
    book = replace(HOUSE, rows=(*unsure, sure))
    facts = example(anion={"ions": frozenset({"chloride", "nitrate"})})
    judge(facts.sample, facts.bottles[:1], book)
    assert not book.standings


@pytest.mark.parametrize(
    ("limit", "days"),
    [
        (Limit(2, LimitUnit.MONTHS), 56),
        (Limit(48, LimitUnit.HOURS), 2),
        (Limit(3, LimitUnit.DAYS), 3),
        (Limit(0, LimitUnit.IMMEDIATELY), 15 / 1440),
    ],
)
def test_without_a_start_a_month_is_28_days(limit: Limit, days: float):
    assert earning.Terms(None, "UTC", HOUSE).of(limit).length == timedelta(days=days)


def test_a_book_remembers_each_way_of_keeping():
    book = replace(HOUSE)
    for temperature in (3, 4, 5):
        facts = example(arrival={"temperature_c": temperature})
        judge(facts.sample, facts.bottles[:1], book)
    assert len(book.standings) == 3
