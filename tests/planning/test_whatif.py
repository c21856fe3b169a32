"""One more run, an earlier start, a bottle moved by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from labqueue.planning.plan import make_plan
from labqueue.planning.units import PlanningError, Run, Slot, Step
from labqueue.planning.whatif import preview_move, savings
from tests.planning.cases import DAY, bottle, problem, unit

RUN = Run("A1", 480, 2)


def test_one_more_run_saves_what_the_new_plan_says() -> None:
    bottles = [bottle(f"B{n}", 0, (900, n)) for n in range(1, 5)]
    plan = make_plan(problem(bottles, RUN, horizon_end=DAY))
    assert plan.missed_weight == 3
    more, earlier = savings(plan)
    assert more is not None
    assert (more.run.unit, more.weight, more.bottles, more.earlier_than) == ("A1", 3, 2, None)
    assert earlier is None  # a given run is not moved


def test_an_earlier_start_of_a_chosen_run() -> None:
    """The plan's own run at 1020 could start before; it is not given, so it may be moved."""
    bottles = [bottle("B", 0, (700, 1))]
    facts = problem(bottles, horizon_end=DAY, choose=True, candidates={"A1": (1020,)})
    plan = make_plan(facts)
    assert plan.missed_weight == 1
    assert savings(plan) == (None, None)  # no other candidate is listed

    opened = replace(plan, problem=replace(plan.problem, candidates={"A1": (600, 1020)}))
    more, earlier = savings(opened)
    assert more is not None
    assert earlier is not None
    assert (earlier.run.start, earlier.earlier_than, earlier.weight) == (600, 1020, 1)


def test_nothing_lost_nothing_to_save() -> None:
    assert savings(make_plan(problem([bottle("B", 0, (900, 1))], RUN))) == (None, None)


def test_a_start_that_is_too_close_is_not_offered() -> None:
    tight = unit(startup_inj=20)
    plan = make_plan(problem([bottle("B", 0, (500, 1))], Run("A1", 1020), units=(tight,), horizon_end=DAY))
    assert savings(plan) == (None, None)


def test_moving_a_bottle_shows_what_it_costs_and_gains() -> None:
    bottles = [bottle("B", 0, (480, 1)), bottle("C", 0, (510, 2)), bottle("D", 0, (480, 1))]
    plan = make_plan(problem(bottles, Run("A1", 480, 3)))
    assert plan.places["B"].moment == 480
    move = preview_move(plan, "D", plan.places["B"])
    assert move.gained == (("D", Step(480, 1)),)
    assert move.lost == (("B", Step(480, 1)),)
    assert move.places == {"D": plan.places["B"], "B": plan.places["D"]}


def test_moving_a_bottle_to_a_free_place_moves_nobody_else() -> None:
    plan = make_plan(problem([bottle("B", 0, (480, 1))], RUN))
    place = plan.places["B"]
    free = place._replace(sample=1, moment=510)
    assert preview_move(plan, "B", free).lost == (("B", Step(480, 1)),)
    assert preview_move(plan, "B", place).lost == ()


def test_the_other_bottle_is_left_without_place_where_it_cannot_go() -> None:
    bottles = [bottle("B", 0, (4000, 1)), bottle("C", 600, (4000, 5))]
    plan = make_plan(problem(bottles, Run("A1", 480, 1), Run("A1", 720, 1)))
    move = preview_move(plan, "B", plan.places["C"])
    assert move.places == {"B": plan.places["C"], "C": None}
    assert move.lost == (("C", Step(4000, 5)),)


def test_a_bottle_without_place_takes_one() -> None:
    bottles = [bottle("B", 0, (480, 2)), bottle("C", 0, (480, 1))]
    plan = make_plan(problem(bottles, Run("A1", 480, 1)))
    assert preview_move(plan, "C", plan.places["B"]).places == {"C": plan.places["B"], "B": None}


def test_impossible_moves_are_refused() -> None:
    facts = problem(
        [bottle("B", 600, (4000, 1)), bottle("C", 0, (4000, 1))],
        RUN, units=(unit(), unit(id="C1", kind="cation")), now=400,
    )  # fmt: skip
    plan = make_plan(facts)
    with pytest.raises(PlanningError, match="not there yet"):
        preview_move(plan, "B", plan.places["C"])
    for target in ("C1", "X9"):
        with pytest.raises(PlanningError, match="choose a unit of that line"):
            preview_move(plan, "C", Slot(480, 480, target, 480, 0))
    with pytest.raises(PlanningError, match="Bottle X is not in this plan"):
        preview_move(plan, "X", plan.places["C"])
