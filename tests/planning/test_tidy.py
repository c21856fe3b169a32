"""What tidying adds beyond losing least: early, late ones soon, groups together."""

from __future__ import annotations

from hypothesis import given, settings

from labqueue.planning.plan import make_plan
from labqueue.planning.units import Problem, Run
from tests.planning.cases import DAY, bottle, problem, problems, unit

RUN = Run("A1", 480)


def order(facts: Problem) -> list[str]:
    places = make_plan(facts).places
    return sorted(places, key=lambda name: places[name].moment)


def test_bottles_of_a_group_stand_together_when_all_can_wait() -> None:
    bottles = [bottle(f"B{n}", 0, (DAY + n, 1), group="ns"[n % 2]) for n in range(6)]
    assert order(problem(bottles, RUN)) == ["B0", "B2", "B4", "B1", "B3", "B5"]


def test_a_group_does_not_push_anybody_over_the_due_moment() -> None:
    bottles = [
        bottle("B0", 0, (480, 1), group="n"),
        bottle("B1", 0, (510, 1), group="s"),
        bottle("B2", 0, (DAY, 1), group="n"),
        bottle("B3", 0, (DAY + 1, 1), group="s"),
    ]
    facts = problem(bottles, RUN)
    assert order(facts) == ["B0", "B1", "B3", "B2"]
    assert make_plan(facts).missed == ()


def test_a_lost_bottle_goes_before_one_that_can_wait() -> None:
    bottles = [bottle("LATE", 0, (10, 1)), bottle("SOON", 0, (480, 1)), bottle("CALM", 0, (2000, 1))]
    assert order(problem(bottles, RUN)) == ["SOON", "LATE", "CALM"]


def test_a_lost_bottle_does_not_cost_anybody_a_clock() -> None:
    bottles = [bottle("LATE", 0, (10, 9)), bottle("SOON", 0, (480, 1)), bottle("NEXT", 0, (510, 1))]
    facts = problem(bottles, RUN)
    assert order(facts) == ["SOON", "NEXT", "LATE"]
    assert make_plan(facts).missed_weight == 9


def test_a_lost_bottle_waits_for_a_tray_it_can_be_on() -> None:
    bottles = [bottle("LATE", 500, (10, 1)), bottle("EARLY", 0, (2000, 1)), bottle("TODAY", 600, (2000, 1))]
    facts = problem(bottles, RUN, Run("A1", 720), units=(unit(),))
    plan = make_plan(facts)
    assert plan.places["EARLY"].moment == 480
    assert (plan.places["LATE"].moment, plan.places["TODAY"].moment) == (720, 750)


def test_a_second_unit_that_would_stand_empty_takes_its_share() -> None:
    bottles = [bottle(f"B{n}", 0, (2000, 1)) for n in range(6)]
    facts = problem(bottles, RUN, Run("A2", 500), units=(unit(), unit(id="A2")))
    plan = make_plan(facts)
    assert sorted(slot.moment for slot in plan.places.values()) == [480, 500, 510, 530, 540, 560]


def test_levelling_leaves_what_cannot_be_on_the_other_tray() -> None:
    bottles = [bottle(f"B{n}", 490, (4000, 1)) for n in range(4)] + [bottle("C", 0, (4000, 1))]
    facts = problem(bottles, RUN, Run("A2", 500), units=(unit(), unit(id="A2")))
    plan = make_plan(facts)
    assert {plan.places[f"B{n}"].unit for n in range(4)} == {"A2"}
    assert plan.places["C"].unit == "A1"


@settings(max_examples=60, deadline=None)
@given(problems(steps=1))
def test_no_lost_bottle_could_change_with_an_earlier_one_for_free(facts: Problem) -> None:
    plan = make_plan(facts)
    lost = {missed.bottle for missed in plan.missed if missed.moment is not None}
    by_id = {one.id: one for one in facts.bottles}
    for name in lost:
        mine = plan.places[name]
        for other, slot in plan.places.items():
            if other in lost or slot.moment >= mine.moment:
                continue
            could = by_id[name].release <= slot.load and by_id[other].release <= mine.load
            assert not (could and not by_id[other].missed_at(mine.moment))
