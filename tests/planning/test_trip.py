"""The check of a trip that has not happened yet."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from labqueue.planning.trip import Laboratory, Obstacle, UnitTimes, check_trip, failing_days
from tests.planning.cases import DAY, OFFICE

OPEN = Laboratory.empty(OFFICE, preparation_min=60, lead_min=200)
FRIDAY = 4 * DAY
TWO_DAYS = 2 * DAY


def clock(minute: int) -> str:
    return f"day {minute // DAY} {minute % DAY // 60:02}:{minute % 60:02}"


def test_in_time_with_the_latest_arrival() -> None:
    answer = check_trip(600, 120, TWO_DAYS, OPEN)
    assert answer.in_time
    assert (answer.received, answer.injection, answer.due) == (720, 980, 3480)
    assert answer.spare_min == 2500
    # Injected by 3480 means started by 3280, so in the evening of the day before: closing at 2460.
    assert answer.latest_arrival == 2400
    assert answer.sentence(clock) == (
        "Injection can start at day 0 16:20, due day 2 10:00. "
        "Hand the bottles over by day 1 16:00 at the latest."
    )


def test_exactly_at_the_limit_is_in_time() -> None:
    answer = check_trip(600, 120, 380, OPEN)
    assert answer.in_time
    assert answer.spare_min == 0
    assert answer.latest_arrival == 720
    late = check_trip(600, 120, 379, OPEN)
    assert late.obstacle is Obstacle.ARRIVES_TOO_LATE
    assert late.spare_min == -1
    assert late.sentence(clock) == (
        "Due day 0 16:19: the bottles arrive too late. The first injection would be day 0 16:20. "
        "Hand them over by day 0 11:59, or collect on another day."
    )


def test_friday_afternoon_and_nobody_there_until_monday() -> None:
    """48 h from Friday 18:00 end on Sunday."""
    answer = check_trip(FRIDAY + 1080, 60, TWO_DAYS, OPEN)
    assert answer.obstacle is Obstacle.NOBODY_THERE
    assert answer.injection is None  # the hours given end on Friday
    assert answer.spare_min is None
    assert answer.latest_arrival is None
    assert answer.sentence(clock) == (
        "Nobody is at the laboratory early enough before day 6 18:00 to take the bottles in "
        "and start a run. Collect on another day."
    )


def test_a_limit_shorter_than_the_way_to_the_first_sample() -> None:
    answer = check_trip(600, 0, 259, OPEN)
    assert answer.obstacle is Obstacle.LIMIT_TOO_SHORT
    assert "even without any transport" in answer.sentence(clock)


def test_units_in_use_can_be_started_when_they_are_free() -> None:
    """Handed over at 720, ready 780. The unit is free from 900 to 960 only: injected 1100.

    Due 600 + 2880 = 3480, so started by 3280: by 960, handed over by 900.
    """
    taken = UnitTimes(OFFICE.without([(0, 899), (961, 10 * DAY)]), 200)
    laboratory = Laboratory(OFFICE, 60, (taken,), (UnitTimes(OFFICE, 200),))
    answer = check_trip(600, 120, TWO_DAYS, laboratory)
    assert (answer.injection, answer.latest_arrival) == (1100, 900)
    none = check_trip(600, 120, 400, replace(laboratory, taken=()))
    assert none.obstacle is Obstacle.UNITS_TAKEN
    assert none.sentence(clock) == (
        "Other runs or repairs take the units until no injection can start by day 0 16:40. "
        "Ask the laboratory, or collect on another day."
    )
    after = check_trip(600, 2000, TWO_DAYS, laboratory)
    assert (after.received, after.injection, after.obstacle) == (3360, None, Obstacle.ARRIVES_TOO_LATE)
    assert "The first injection" not in after.sentence(clock)


def test_a_free_place_is_better_than_a_later_start() -> None:
    """Ready at 780: the place loaded by 800 is injected at 1000, a start at 1500 would come later."""
    unit = UnitTimes(OFFICE.without([(0, 1499)]), 200, places=((800, 1000), (700, 820)))
    laboratory = Laboratory(OFFICE, 60, (unit,), (unit,))
    assert check_trip(600, 120, TWO_DAYS, laboratory).injection == 1000


def test_nobody_ever_comes() -> None:
    answer = check_trip(99 * DAY, 0, TWO_DAYS, OPEN)
    assert (answer.received, answer.injection) == (None, None)
    assert answer.obstacle is Obstacle.NOBODY_THERE


def test_the_days_that_fail() -> None:
    noon = [day * DAY + 720 for day in range(5)]
    assert failing_days(noon, 360, TWO_DAYS, OPEN) == [noon[4]]


@settings(max_examples=100, deadline=None)
@given(
    st.integers(0, 5 * DAY), st.integers(0, 2000), st.integers(1, 4000),
    st.integers(0, 200), st.integers(0, 400),
)  # fmt: skip
def test_the_latest_arrival_is_the_latest(
    collected: int, transport: int, limit: int, preparation: int, lead: int
) -> None:
    laboratory = Laboratory.empty(OFFICE, preparation, lead)
    answer = check_trip(collected, transport, limit, laboratory)
    latest = answer.latest_arrival
    if latest is None:
        assert not answer.in_time
        return
    assert check_trip(collected, latest - collected, limit, laboratory).in_time
    later = check_trip(collected, latest - collected + 1, limit, laboratory)
    assert not later.in_time
    assert answer.in_time == (answer.received is not None and answer.received <= latest)
