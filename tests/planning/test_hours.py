"""Opening hours on the local clock, exact across clock changes, holidays and far zones.

The clock changes are those of the IANA database: Europe/Berlin 2026-03-29 01:00 UTC and 2026-10-25
01:00 UTC; Australia/Lord_Howe shifts by half an hour (2026-04-04 15:00 UTC); Pacific/Apia skipped
the whole of 2011-12-30; Asia/Kathmandu is 5 h 45 min ahead, Pacific/Kiritimati 14 h.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labqueue.hours import (
    OpeningHours,
    StaffedTimes,
    minute_at_or_after,
    minute_at_or_before,
    moment_of,
)

ORIGIN = datetime(2026, 1, 5, tzinfo=UTC)  # a Monday
OFFICE = {weekday: ((time(8), time(17)),) for weekday in range(5)}
BERLIN = OpeningHours("Europe/Berlin", OFFICE)


def utc(year: int, month: int, day: int, hour: int = 0, minute: int = 0, second: int = 0) -> datetime:
    return datetime(year, month, day, hour, minute, second, tzinfo=UTC)


def test_minutes_are_rounded_to_the_safe_side() -> None:
    moment = ORIGIN + timedelta(minutes=5, seconds=1)
    assert minute_at_or_before(moment, ORIGIN) == 5
    assert minute_at_or_after(moment, ORIGIN) == 6
    assert minute_at_or_after(ORIGIN - timedelta(seconds=1), ORIGIN) == 0
    assert minute_at_or_before(ORIGIN - timedelta(seconds=1), ORIGIN) == -1
    assert minute_at_or_after(moment_of(7, ORIGIN), ORIGIN) == 7
    assert minute_at_or_before(moment_of(7, ORIGIN).astimezone(ZoneInfo("Asia/Tokyo")), ORIGIN) == 7


def test_a_naive_moment_is_a_fault() -> None:
    with pytest.raises(ValueError, match="no time zone"):
        minute_at_or_after(datetime(2026, 1, 5), ORIGIN)


def test_staffed_times_answer_at_and_around_their_ends() -> None:
    staffed = StaffedTimes(((10, 20), (30, 40)))
    nexts = {5: 10, 10: 10, 20: 20, 21: 30, 40: 40, 41: None}
    assert {minute: staffed.next_at_or_after(minute) for minute in nexts} == nexts
    lasts = {9: None, 10: 10, 25: 20, 30: 30, 99: 40}
    assert {minute: staffed.last_at_or_before(minute) for minute in lasts} == lasts
    assert [staffed.covers(minute) for minute in (9, 10, 20, 21)] == [False, True, True, False]
    assert StaffedTimes(()).next_at_or_after(0) is None


def test_staffed_times_out_of_order_are_refused_or_put_in_order() -> None:
    with pytest.raises(ValueError, match="before it begins"):
        StaffedTimes(((20, 10),))
    with pytest.raises(ValueError, match="overlap or are out of order"):
        StaffedTimes(((10, 20), (20, 30)))
    assert StaffedTimes.of([(30, 40), (10, 20), (20, 25), (12, 13)]).intervals == ((10, 25), (30, 40))


def test_the_working_day_moves_in_utc_when_the_clocks_change() -> None:
    assert BERLIN.of_day(date(2026, 3, 27)) == [(utc(2026, 3, 27, 7), utc(2026, 3, 27, 16))]
    assert BERLIN.of_day(date(2026, 3, 30)) == [(utc(2026, 3, 30, 6), utc(2026, 3, 30, 15))]
    assert BERLIN.of_day(date(2026, 10, 26)) == [(utc(2026, 10, 26, 7), utc(2026, 10, 26, 16))]


def test_a_night_shift_has_its_true_length_on_both_change_nights() -> None:
    nights = OpeningHours("Europe/Berlin", {weekday: ((time(22), time(6)),) for weekday in range(7)})

    def length(day: date) -> timedelta:
        [(begin, end)] = nights.of_day(day)
        return end - begin

    assert length(date(2026, 3, 27)) == timedelta(hours=8)
    assert length(date(2026, 3, 28)) == timedelta(hours=7)
    assert length(date(2026, 10, 24)) == timedelta(hours=9)


def test_a_skipped_opening_moment_becomes_the_moment_of_the_change() -> None:
    sunday = OpeningHours("Europe/Berlin", {6: ((time(2, 30), time(9)),)})
    assert sunday.of_day(date(2026, 3, 29)) == [(utc(2026, 3, 29, 1), utc(2026, 3, 29, 7))]
    inside = OpeningHours("Europe/Berlin", {6: ((time(2, 10), time(2, 50)),)})
    assert inside.of_day(date(2026, 3, 29)) == []


def test_a_moment_that_occurs_twice_is_its_first_occurrence() -> None:
    sunday = OpeningHours("Europe/Berlin", {6: ((time(2, 30), time(9)),)})
    assert sunday.of_day(date(2026, 10, 25)) == [(utc(2026, 10, 25, 0, 30), utc(2026, 10, 25, 8))]


def test_half_an_hour_of_clock_change() -> None:
    howe = OpeningHours("Australia/Lord_Howe", {6: ((time(0), time(8)),)})
    [(begin, end)] = howe.of_day(date(2026, 4, 5))
    assert end - begin == timedelta(hours=8, minutes=30)


def test_a_day_that_never_was_has_no_hours() -> None:
    apia = OpeningHours("Pacific/Apia", {weekday: ((time(8), time(17)),) for weekday in range(7)})
    assert apia.of_day(date(2011, 12, 30)) == []
    assert len(apia.of_day(date(2011, 12, 31))) == 1


@pytest.mark.parametrize(
    ("zone", "opens"),
    [
        ("Asia/Kathmandu", utc(2026, 1, 5, 2, 15)),
        ("Pacific/Kiritimati", utc(2026, 1, 4, 18)),
        ("Pacific/Pago_Pago", utc(2026, 1, 5, 19)),
    ],
)
def test_far_zones(zone: str, opens: datetime) -> None:
    hours = OpeningHours(zone, OFFICE)
    assert hours.of_day(date(2026, 1, 5))[0][0] == opens
    assert hours.next_open(opens - timedelta(hours=3)) == opens
    assert hours.staffed(opens, 0, 60).intervals == ((0, 60),)


def test_until_one_minute_before_midnight_and_until_midnight() -> None:
    late = OpeningHours("UTC", {0: ((time(8), time(23, 59)),), 1: ((time(0), time(5)),)})
    assert late.staffed(ORIGIN, 0, 2880).intervals == ((480, 1439), (1440, 1740))
    whole = OpeningHours("UTC", {0: ((time(8), time(0)),), 1: ((time(0), time(5)),)})
    assert whole.staffed(ORIGIN, 0, 2880).intervals == ((480, 1740),)
    always = OpeningHours("UTC", {weekday: ((time(0), time(0)),) for weekday in range(7)})
    assert always.staffed(ORIGIN, -100, 9999).intervals == ((-100, 9999),)


def test_holidays_close_and_special_days_win() -> None:
    hours = OpeningHours(
        "UTC",
        OFFICE,
        closed_on=frozenset({date(2026, 1, 5), date(2026, 1, 6)}),
        special={date(2026, 1, 6): ((time(10), time(11)),), date(2026, 1, 10): ((time(9), time(10)),)},
    )
    assert hours.staffed(ORIGIN, 0, 3 * 1440).intervals == ((2040, 2100), (3360, 3900))
    assert hours.next_open(ORIGIN) == utc(2026, 1, 6, 10)
    assert hours.next_open(utc(2026, 1, 9, 17, 1)) == utc(2026, 1, 10, 9)


def test_the_night_before_a_holiday_is_worked_to_its_end() -> None:
    hours = OpeningHours("UTC", {0: ((time(22), time(6)),)}, closed_on=frozenset({date(2026, 1, 6)}))
    assert hours.staffed(ORIGIN, 0, 2880).intervals == ((1320, 1800),)
    assert hours.next_open(utc(2026, 1, 6, 3)) == utc(2026, 1, 6, 3)


def test_a_laboratory_that_never_opens() -> None:
    assert OpeningHours("UTC", {}).next_open(ORIGIN) is None
    assert OpeningHours("UTC", {}).staffed(ORIGIN, 0, 9999).intervals == ()


def test_the_moment_of_closing_still_counts() -> None:
    assert BERLIN.next_open(utc(2026, 1, 5, 16)) == utc(2026, 1, 5, 16)
    assert BERLIN.next_open(utc(2026, 1, 5, 16, 0, 1)) == utc(2026, 1, 6, 7)


def test_impossible_hours_are_refused() -> None:
    with pytest.raises(ValueError, match="Weekday 7"):
        OpeningHours("UTC", {7: ()})
    with pytest.raises(ValueError, match="local whole minutes"):
        OpeningHours("UTC", {0: ((time(8, 0, 30), time(9)),)})
    with pytest.raises(ValueError, match="local whole minutes"):
        OpeningHours("UTC", {}, special={date(2026, 1, 5): ((time(8, tzinfo=UTC), time(9)),)})


ZONES = ["Europe/Berlin", "Australia/Lord_Howe", "America/St_Johns", "Pacific/Apia", "UTC"]


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(ZONES),
    st.datetimes(datetime(2010, 1, 1), datetime(2030, 1, 1)),
    st.integers(0, 20_000),
)
def test_intervals_agree_with_the_local_clock(zone: str, naive: datetime, offset: int) -> None:
    """A minute is staffed exactly when the clock on the wall says so."""
    origin = naive.replace(second=0, microsecond=0, tzinfo=UTC)
    staffed = OpeningHours(zone, OFFICE).staffed(origin, 0, 20_000)
    local = moment_of(offset, origin).astimezone(ZoneInfo(zone))
    open_now = local.weekday() < 5 and time(8) <= local.time() <= time(17)
    assert staffed.covers(offset) == open_now
