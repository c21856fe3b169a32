"""Words and shares of a closed clock, one line a case."""

from datetime import UTC, datetime, timedelta

import pytest

from intake.rules.book import Limit, LimitUnit
from intake.rules.closing import NOT_MEASURED, closing_word, share_used_percent, tally
from intake.rules.judgement import Clock

START = datetime(2026, 3, 3, 8, 0, tzinfo=UTC)
DUE = START + timedelta(hours=48)
GROSS = START + timedelta(hours=96)
CLOCK = Clock("B", "nitrate", START, Limit(48, LimitUnit.HOURS), DUE, GROSS, 6, "48 h")
INSTANT = timedelta(microseconds=1)


@pytest.mark.parametrize(
    ("injected_at", "word"),
    [
        (None, NOT_MEASURED),
        (START, "kept"),
        (DUE, "kept"),
        (DUE + INSTANT, "late"),
        (GROSS, "late"),
        (GROSS + INSTANT, "grossly late"),
    ],
)
def test_each_injection_is_judged_by_itself(injected_at, word):
    assert closing_word(CLOCK, injected_at) == word


@pytest.mark.parametrize(
    ("injected_at", "percent"),
    [
        (START, 0.0),
        (START + timedelta(hours=12), 25.0),
        (DUE - timedelta(minutes=1), 99.9),
        (DUE, 100.0),
        (DUE + INSTANT, 100.1),
        (DUE + timedelta(minutes=5), 100.2),
        (GROSS, 200.0),
        (None, None),
    ],
)
def test_the_share_never_contradicts_the_outcome(injected_at, percent):
    assert share_used_percent(START, DUE, injected_at) == percent


@pytest.mark.parametrize(("starts_at", "due_at"), [(None, DUE), (START, None), (START, START)])
def test_without_a_length_there_is_no_share(starts_at, due_at):
    assert share_used_percent(starts_at, due_at, DUE) is None


def test_a_tally_keeps_the_order_and_leaves_out_what_nobody_came_to():
    assert list(tally(["late", "kept", "late"]).items()) == [("kept", 1), ("late", 2)]
