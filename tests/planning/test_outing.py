"""A day at the water, worked by hand: weekends, a night when the clocks change, a zone far away."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from intake.rules.book import Conditions, Confidence, KeepingRow, Limit, LimitUnit, Rulebook, Source
from intake.rules.book_data import book_from_data
from intake.rules.facts import Line
from intake.rules.ions import IONS
from intake.shipped import shipped_data
from labqueue.hours import OpeningHours
from labqueue.planning.changes import Change, alternatives
from labqueue.planning.faring import Bench, BenchUnit, Check, IonAnswer, hand_over_by
from labqueue.planning.outing import Habit, Outing, bottles_to_take, earliest_of, latest_of
from labqueue.planning.trip import Obstacle

BERLIN = "Europe/Berlin"
HOUSE = book_from_data(shipped_data("house"))
WEEKDAYS = OpeningHours(BERLIN, dict.fromkeys(range(5), ((time(8), time(17)),)))
#: One hour from handing over to the tray, 200 minutes from start to first sample; a run of one sample
#: is over, and the unit ready for the next, 290 minutes after its start.
BENCH = Bench(WEEKDAYS, 60, dict.fromkeys(Line, (BenchUnit(lead_min=200, alone_min=290),)))
WELL_KEPT = frozenset({Habit.FILTERED, Habit.CHILLED, Habit.ACID})


def outing(begins: datetime, ends: datetime | None = None, zone: str = BERLIN, **changes: object) -> Outing:
    """An outing for nitrate at local wall times."""
    given = {
        "ions": frozenset({"nitrate"}),
        "sites": 1,
        "begins": earliest_of(begins, zone),
        "ends": latest_of(ends or begins, zone),
        "zone": zone,
        "transport_min": 20 * 60,
        "kept": WELL_KEPT,
    }
    return Outing(**given | changes)


def local(year: int, month: int, day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(year, month, day, hour, minute)


def berlin(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=ZoneInfo(BERLIN)).astimezone(UTC)


FRIDAY = outing(local(2026, 3, 6, 14))


def test_friday_afternoon_by_courier_with_the_weekend_closed() -> None:
    """Nitrate lasts 48 h by the house book: due Sunday 14:00.

    Friday 14:00 + 20 h = Saturday 10:00, closed; handed over Monday 08:00, ready 09:00,
    + 200 min = injected Monday 12:20: 22 h 20 min late. Starting by Sunday 14:00 - 200 min = 10:40
    means by Friday 17:00, so handed over by Friday 16:00.
    """
    (nitrate,) = Check(FRIDAY, HOUSE, BENCH).answer().chosen.ions
    assert nitrate.due_at == berlin(2026, 3, 8, 14)
    assert nitrate.injection_at == berlin(2026, 3, 9, 12, 20)
    assert nitrate.latest_at == berlin(2026, 3, 6, 16)
    assert nitrate.obstacle is Obstacle.ARRIVES_TOO_LATE


def test_which_days_of_the_fortnight_work() -> None:
    """Only Friday fails: Saturday 14:00 + 48 h = Monday 14:00, after Monday's 12:20; Thursday's
    arrives on Friday 10:00 and is injected on Friday at 11:00 + 200 min = 14:20.
    """
    days = Check(FRIDAY, HOUSE, BENCH, first_day=-4).days(FRIDAY)
    assert [day.outing.begins.astimezone(ZoneInfo(BERLIN)).date() for day in days][:2] == [
        date(2026, 3, 2),
        date(2026, 3, 3),
    ]
    assert [number for number, day in enumerate(days) if not day.works] == [4, 11]
    thursday = days[3].ions[0]
    assert thursday.injection_at == berlin(2026, 3, 6, 14, 20)


def test_a_holiday_fails_the_days_before_it() -> None:
    """Monday 9 March closed as well: Saturday 14:00 is due on Monday 14:00, handed over on Tuesday."""
    closed = replace(BENCH, opening=replace(WEEKDAYS, closed_on=frozenset({date(2026, 3, 9)})))
    days = Check(FRIDAY, HOUSE, closed, first_day=-4).days(FRIDAY)
    assert [number for number, day in enumerate(days) if not day.works] == [4, 5, 11]
    assert days[5].ions[0].obstacle is Obstacle.NOBODY_THERE


def test_what_would_help_on_friday() -> None:
    """By the house book freezing does not lengthen nitrate's limit; being there by 16:00 does."""
    check = Check(FRIDAY, HOUSE, BENCH, first_day=-4)
    tried = {one.change: one for one in alternatives(check, check.answer())}
    assert set(tried) == {Change.QUICKER, Change.OTHER_DAY, Change.FREEZE}
    assert tried[Change.QUICKER].works
    assert tried[Change.QUICKER].outing.transport_min == 120
    assert tried[Change.OTHER_DAY].works
    assert tried[Change.OTHER_DAY].outing.begins == berlin(2026, 3, 5, 14)
    assert tried[Change.OTHER_DAY].days_that_work == 12
    assert not tried[Change.FREEZE].works
    assert tried[Change.FREEZE].saved == ()
    assert tried[Change.FREEZE].against


