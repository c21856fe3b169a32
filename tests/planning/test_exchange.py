"""The exchange finds the optimum from any start, with nothing but chains and rings."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from labqueue.planning.exchange import FREE, Exchange
from labqueue.planning.losses import NEVER, Scale, jobs_of
from labqueue.planning.plan import make_plan
from labqueue.planning.units import Bottle, Problem, Run, Slot
from tests.planning.cases import DAY, bottle, free_slots, problem, problems


def exchange(bottles: list[Bottle], slots: list[Slot], sitters: list[int]) -> Exchange:
    jobs = jobs_of(bottles, Scale.for_bottles(bottles), 3 * DAY, 0, None)
    return Exchange(jobs, slots, sitters)


@settings(max_examples=80, deadline=None)
@given(problems(steps=3), st.randoms(use_true_random=False))
def test_it_reaches_the_optimum_from_any_start(facts: Problem, random: object) -> None:
    slots = free_slots(facts)
    bottles = list(facts.bottles)
    sitters = [FREE] * len(slots)
    ranked = sorted(bottles, key=lambda one: one.id)
    for rank, one in enumerate(ranked):
        fitting = [
            place
            for place, slot in enumerate(slots)
            if sitters[place] == FREE and one.release <= slot.load and slot.moment <= 3 * DAY
        ]
        if fitting and random.random() < 0.7:  # type: ignore[attr-defined]
            sitters[random.choice(fitting)] = rank  # type: ignore[attr-defined]
    work = exchange(bottles, slots, sitters)
    assert work.run(10_000).proven
    missed = [
        one.missed_outside(3 * DAY) if seat == FREE else one.missed_at(slots[seat].moment)
        for one, seat in zip(ranked, work.seats, strict=True)
    ]
    plan = make_plan(facts)
    assert sum(step.weight for steps in missed for step in steps) == plan.missed_weight
    assert sum(map(bool, missed)) == plan.missed_count


def test_two_bottles_after_one_place() -> None:
    bottles = [bottle("B", 0, (480, 1)), bottle("C", 0, (480, 2))]
    slots = free_slots(problem([], Run("A1", 480, 1)))
    work = exchange(bottles, slots, [FREE])
    outcome = work.run(100)
    assert work.sitters == [1]
    assert outcome.prices == {0: Scale.for_bottles(bottles).pack(1, 1, 0)}


def test_three_bottles_change_places_in_a_ring() -> None:
    """Each is one place too late on its second step; no free place, nobody leaves."""
    bottles = [
        bottle("B", 0, (480, 3), (540, 9)),
        bottle("C", 0, (510, 3), (540, 9)),
        bottle("D", 0, (540, 9)),
    ]
    slots = free_slots(problem([], Run("A1", 480, 3)))
    work = exchange(bottles, slots, [2, 0, 1])
    assert work.run(100).proven
    assert work.sitters == [0, 1, 2]


def test_a_bottle_on_a_place_that_costs_more_than_none_leaves() -> None:
    facts = problem([], Run("A1", 2 * DAY + 480, 1))
    two = [bottle("B", 0, (100, 1)), bottle("C", 0, (4 * DAY, 1))]
    work = exchange(two, free_slots(facts), [1])
    assert work.run(100).proven


def test_the_ladder_of_a_bottle() -> None:
    bottles = [bottle("B", 0, (100, 2), (200, 3), (5000, 4))]
    scale = Scale.for_bottles(bottles)
    [job] = jobs_of(bottles, scale, 4320, 0, None)
    assert job.latest == (100, 200, 5000)
    assert job.loss == (0, scale.pack(2, 1, 0), scale.pack(5, 1, 0))
    assert job.outside == scale.pack(5, 1, 0)
    assert [job.rung_at(moment) for moment in (100, 101, 201, 5001)] == [0, 1, 2, 3]
    assert job.loss_of(3) == job.outside  # beyond the ladder it is better left out
    [close] = jobs_of(bottles, scale, 4320, 30, 50)
    assert close.release == 50
    assert close.latest == (70, 100, 170, 200, 4970)
    assert [loss % scale.margins for loss in close.loss] == [0, 1, 1, 2, 2]
    [without] = jobs_of([bottle("B", 0)], scale, 4320, 30, None)
    assert (without.latest, without.loss, without.outside) == ((NEVER,), (0,), 0)
