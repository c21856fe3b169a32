"""The clock bar and the words beside it: exact at the edges, ordered in between."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.pictures.clockbar import DUE_X, END_X, START_X, clock_bar, place
from intake.pictures.timeleft import LAST_HOURS, SOON, Urgency, say_left, say_length, say_relative, urgency_of

DUE = datetime(2026, 3, 20, 9, 0, tzinfo=UTC)
START = DUE - timedelta(hours=48)
INSTANT = timedelta(microseconds=1)


@pytest.mark.parametrize(
    ("now", "expected"),
    [
        (DUE - SOON - INSTANT, Urgency.ENOUGH),
        (DUE - SOON, Urgency.SOON),
        (DUE - LAST_HOURS - INSTANT, Urgency.SOON),
        (DUE - LAST_HOURS, Urgency.LAST_HOURS),
        (DUE - INSTANT, Urgency.LAST_HOURS),
        (DUE, Urgency.LAST_HOURS),
        (DUE + INSTANT, Urgency.RUN_OUT),
    ],
)
def test_urgency_turns_exactly_at_its_thresholds(now, expected):
    assert urgency_of(DUE, now) == expected


@pytest.mark.parametrize(
    ("stopped", "expected"), [(DUE, Urgency.KEPT), (DUE + INSTANT, Urgency.LATE), (START, Urgency.KEPT)]
)
def test_a_stopped_clock_is_judged_by_its_stop(stopped, expected):
    for now in (START, DUE, DUE + timedelta(days=400)):
        assert urgency_of(DUE, now, stopped) == expected


def test_no_due_moment_and_void_have_their_own_words():
    assert urgency_of(None, DUE) == Urgency.NONE
    assert urgency_of(DUE, DUE, void=True) == Urgency.VOID


@pytest.mark.parametrize(
    ("length", "words"),
    [
        (timedelta(0), "0 min"),
        (timedelta(seconds=59), "0 min"),
        (timedelta(minutes=59, seconds=59), "59 min"),
        (timedelta(hours=1), "1 h 0 min"),
        (timedelta(hours=23, minutes=59), "23 h 59 min"),
        (timedelta(days=1), "1 d 0 h"),
        (timedelta(days=59, hours=23), "59 d 23 h"),
        (timedelta(days=60), "60 days"),
        (timedelta(hours=-3, minutes=-12), "3 h 12 min"),
    ],
)
def test_lengths_are_cut_never_rounded_up(length, words):
    assert say_length(length) == words


def test_what_is_left_what_is_over_and_what_is_now():
    assert say_left(DUE, DUE - timedelta(hours=3, minutes=12)) == "3 h 12 min left"
    assert say_left(DUE, DUE) == "0 min left"
    assert say_left(DUE, DUE + timedelta(hours=2)) == "over by 2 h 0 min"
    assert say_relative(DUE, DUE + timedelta(seconds=30)) == "just now"
    assert say_relative(DUE, DUE - timedelta(days=2, hours=3)) == "in 2 d 3 h"
    assert say_relative(DUE, DUE + timedelta(hours=5)) == "5 h 0 min ago"


def bar(now, **more):
    return clock_bar(starts_at=START, due_at=DUE, now=now, **more)


@pytest.mark.parametrize(
    ("now", "share", "x"),
    [
        (START, 0, START_X),
        (START + timedelta(hours=24), 50, (START_X + DUE_X) / 2),
        (DUE, 100, DUE_X),
        (START - timedelta(hours=1), 0, START_X),
        (DUE + timedelta(days=400), None, END_X),
    ],
)
def test_now_stands_where_it_should(now, share, x):
    drawn = bar(now)
    assert drawn.now_x == pytest.approx(x, abs=0.05)
    if share is not None:
        assert drawn.share == share


def test_before_due_nothing_is_over_and_after_it_all_is_used():
    assert bar(DUE).over_width == 0
    late = bar(DUE + timedelta(hours=6))
    assert late.over_width > 0
    assert late.used_width == DUE_X - START_X


def test_a_stopped_clock_no_longer_moves():
    stopped = START + timedelta(hours=12)
    assert bar(START + timedelta(hours=13), stopped_at=stopped) == bar(
        DUE + timedelta(days=9), stopped_at=stopped
    )


def test_the_text_alternative_says_what_the_picture_shows():
    drawn = bar(
        START + timedelta(hours=36),
        received_at=START + timedelta(hours=5),
        planned_at=DUE + timedelta(hours=1),
    )
    assert "75 %" in drawn.label
    assert "12 h 0 min left" in drawn.label
    assert "planned too late" in drawn.label
    assert "planned in time" in bar(START, planned_at=DUE).label


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"starts_at": None, "due_at": None}, "start not known"),
        ({"starts_at": START, "due_at": None}, "no limit"),
        ({"starts_at": START, "due_at": DUE, "void": True}, "not to be measured"),
    ],
)
def test_an_empty_bar_says_why(given, words):
    drawn = clock_bar(now=DUE, **given)
    assert drawn.label == words
    assert not drawn.known
    assert drawn.now_x is None


moments = st.datetimes(datetime(1990, 1, 1), datetime(2100, 1, 1), timezones=st.just(UTC))


@given(start=moments, due=moments, first=moments, second=moments)
def test_later_never_stands_further_left_and_nothing_leaves_the_picture(start, due, first, second):
    earlier, later = sorted((first, second))
    places = place(earlier, start, due), place(later, start, due)
    assert START_X <= places[0] <= places[1] <= END_X
    drawn = clock_bar(starts_at=start, due_at=due, now=later, received_at=earlier)
    assert 0 <= drawn.used_width <= DUE_X - START_X
    assert 0 <= drawn.over_width <= END_X - DUE_X
    assert drawn.share >= 0
