"""Numbers, moments, lists and spans in words; zones and the starts of local days."""

from datetime import UTC, date, datetime, timedelta

import pytest

from intake.rules.facts import Line, SampleFacts
from intake.rules.ions import of_line
from intake.rules.moments import LATEST, end_of_month, later, start_of_day, zone_named
from intake.rules.words import say_date, say_list, say_moment, say_number, say_span

NUMBERS = [
    (4.0, "4"), (0.45, "0.45"), (6.05, "6.05"), (2.04321, "2.043"), (0.00001, "0.00001"),
    (123456.789, "123500"), (1e20, "100000000000000000000"), (-0.5, "-0.5"), (0, "0"),
    (float("inf"), "inf"), (float("nan"), "nan"),
]  # fmt: skip


@pytest.mark.parametrize(("number", "words"), NUMBERS)
def test_numbers(number: float, words: str):
    assert say_number(number) == words


@pytest.mark.parametrize(
    ("items", "words"),
    [([], ""), (["a"], "a"), (["a", "b"], "a and b"), (["a", "b", "c"], "a, b and c")],
)
def test_lists(items: list, words: str):
    assert say_list(items) == words


def test_lists_with_another_joint():
    assert say_list(["a", "b"], "or") == "a or b"


@pytest.mark.parametrize(
    ("minutes", "words"), [(15, "15 minutes"), (119, "119 minutes"), (150, "2.5 hours"), (5760, "4 days")]
)
def test_spans(minutes: float, words: str):
    assert say_span(minutes) == words


def test_moments_are_said_on_their_own_clock():
    moment = datetime(2026, 11, 24, 23, 5, tzinfo=UTC)
    assert say_moment(moment, "Asia/Kathmandu") == "25 Nov 2026 04:50 Asia/Kathmandu"
    assert say_date(moment, "Asia/Kathmandu") == "25 Nov 2026"


def test_a_zone_has_to_exist():
    for name in ("Mars/Base", "", "../etc/passwd", "Europe"):
        with pytest.raises(ValueError, match="no time zone called"):
            zone_named(name)


def test_a_day_may_begin_at_one_in_the_morning():
    assert start_of_day(date(2018, 11, 4), "America/Sao_Paulo") == datetime(2018, 11, 4, 3, tzinfo=UTC)


def test_later_is_held_at_the_edge_of_time():
    assert later(LATEST, 1) == LATEST
    assert later(datetime(2026, 1, 1, tzinfo=UTC), 1e30) == LATEST
    assert end_of_month(date(9999, 12, 1), "UTC") == LATEST
    assert later(datetime(2026, 1, 1, tzinfo=UTC), 1) == datetime(2026, 1, 1, tzinfo=UTC) + timedelta(
        minutes=1
    )


def test_a_naive_moment_is_a_fault_of_the_program():
    with pytest.raises(ValueError, match="declared_at must be an aware datetime"):
        SampleFacts("S", "UTC", datetime(2026, 1, 1))


def test_every_line_has_its_ions():
    assert "nitrate" in of_line(Line.ANION)
    assert of_line(Line.CATION)[0] == "lithium"
