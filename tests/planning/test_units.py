"""When samples go in: the formulas against a literal walk through the sequence."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labqueue.planning.sequence import PlaceKind, run_sequence
from labqueue.planning.units import Pin, PlanningError, Problem, Run, Step, Unit
from tests.planning.cases import OFFICE, bottle, unit, units_of


def walk(one: Unit, start: int, samples: int) -> tuple[list[int], int, int]:
    """(injection of each sample, end, positions used), counted injection by injection."""
    moment = start + one.equil_min + one.startup_inj * one.inject_min
    moments, positions = [], one.reserved_positions
    in_group = in_batch = 0
    for _ in range(samples):
        moments.append(moment)
        moment += one.inject_min
        positions += 1
        in_group, in_batch = in_group + 1, in_batch + 1
        if in_batch == one.batch_every:
            moment += one.batch_inj * one.inject_min
            positions += one.batch_inj
            in_batch = 0
        if in_group == one.qc_every:
            moment += one.qc_inj * one.inject_min
            in_group = 0
    if in_batch:
        moment += one.batch_inj * one.inject_min
        positions += one.batch_inj
    if in_group:
        moment += one.qc_inj * one.inject_min
    return moments, moment, positions


@given(units_of("A1"), st.integers(0, 30))
def test_moments_and_end_follow_the_sequence(one: Unit, samples: int) -> None:
    moments, end, _ = walk(one, 480, samples)
    assert [one.sample_moment(480, sample) for sample in range(samples)] == moments
    assert one.end(480, samples) == end


@given(units_of("A1"))
def test_the_tray_is_as_full_as_it_can_be(one: Unit) -> None:
    limit = one.rack_limit
    assert limit == 0 or walk(one, 0, limit)[2] <= one.rack_positions
    assert walk(one, 0, limit + 1)[2] > one.rack_positions


@given(units_of("A1"), st.integers(0, 900))
def test_capacity_is_the_most_that_ends_in_time(one: Unit, gap: int) -> None:
    count = one.capacity(480, 480 + gap)
    assert count <= one.rack_limit
    if count >= 0:
        assert one.free_after(480, count) <= 480 + gap
    if count < one.rack_limit:
        assert one.free_after(480, count + 1) > 480 + gap
    assert one.capacity(480, None) == one.rack_limit


@given(units_of("A1"), st.integers(0, 30))
def test_the_run_list_agrees_with_the_formulas(one: Unit, samples: int) -> None:
    places = run_sequence(one, 480, samples)
    injected = [place.moment for place in places if place.kind is PlaceKind.SAMPLE]
    assert injected == [one.sample_moment(480, sample) for sample in range(samples)]
    assert [place.number for place in places] == list(range(1, len(places) + 1))
    if places:
        assert places[-1].moment + one.inject_min == one.end(480, samples)


def test_a_run_list_in_full() -> None:
    one = unit(equil_min=30, startup_inj=3, qc_every=2, qc_inj=2, batch_every=3, batch_inj=2, inject_min=10)
    text = [f"{place.moment} {place.kind} {place.sample}" for place in run_sequence(one, 0, 4)]
    assert text == [
        "30 blank None", "40 standard None", "50 check standard None",
        "60 sample 0", "70 sample 1", "80 check standard None", "90 blank None",
        "100 sample 2", "110 duplicate 2", "120 spike 2",
        "130 sample 3", "140 duplicate 3", "150 spike 3", "160 check standard None", "170 blank None",
    ]  # fmt: skip


def test_a_single_start_up_injection_is_a_blank() -> None:
    assert [place.kind for place in run_sequence(unit(startup_inj=1), 0, 0)] == [PlaceKind.BLANK]


def test_a_closed_tray_is_loaded_at_the_start() -> None:
    assert unit().load_moment(480, 900) == 480


def test_a_topped_up_tray_is_loaded_while_somebody_is_there() -> None:
    one = unit(topup=True)
    assert one.load_moment(480, 900) == 900
    assert one.load_moment(480, 1020) == 1020
    assert one.load_moment(480, 1021) == 1020
    assert one.load_moment(1100, 1200) == 1100  # started after closing time: not before its start
    assert one.load_moment(100, 200) == 100  # before anybody was ever there


@pytest.mark.parametrize(
    ("name", "value"),
    [("inject_min", 0), ("qc_every", 0), ("batch_every", 0), ("equil_min", -1), ("rack_positions", -1)],
)
def test_impossible_units_are_refused(name: str, value: int) -> None:
    with pytest.raises(PlanningError, match=f"Unit A1: {name} must"):
        unit(**{name: value})


def test_impossible_bottles_are_refused() -> None:
    with pytest.raises(PlanningError, match="weight must be 1 or more"):
        bottle("B", 0, (10, 0))
    with pytest.raises(PlanningError, match="earliest first"):
        bottle("B", 0, (20, 1), (10, 1))


def test_what_an_injection_misses() -> None:
    one = bottle("B", 0, (10, 1), (20, 2))
    assert one.missed_at(10) == ()
    assert one.missed_at(11) == (Step(10, 1),)
    assert one.missed_outside(20) == one.steps
    assert one.missed_outside(19) == (Step(10, 1),)


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({"bottles": (bottle("B", 0), bottle("B", 0))}, "Bottle B is given twice"),
        ({"units": (unit(), unit())}, "Unit A1 is given twice"),
        ({"runs": (Run("A1", 5), Run("A1", 5))}, "Run .* is given twice"),
        ({"runs": (Run("A9", 5),)}, "names unit A9, which is not planned"),
        ({"runs": (Run("A1", 5),), "pins": (Pin("C", "A1", 5, 0),)}, "Pinned bottle C is not among"),
        ({"pins": (Pin("B", "A1", 5, 0),)}, "where no run is given"),
        ({"pins": (Pin("B", "A1", 5, 0), Pin("B", "A1", 5, 1))}, "Pinned bottle B is given twice"),
        ({"pins": (Pin("B", "A1", 5, 0), Pin("C", "A1", 5, 0))}, "Pinned place .* is given twice"),
    ],
)
def test_contradictions_are_refused(more: dict[str, object], sentence: str) -> None:
    facts: dict[str, object] = {"bottles": (bottle("B", 0),), "units": (unit(),)}
    with pytest.raises(PlanningError, match=sentence):
        Problem(**{**facts, **more}, horizon_end=100)  # type: ignore[arg-type]


def test_opening_hours_include_the_moment_of_closing() -> None:
    assert OFFICE.covers(1020)
    assert not OFFICE.covers(1021)