def test_leaving_out_what_fails_is_tried() -> None:
    mixed = replace(FRIDAY, ions=frozenset({"nitrate", "nitrite", "chloride", "sodium"}))
    check = Check(mixed, HOUSE, BENCH, first_day=-4)
    answer = check.answer()
    assert [ion.ion for ion in answer.chosen.failing] == ["nitrite", "nitrate"]
    first = next(one for one in alternatives(check, answer) if one.change is Change.LEAVE_OUT)
    assert first.works
    assert first.outing.ions == {"chloride", "sodium"}
    assert first.saved == ("nitrite", "nitrate")
    assert first.days_that_work == 14


def test_a_book_that_lets_frozen_water_wait_is_believed() -> None:
    """Frozen nitrate may wait 28 days in this invented book: Friday works once it is frozen."""
    source = Source("invented for this test")
    rows = (
        KeepingRow(1, "nitrate", Conditions(max_c=6, frozen=False), Limit(48, LimitUnit.HOURS), source,
                   Confidence.HOUSE_CHOICE),
        KeepingRow(2, "nitrate", Conditions(frozen=True), Limit(28, LimitUnit.DAYS), source,
                   Confidence.HOUSE_CHOICE),
    )  # fmt: skip
    check = Check(FRIDAY, Rulebook("invented", 1, "Invented", rows), BENCH)
    tried = {one.change: one for one in alternatives(check, check.answer())}
    assert tried[Change.FREEZE].works
    assert tried[Change.FREEZE].saved == ("nitrate",)
    assert tried[Change.FREEZE].days_that_work == 14


def test_the_night_when_clocks_go_forward_takes_nothing_from_the_limit() -> None:
    """28 March 2026 12:00 CET = 11:00 UTC; 48 h later 30 March 11:00 UTC = 13:00 CEST.

    43 h of courier = Monday 06:00 UTC = 08:00 CEST; ready 09:00, injected 12:20: 40 min to spare.
    A week before, without the change, 43 h end on Monday at 07:00 CET, the door opens at 08:00, the
    injection is at 12:20 as well, but it is due at 12:00: 20 min late.
    """
    changing = outing(local(2026, 3, 28, 12), transport_min=43 * 60)
    (nitrate,) = Check(changing, HOUSE, BENCH).answer().chosen.ions
    assert nitrate.due_at == datetime(2026, 3, 30, 11, tzinfo=UTC)
    assert nitrate.injection_at == berlin(2026, 3, 30, 12, 20) == datetime(2026, 3, 30, 10, 20, tzinfo=UTC)
    assert nitrate.in_time
    (before,) = Check(changing.days_later(-7), HOUSE, BENCH).answer().chosen.ions
    assert before.due_at == berlin(2026, 3, 23, 12)
    assert before.injection_at == berlin(2026, 3, 23, 12, 20)
    assert not before.in_time


def test_days_later_keep_the_wall_clock_over_the_change() -> None:
    """Noon stays noon: 27 March 12:00 CET is 11:00 UTC, 30 March 12:00 CEST is 10:00 UTC."""
    moved = outing(local(2026, 3, 27, 12)).days_later(3)
    assert moved.begins == datetime(2026, 3, 30, 10, tzinfo=UTC)


def test_an_hour_that_clocks_show_twice_is_reckoned_the_unfavourable_way() -> None:
    """25 October 2026 02:30 is 00:30 UTC and again 01:30 UTC; 29 March 02:30 is neither."""
    twice = outing(local(2026, 10, 25, 2, 30))
    assert twice.begins == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert twice.ends == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)
    skipped = outing(local(2026, 3, 29, 2, 30))
    assert skipped.begins == datetime(2026, 3, 29, 0, 30, tzinfo=UTC)
    assert skipped.ends == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)


