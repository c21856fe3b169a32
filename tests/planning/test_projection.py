"""Will it make it? The queue's quick answer."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from labqueue.planning.plan import make_plan
from labqueue.planning.projection import duration, project, seat_by_due
from labqueue.planning.units import Problem, Run, Slot
from tests.planning.cases import bottle, problem, problems, unit

RUN = Run("A1", 480)


def clock(minute: int) -> str:
    return f"{minute // 60:02}:{minute % 60:02}"


def texts(facts: Problem, placed: dict[str, Slot] | None = None) -> dict[str, str]:
    return {name: one.sentence(clock) for name, one in project(facts, placed or {}).items()}


def test_the_sentences() -> None:
    bottles = [
        bottle("B", 0, (680, 1)),
        bottle("C", 0, (310, 1)),
        bottle("D", 0),
        bottle("E", 99_999, (100_000, 1)),
        bottle("F", 99_999),
    ]
    assert texts(problem(bottles, RUN)) == {
        "B": "injection 08:00 on unit A1, 3 h 20 min to spare",
        "C": "due 05:10, first free place 08:30: lost",
        "D": "injection 09:00 on unit A1, nothing due",
        "E": "due 1666:40, no free place in the hours planned",
        "F": "no free place in the hours planned",
    }


def test_without_a_place_or_a_due_moment_there_is_nothing_to_spare() -> None:
    found = project(problem([bottle("B", 99_999, (100_000, 1)), bottle("C", 0)], RUN), {})
    assert (found["B"].spare_min, found["B"].kept) == (None, False)
    assert (found["C"].spare_min, found["C"].kept) == (None, True)


def test_lengths_of_time() -> None:
    assert [duration(m) for m in (0, 59, 60, 200, 1440, 1500, 2 * 1440 + 245)] == [
        "0 min", "59 min", "1 h", "3 h 20 min", "1 d", "1 d 1 h", "2 d 4 h",
    ]  # fmt: skip


def test_a_bottle_that_lost_its_first_clock_is_projected_for_its_second() -> None:
    bottles = [bottle("B", 0, (100, 1), (480, 1)), bottle("C", 0, (510, 1))]
    found = project(problem(bottles, RUN), {})
    assert (found["B"].due, found["B"].spare_min, found["B"].kept) == (480, 0, True)
    assert (found["C"].due, found["C"].spare_min) == (510, 0)


def test_lost_bottles_come_after_those_that_can_be_kept() -> None:
    bottles = [bottle("A", 0, (100, 9)), bottle("B", 0, (480, 1)), bottle("C", 600, (5000, 1))]
    found = project(problem(bottles, RUN), {})
    assert not found["A"].kept
    assert found["A"].spare_min == 100 - 510
    assert found["B"].kept
    # The given run keeps the unit for its hundred places, until 3480 on the third day.
    assert found["C"].place is not None
    assert found["C"].place.moment == 3480


def test_runs_that_follow_are_assumed_to_start_as_soon_as_possible() -> None:
    facts = problem([bottle("B", 600, (700, 1))], Run("A1", 480, 4), units=(unit(),))
    found = project(facts, {})["B"]
    assert found.place is not None
    assert found.place.start == 600


def test_placed_bottles_keep_their_places_and_nobody_else_gets_them() -> None:
    bottles = [bottle("B", 0, (2000, 1)), bottle("C", 0, (2000, 1))]
    facts = problem(bottles, RUN)
    placed = {"B": make_plan(facts).places["B"]}
    found = project(facts, placed)
    assert found["B"].planned
    assert found["B"].place == placed["B"]
    assert not found["C"].planned
    assert found["C"].place != placed["B"]


def test_what_happened_before_now_cannot_be_used() -> None:
    found = project(problem([bottle("B", 0, (900, 1))], Run("A1", 480, 4), now=500), {})
    assert found["B"].place is not None
    assert found["B"].place.start == 600  # the end of the given run, long after its loading


@settings(max_examples=60, deadline=None)
@given(problems(steps=2))
def test_a_projection_is_possible(facts: Problem) -> None:
    found = project(facts, {})
    assert set(found) == {one.id for one in facts.bottles}
    places = [one.place for one in found.values() if one.place is not None]
    assert len(set(places)) == len(places)
    for one in facts.bottles:
        place = found[one.id].place
        if place is not None:
            assert one.release <= place.load <= place.moment
            assert found[one.id].kept == any(step.deadline >= place.moment for step in one.steps)


@st.composite
def crowds(draw):
    """Places of one kind and bottles with one or more due moments, all there."""
    moments = draw(st.lists(st.integers(0, 60), max_size=12))
    slots = sorted(
        (Slot(0, moment, "U", 0, sample) for sample, moment in enumerate(sorted(moments))),
        key=lambda slot: (slot.moment, slot),
    )
    bottles = draw(st.lists(st.lists(st.integers(0, 80), min_size=1, max_size=3), max_size=12))
    clocks = sorted((due, "anion", key) for key, dues in enumerate(bottles) for due in dues)
    return slots, bottles, clocks


@given(crowds())
def test_places_by_due_keep_as_many_bottles_as_any_handing_out_could(crowd):
    """Checked with scipy's assignment solver, for bottles with one due moment each."""
    slots, bottles, _clocks = crowd
    dues = [dues[0] for dues in bottles]
    clocks = sorted((due, "anion", key) for key, due in enumerate(dues))
    found = seat_by_due(clocks, {"anion": slots})
    kept = sum(key in found and found[key].moment <= due for key, due in enumerate(dues))
    gain = [[int(slot.moment <= due) for slot in slots] for due in dues]
    best = 0
    if slots and dues:
        rows, columns = linear_sum_assignment(gain, maximize=True)
        best = sum(gain[row][column] for row, column in zip(rows, columns, strict=True))
    assert kept == best


@given(crowds())
def test_what_a_bottle_finds_depends_on_what_is_due_before_it_alone(crowd):
    slots, _bottles, clocks = crowd
    whole = seat_by_due(clocks, {"anion": slots})
    for end in range(len(clocks)):
        for key, slot in seat_by_due(clocks[:end], {"anion": slots}).items():
            assert whole[key] == slot


@given(crowds())
def test_no_place_that_keeps_a_bottle_is_given_twice(crowd):
    slots, bottles, clocks = crowd
    found = seat_by_due(clocks, {"anion": slots})
    kept = [slot for key, slot in found.items() if slot.moment <= min(bottles[key])]
    assert len(kept) == len(set(kept))


def test_without_places_left_nothing_more_is_read():
    def clocks():
        yield 10, "anion", 1
        yield 20, "anion", 2
        raise AssertionError("read on after the last place was given")

    assert seat_by_due(clocks(), {"anion": [Slot(0, 5, "U", 0, 0)]}).keys() == {1}
