"""Laws that hold for every fact anybody could state."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from intake.rules.book import Counting, Limit, LimitUnit
from intake.rules.catalogue import BY_CODE
from intake.rules.facts import BottleFacts, Precision, SampleFacts
from intake.rules.facts_data import facts_digest
from intake.rules.holding import clock_start, due_moment, outcome
from intake.rules.judge import judge
from intake.rules.judgement import ClockOutcome
from intake.rules.outcomes import outcomes
from intake.shipped import shipped_book, shipped_codes
from tests.rules.cases import HOUSE
from tests.rules.strategies import (
    ZONES,
    arrivals,
    bottles,
    clock_changes,
    consigned,
    moments,
    near,
    samples,
    sights,
    zones,
)

BOOKS = st.sampled_from([shipped_book(code) for code in shipped_codes()])
LIMITS = st.builds(
    Limit,
    st.integers(1, 200),
    st.sampled_from([LimitUnit.MINUTES, LimitUnit.HOURS, LimitUnit.DAYS, LimitUnit.MONTHS]),
)
SLOW = settings(max_examples=60, deadline=None)


@SLOW
@given(consigned(), BOOKS)
def test_every_fact_can_be_judged_and_no_clock_is_due_before_it_starts(facts: tuple, book: object):
    sample, bottles = facts
    judgement = judge(sample, bottles, book)
    assert all(finding.code in BY_CODE for finding in judgement.findings)
    assert all(finding.weight in BY_CODE[finding.code].weights for finding in judgement.findings)
    for clock in judgement.clocks:
        if clock.due_at is not None:
            assert clock.starts_at <= clock.due_at <= clock.grossly_late_at
    assert len(judgement.clocks) == sum(len(bottle.ions - bottle.dropped) for bottle in bottles)


@SLOW
@given(consigned(), BOOKS, st.randoms())
def test_judging_is_deterministic_and_free_of_order(facts: tuple, book: object, random: object):
    sample, bottles = facts
    shuffled = list(bottles)
    random.shuffle(shuffled)
    assert judge(sample, shuffled, book) == judge(sample, bottles, book)
    assert facts_digest(sample, shuffled) == facts_digest(sample, bottles)


@SLOW
@given(consigned(), BOOKS, samples)
def test_amending_a_fact_and_amending_it_back_gives_the_same_judgement(
    facts: tuple, book: object, other: object
):
    sample, bottles = facts
    first = judge(sample, bottles, book)
    amended = replace(sample, ph=other.ph, collected_at=other.collected_at, precision=other.precision)
    judge(amended, bottles, book)
    back = replace(amended, ph=sample.ph, collected_at=sample.collected_at, precision=sample.precision)
    assert judge(back, bottles, book) == first


@SLOW
@given(consigned(), BOOKS, moments)
def test_every_clock_has_an_outcome_and_it_never_gets_better(facts: tuple, book: object, now: datetime):
    order = [ClockOutcome.RUNNING, ClockOutcome.LATE, ClockOutcome.GROSSLY_LATE]
    for clock in judge(*facts, book).clocks:
        first, then = outcome(clock, now), outcome(clock, now + timedelta(hours=1))
        if clock.stopped_at is not None or clock.void:
            assert first is then
        else:
            assert order.index(first) <= order.index(then)


@SLOW
@given(consigned(), BOOKS)
def test_every_ion_asked_has_an_outcome_at_reception(facts: tuple, book: object):
    sample, bottles = facts
    judgement = judge(sample, bottles, book)
    suggested = outcomes(bottles, judgement.findings, book)
    assert len(suggested) == sum(len(bottle.ions - bottle.dropped) for bottle in bottles)
    void = {(clock.bottle, clock.ion) for clock in judgement.clocks if clock.void}
    assert void <= {(item.bottle, item.ion) for item in suggested if item.reception.rank == 3}


#: Each makes one thing about a bottle worse and nothing better.
WORSE = {
    "not filtered": {"filter_pore_um": 0.0},
    "filtered coarsely": {"filter_pore_um": 50.0},
    "warm": {"chilled": False},
    "filtered a year later": {"filtered_at": datetime(2029, 1, 1, tzinfo=UTC)},
    "without acid": {"acidified": False, "acid_kind": None, "acid_ml": None},
    "without additive": {"additive": ""},
}


@SLOW
@given(samples, bottles("A"), BOOKS, st.sampled_from(sorted(WORSE)))
def test_more_broken_conditions_never_give_a_later_due_moment(
    sample: SampleFacts, bottle: BottleFacts, book: object, worse: str
):
    # What was seen outweighs what was declared, so that it would hide the difference.
    bottle = replace(bottle, arrival=None, seen=None, frozen=None)
    if worse == "without acid":
        # Taking acid out mends a row that forbids it; only rows that want it are looked at.
        rows = tuple(row for row in book.rows if row.conditions.acid != ())
        book = replace(book, rows=rows)
    if worse.startswith("filtered") and not bottle.filter_pore_um:
        return
    before = judge(sample, (bottle,), book).clocks
    after = judge(sample, (replace(bottle, **WORSE[worse]),), book).clocks
    for good, bad in zip(before, after, strict=True):
        if good.due_at is not None:
            assert bad.due_at <= good.due_at


@SLOW
@given(samples, bottles("A"), arrivals, sights, BOOKS)
def test_what_reception_saw_as_declared_changes_no_clock(
    sample: SampleFacts, bottle: BottleFacts, arrival: object, seen: object, book: object
):
    arrival = replace(arrival, temperature_c=None)
    silent = replace(
        seen, cold=None, temperature_c=None, frozen=None, headspace=None, ph_low=None, ph_high=None,
        acid_added_ml=None,
    )  # fmt: skip
    declared = replace(bottle, arrival=None, seen=None)
    arrived = replace(bottle, arrival=arrival, seen=silent)
    dues = [clock.due_at for clock in judge(sample, (declared,), book).clocks]
    book = replace(book, same_day_allowance=False)
    assert [clock.due_at for clock in judge(sample, (arrived,), book).clocks] == dues


@SLOW
@given(near, LIMITS, zones, st.sampled_from(list(Counting)))
def test_a_due_moment_is_never_before_the_start_and_grows_with_the_limit(
    start: datetime, limit: Limit, zone: str, counting: Counting
):
    book = replace(HOUSE, counting=counting)
    due = due_moment(start, limit, zone, book)
    assert due > start
    assert due_moment(start, replace(limit, value=limit.value + 1), zone, book) >= due
    # Elapsed is never later, but for the hour a clock change may push it over the last midnight.
    elapsed = due_moment(start, limit, zone, replace(book, counting=Counting.ELAPSED))
    assert elapsed <= due + timedelta(hours=1)


@SLOW
@given(near, st.floats(0, 30 * 24), LIMITS, zones)
def test_water_collected_later_is_never_due_earlier(start: datetime, hours: float, limit: Limit, zone: str):
    # Months that end on a shorter one's last day are clamped, so they may only lose the rest of a day.
    slack = timedelta(days=1) if limit.unit is LimitUnit.MONTHS else timedelta()
    later = start + timedelta(hours=hours)
    assert due_moment(later, limit, zone, HOUSE) >= due_moment(start, limit, zone, HOUSE) - slack


@SLOW
@given(near, LIMITS, zones, zones)
def test_hours_do_not_care_how_the_zone_is_spelt(start: datetime, limit: Limit, zone: str, spelling: str):
    spelt = start.astimezone(ZoneInfo(spelling))
    assert due_moment(spelt, limit, zone, HOUSE) == due_moment(start, limit, zone, HOUSE)


@SLOW
@given(near, zones)
def test_an_assumed_start_is_never_later_than_the_truth(moment: datetime, zone: str):
    exact = SampleFacts("S", zone, moment, collected_at=moment)
    for precision, reach in ((Precision.HOUR, timedelta(hours=1)), (Precision.DATE, timedelta(hours=26))):
        start = clock_start(replace(exact, precision=precision)).at
        assert moment - reach < start <= moment


@pytest.mark.parametrize("zone", ZONES)
def test_hour_limits_are_exact_across_every_clock_change_of_ten_years(zone: str):
    """Reckoned another way: counting hours on the UTC time line, one change after the other."""
    for change in clock_changes(zone, 2020, 10):
        for hours in (1, 24, 36, 48):
            for before in (timedelta(minutes=1), timedelta(minutes=30), timedelta(hours=hours / 2)):
                start = change - before
                due = due_moment(start.astimezone(ZoneInfo(zone)), Limit(hours, LimitUnit.HOURS), zone, HOUSE)
                assert due.timestamp() - start.timestamp() == hours * 3600


@pytest.mark.parametrize("zone", ZONES)
def test_a_last_day_ends_with_the_last_instant_of_its_local_date(zone: str):
    """Reckoned another way: the instant itself still shows the date, the next no longer does."""
    book = replace(HOUSE, counting=Counting.END_OF_PERIOD)
    there = ZoneInfo(zone)
    for change in clock_changes(zone, 2020, 10):
        for days in (7, 8, 28):
            start = change - timedelta(days=days)
            due = due_moment(start, Limit(days, LimitUnit.DAYS), zone, book)
            last = start.astimezone(there).date() + timedelta(days=days)
            assert due.astimezone(there).date() == last
            assert (due + timedelta(microseconds=1)).astimezone(there).date() > last