def test_a_sampler_eight_zones_away() -> None:
    """Denver in winter is eight hours behind Berlin.

    Tuesday 3 March 09:00 MST = 17:00 CET. 24 h by air = Wednesday 17:00 CET, taken in at closing,
    ready 18:00, started Thursday 08:00, injected 11:20 CET = 03:20 MST. Due Thursday 09:00 MST =
    17:00 CET; started by 13:40 CET, so handed over by 12:40 CET = 04:40 MST.
    """
    far = outing(local(2026, 3, 3, 9), zone="America/Denver", transport_min=24 * 60)
    (nitrate,) = Check(far, HOUSE, BENCH).answer().chosen.ions
    assert nitrate.due_at == berlin(2026, 3, 5, 17)
    assert nitrate.injection_at == berlin(2026, 3, 5, 11, 20)
    denver = nitrate.latest_at.astimezone(ZoneInfo("America/Denver"))
    assert denver.replace(tzinfo=None) == local(2026, 3, 5, 4, 40)
    assert nitrate.latest_at == berlin(2026, 3, 5, 12, 40)


def test_a_day_of_sampling_counts_from_its_first_sample() -> None:
    """Tuesday 09:00 to 16:00 and 3 h: due Thursday 09:00, arrives Tuesday 19:00, so Wednesday 12:20."""
    day = outing(local(2026, 3, 3, 9), local(2026, 3, 3, 16), transport_min=180)
    (nitrate,) = Check(day, HOUSE, BENCH).answer().chosen.ions
    assert nitrate.due_at == berlin(2026, 3, 5, 9)
    assert nitrate.injection_at == berlin(2026, 3, 4, 12, 20)


def busy(*units: BenchUnit) -> Bench:
    """The bench with these units for anions."""
    return replace(BENCH, units={Line.ANION: units, Line.CATION: (BenchUnit(200, 290),)})


def nitrate_of(trip: Outing, bench: Bench) -> IonAnswer:
    (nitrate,) = Check(trip, HOUSE, bench).answer().chosen.ions
    return nitrate


def test_a_run_that_takes_the_only_unit_is_waited_for() -> None:
    """Collected Tuesday 09:00, due Thursday 09:00; 20 h of courier: Wednesday 05:00, taken in at 08:00,
    ready 09:00. A run takes the unit from Tuesday 16:00 to Wednesday 11:30, so the start is at 11:30
    and the injection 200 min later, at 14:50.

    Started by Thursday 09:00 - 200 min = 05:40 means by Wednesday 17:00: handed over by 16:00.
    """
    taken = busy(BenchUnit(200, 290, taken=((berlin(2026, 3, 3, 16), berlin(2026, 3, 4, 11, 30)),)))
    nitrate = nitrate_of(outing(local(2026, 3, 3, 9)), taken)
    assert nitrate.injection_at == berlin(2026, 3, 4, 14, 50)
    assert nitrate.latest_at == berlin(2026, 3, 4, 16)
    assert nitrate.in_time


def test_a_free_unit_of_the_line_beside_it_is_used() -> None:
    """The same with a second unit, slower to start (260 min): free at once, 09:00 + 260 min = 13:20."""
    first = BenchUnit(200, 290, taken=((berlin(2026, 3, 3, 16), berlin(2026, 3, 4, 11, 30)),))
    nitrate = nitrate_of(outing(local(2026, 3, 3, 9)), busy(first, BenchUnit(260, 350)))
    assert nitrate.injection_at == berlin(2026, 3, 4, 13, 20)


def test_a_run_has_to_be_over_before_the_planned_one_begins() -> None:
    """A run is planned for Wednesday 13:00 to Thursday 06:30. Ready on Wednesday at 09:00: a run of one
    sample takes 290 min, so it would have to start by 13:00 - 290 min = 08:10. The next start is
    Thursday 08:00, the injection at 11:20, due 09:00. What could have been started by Wednesday 08:10
    was handed over an hour before, so by Tuesday 17:00.

    With the planned run at 13:50 instead the last start is 09:00 and it just fits: injected 12:20.
    """
    until = berlin(2026, 3, 5, 6, 30)
    late = nitrate_of(
        outing(local(2026, 3, 3, 9)), busy(BenchUnit(200, 290, taken=((berlin(2026, 3, 4, 13), until),)))
    )
    assert late.injection_at == berlin(2026, 3, 5, 11, 20)
    assert late.latest_at == berlin(2026, 3, 3, 17)
    assert late.obstacle is Obstacle.ARRIVES_TOO_LATE
    fits = nitrate_of(
        outing(local(2026, 3, 3, 9)),
        busy(BenchUnit(200, 290, taken=((berlin(2026, 3, 4, 13, 50), until),))),
    )
    assert fits.injection_at == berlin(2026, 3, 4, 12, 20)


def test_a_free_place_on_a_planned_run_is_taken() -> None:
    """The run of Wednesday 13:00 has a place that is injected on Wednesday at 22:40, before Thursday
    09:00. Its tray is loaded at 13:00, so handed over by 12:00.
    """
    unit = BenchUnit(
        200,
        290,
        taken=((berlin(2026, 3, 4, 13), berlin(2026, 3, 5, 6, 30)),),
        places=((berlin(2026, 3, 4, 13), berlin(2026, 3, 4, 22, 40)),),
    )
    nitrate = nitrate_of(outing(local(2026, 3, 3, 9)), busy(unit))
    assert nitrate.injection_at == berlin(2026, 3, 4, 22, 40)
    assert nitrate.latest_at == berlin(2026, 3, 4, 12)
    # Where bottles may be added while it runs, until somebody last was there: Wednesday 17:00.
    assert nitrate_of(outing(local(2026, 3, 3, 9)), busy(replace(unit, topup=True))).latest_at == berlin(
        2026, 3, 4, 16
    )


def test_bottles_of_two_lines_are_handed_over_for_the_more_pressing_one() -> None:
    """Due Thursday 09:00 and Friday 09:00: started on Wednesday by 17:00, handed over by 16:00; the other
    line alone could come a day later. Asked on Wednesday at 16:01 it is over.
    """
    due = {Line.ANION: berlin(2026, 3, 5, 9), Line.CATION: berlin(2026, 3, 6, 9)}
    assert hand_over_by(BENCH, due, berlin(2026, 3, 3, 9)) == berlin(2026, 3, 4, 16)
    alone = {Line.CATION: due[Line.CATION]}
    assert hand_over_by(BENCH, alone, berlin(2026, 3, 3, 9)) == berlin(2026, 3, 5, 16)
    assert hand_over_by(BENCH, due, berlin(2026, 3, 4, 16, 1)) is None


def test_units_that_are_taken_throughout_are_named_as_the_reason() -> None:
    """Out of service from Tuesday 08:00 to Friday 08:00: nothing can start by Thursday 09:00, though
    somebody is there; the first injection is on Friday 08:00 + 200 min = 11:20.
    """
    repair = BenchUnit(200, 290, taken=((berlin(2026, 3, 3, 8), berlin(2026, 3, 6, 8)),))
    nitrate = nitrate_of(outing(local(2026, 3, 3, 9)), busy(repair))
    assert nitrate.obstacle is Obstacle.UNITS_TAKEN
    assert nitrate.latest_at is None
    assert nitrate.injection_at == berlin(2026, 3, 6, 11, 20)


def test_bottles_and_the_usual_dose() -> None:
    trip = replace(FRIDAY, sites=4, ions=frozenset({"nitrate", "chloride", "calcium"}))
    anion, cation = bottles_to_take(trip, HOUSE)
    assert (anion.line, anion.count, anion.volume_ml, anion.acid) == (Line.ANION, 4, 50, None)
    assert anion.ions == ("chloride", "nitrate")
    assert (cation.count, cation.ions) == (4, ("calcium",))
    assert (cation.acid.dose_ml, cation.acid.mol_l, cation.acid.total_ml) == (0.5, 1, 2)
    assert cation.acid.usual


def test_alkaline_water_asks_for_a_larger_dose() -> None:
    """4 meq/L in 50 mL use up 0.2 mmol; pH 2 takes 10^-2 / gamma more.

    EC 400: ionic strength 0.01 + 0.0064 = 0.0164, gamma (Davies) about 0.88, so 0.0114 mol/L.
    (0.004 + 0.0114) x 50 / (1 - 0.0114) = 0.78 mL, with a tenth in reserve 0.86, said as 0.9.
    """
    trip = replace(FRIDAY, ions=frozenset({"calcium"}), sites=3, ec_us_cm=400.0, alkalinity_meq_l=4.0)
    (cation,) = bottles_to_take(trip, HOUSE)
    assert cation.acid.target_ph == 2
    assert cation.acid.dose_ml == pytest.approx(0.9)
    assert cation.acid.total_ml == pytest.approx(2.7)
    assert not cation.acid.usual


def test_no_acid_unless_it_is_meant() -> None:
    trip = replace(FRIDAY, ions=frozenset({"ammonium"}), kept=WELL_KEPT - {Habit.ACID})
    (cation,) = bottles_to_take(trip, HOUSE)
    assert cation.acid is None
    check = Check(trip, HOUSE, BENCH)
    answer = check.answer()
    # Without acid ammonium lasts 48 h by the house book, with it 28 days.
    assert [ion.ion for ion in answer.chosen.failing] == ["ammonium"]
    tried = {one.change: one for one in alternatives(check, answer)}
    assert tried[Change.ACIDIFY].works


def test_what_the_book_objects_to_is_told() -> None:
    trip = replace(FRIDAY, kept=frozenset({Habit.CHILLED}))
    answer = Check(trip, HOUSE, BENCH).answer()
    assert any(finding.fact == "filter_pore_um" for finding in answer.objections)
    assert not Check(FRIDAY, HOUSE, BENCH).answer().objections


def test_an_outing_needs_its_moments_in_order() -> None:
    with pytest.raises(ValueError, match="ends before"):
        outing(local(2026, 3, 3, 9), local(2026, 3, 3, 8))
    with pytest.raises(ValueError, match="aware"):
        replace(FRIDAY, begins=local(2026, 3, 3, 9))


outings = st.builds(
    lambda begins, minutes, **more: outing(begins, begins + timedelta(minutes=minutes), **more),
    st.integers(0, 1_500_000).map(lambda minutes: local(2025, 1, 1, 0) + timedelta(minutes=minutes)),
    st.integers(0, 2880),
    zone=st.sampled_from([BERLIN, "America/Halifax", "Asia/Kolkata", "Pacific/Auckland", "UTC"]),
    ions=st.frozensets(st.sampled_from([ion.name for ion in IONS]), min_size=1),
    transport_min=st.integers(0, 6000),
    kept=st.frozensets(st.sampled_from(list(Habit))),
)


spells = st.lists(
    st.tuples(st.integers(-5000, 20_000), st.integers(0, 4000)).map(
        lambda spell: (spell[0], spell[0] + spell[1])
    ),
    max_size=4,
)


def taken_bench(
    trip: Outing, units: list[tuple[list[tuple[int, int]], list[tuple[int, int]], bool]]
) -> Bench:
    """Units with these spells and places, in minutes after the trip begins."""

    def moments(pairs: list[tuple[int, int]]) -> tuple[tuple[datetime, datetime], ...]:
        return tuple(
            (trip.begins + timedelta(minutes=first), trip.begins + timedelta(minutes=last))
            for first, last in pairs
        )

    made = tuple(
        BenchUnit(200, 290, moments(taken), moments(places), topup) for taken, places, topup in units
    )
    return Bench(WEEKDAYS, 60, dict.fromkeys(Line, made or (BenchUnit(200, 290),)))


def fares(trip: Outing, ion: str, transport_min: int, bench: Bench) -> bool:
    """Whether ``ion`` is in time with another way."""
    changed = Check(replace(trip, transport_min=transport_min), HOUSE, bench).answer().chosen
    return next(one.in_time for one in changed.ions if one.ion == ion)


@settings(max_examples=25, deadline=None)
@given(outings, st.lists(st.tuples(spells, spells, st.booleans()), max_size=2))
def test_laws_of_any_outing(trip: Outing, units: list) -> None:
    """In time means injected by the due moment; the latest arrival is in time and a minute later is
    not; a change that is said to work does.
    """
    bench = taken_bench(trip, units)
    check = Check(trip, HOUSE, bench)
    answer = check.answer()
    assert {ion.ion for ion in answer.chosen.ions} == trip.ions
    for ion in answer.chosen.ions:
        if ion.due_at is not None and ion.obstacle is None:
            assert trip.arrives <= ion.injection_at <= ion.due_at
            assert trip.arrives <= ion.latest_at
        if ion.latest_at is not None:
            assert trip.ends <= ion.latest_at <= ion.due_at
            spare = -((trip.ends - ion.latest_at) // timedelta(minutes=1))
            assert fares(trip, ion.ion, spare, bench)
            assert not fares(trip, ion.ion, spare + 1, bench)
    for one in alternatives(check, answer):
        if one.works:
            assert Check(one.outing, HOUSE, bench).answer().chosen.works
