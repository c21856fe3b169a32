"""Choosing starts: possible runs only, never worse than the rules, never better than the floor."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labqueue.hours import StaffedTimes
from labqueue.planning.plan import Plan, make_plan
from labqueue.planning.search import default_evaluations
from labqueue.planning.starts import (
    CUTS,
    Earliest,
    UnitStarts,
    all_starts,
    cut_runs,
    evening_restarts,
    rule_starts,
)
from labqueue.planning.units import Bottle, Problem, Run, Unit
from tests.planning.cases import DAY, OFFICE, bottle, bottles_of, instances, of_instance, problem, unit

EXAMPLES = settings(max_examples=20, deadline=None)


@st.composite
def choices(draw: st.DrawFn) -> Problem:
    """One or two units, starts to be chosen, sometimes from listed candidates, sometimes one given."""
    rack, topup = draw(st.integers(2, 12)), draw(st.booleans())
    units = tuple(
        unit(
            id=f"A{n}",
            startup_inj=draw(st.integers(0, 2)),
            qc_every=4,
            qc_inj=draw(st.integers(0, 2)),
            rack_positions=rack,
            topup=topup,
            turnaround_min=30,
        )
        for n in range(draw(st.integers(1, 2)))
    )
    grid = (480, 720, 1020, 1920, 2160, 2460, 3360)
    listed = {one.id: grid for one in units} if draw(st.booleans()) else {}
    runs = (Run("A0", 720, 2),) if draw(st.booleans()) else ()
    bottles = tuple(draw(bottles_of(2, 16)))
    return Problem(
        bottles, units, 3 * DAY, runs=runs, choose=True, candidates=listed, evaluations=60,
        earlier_first=draw(st.booleans()),
    )  # fmt: skip


def alone(plan: Plan) -> int:
    """What every bottle loses by itself, straight from the opening hours (or the listed starts)."""
    facts = plan.problem
    total = 0
    for one in facts.bottles:
        moments = [moment for u in facts.units for moment in moments_alone(facts, u, one)]
        first = min(moments, default=facts.horizon_end + 1)
        total += min(
            sum(step.weight for step in one.missed_at(first)),
            sum(step.weight for step in one.missed_outside(facts.horizon_end)),
        )
    return total


def moments_alone(facts: Problem, one: Unit, bottle: Bottle) -> list[int]:
    """The injection of one bottle in an empty laboratory, for every start there is."""
    starts = list(facts.candidates.get(one.id, ()))
    if not starts:
        # Receipts and injections of these cases lie on half hours, so other starts add nothing.
        starts = [m for opens, closes in one.opening.intervals for m in range(opens, closes + 1, 30)]
    starts += [run.start for run in facts.runs if run.unit == one.id]
    found = []
    for start in starts:
        samples = range(one.rack_limit) if one.topup else range(min(1, one.rack_limit))
        for sample in samples:
            moment = one.sample_moment(start, sample)
            if bottle.release <= one.load_moment(start, moment):
                found.append(moment)
    return found


@EXAMPLES
@given(choices())
def test_chosen_runs_are_possible(facts: Problem) -> None:
    plan = make_plan(facts)
    given_starts = {run[:2] for run in facts.runs}
    for one in facts.units:
        runs = sorted(run for run in plan.runs if run.unit == one.id)
        for run in runs:
            if run[:2] not in given_starts:
                assert one.opening.covers(run.start)
                assert run.start <= facts.horizon_end
                assert not facts.candidates or run.start in facts.candidates[one.id]
        for run, following in pairwise(runs):
            used = max((s.sample for s in plan.places.values() if s[2:4] == run[:2]), default=-1) + 1
            assert one.free_after(run.start, used) <= following.start


@EXAMPLES
@given(choices())
def test_chosen_starts_lose_no_more_than_the_rules_and_no_less_than_the_floor(facts: Problem) -> None:
    plan = make_plan(facts)
    units = [UnitStarts(one, facts) for one in sorted(facts.units, key=lambda one: one.id)]
    if all(len(one.steps) == 1 for one in facts.bottles):
        for state in rule_starts(units):
            starts = zip(units, state, strict=True)
            limits = {run[:2]: run for run in facts.runs}
            runs = [Run(u.unit.id, s) for u, all_ in starts for s in all_]
            by_rule = make_plan(
                replace(facts, runs=tuple(limits.get(run[:2], run) for run in runs), choose=False)
            )
            assert plan.missed_weight <= by_rule.missed_weight
    assert plan.missed_weight >= alone(plan)
    if plan.starts_proven:
        assert plan.missed_weight == alone(plan)


@EXAMPLES
@given(choices())
def test_the_same_facts_give_the_same_starts(facts: Problem) -> None:
    plan = make_plan(facts)
    turned = replace(facts, bottles=facts.bottles[::-1], units=facts.units[::-1])
    assert make_plan(turned).runs == plan.runs
    assert make_plan(turned).places == plan.places


@EXAMPLES
@given(choices(), st.integers(-5, 60))
def test_the_earliest_injection_is_the_earliest(facts: Problem, hour: int) -> None:
    units = [UnitStarts(one, facts) for one in facts.units]
    one = bottle("B", 60 * hour)
    found = [m for u in facts.units for m in moments_alone(facts, u, one)]
    claimed = Earliest(units, chosen=True).moment(one.release)
    if not found:
        assert claimed is None or any(u.topup for u in facts.units)
    elif not any(u.topup for u in facts.units) or facts.candidates:
        assert claimed == min(found)
    else:  # topped up, free starts: a bound, not always reached
        assert claimed is not None
        assert claimed <= min(found)


def test_the_rules_by_hand() -> None:
    """One day of 480 to 1020, 30 minutes a sample, closed tray of 4: runs of two hours."""
    one = UnitStarts(unit(rack_positions=4), problem([], horizon_end=DAY, choose=True))
    assert cut_runs(one, 4) == (480, 600, 720, 840, 960)
    assert cut_runs(one, 2) == tuple(range(480, 1021, 60))
    assert evening_restarts(one) == (480, 1020)
    assert len(list(rule_starts([one]))) == 7 == len(CUTS) + 2


def test_rules_work_around_a_given_run() -> None:
    facts = problem([], Run("A1", 540, 4), horizon_end=DAY, choose=True)
    one = UnitStarts(unit(rack_positions=4), facts)
    assert cut_runs(one, 4) == (480, 540, 660, 780, 900, 1020)
    assert evening_restarts(one) == (480, 540, 1020)


def test_an_evening_that_cannot_be_is_left_out() -> None:
    facts = problem([], Run("A1", 1000), horizon_end=DAY, choose=True)
    one = UnitStarts(unit(rack_positions=4, startup_inj=2), facts)
    assert evening_restarts(one) == (1000,)


def test_candidates_are_openings_hours_and_the_last_receipt_of_each_hour() -> None:
    bottles = [bottle("B", 500), bottle("C", 530), bottle("D", 1019), bottle("E", 2000)]
    one = UnitStarts(unit(), problem(bottles, horizon_end=DAY))
    assert one.candidates == (480, 530, 540, 600, 660, 720, 780, 840, 900, 960, 1019, 1020)
    assert UnitStarts(unit(free_from=930), problem([], horizon_end=DAY, now=940)).candidates == (940, 1000)


def test_days_without_a_break_are_cut_after_a_day() -> None:
    always = unit(opening=StaffedTimes(((0, 3 * DAY),)))
    days = UnitStarts(always, problem([], units=(always,), horizon_end=3 * DAY)).days()
    assert [(day[0], day[-1]) for day in days] == [
        (0, DAY - 60), (DAY, 2 * DAY - 60), (2 * DAY, 3 * DAY - 60), (3 * DAY, 3 * DAY),
    ]  # fmt: skip


def test_every_choice_is_listed_once() -> None:
    facts = problem([], horizon_end=DAY, candidates={"A1": (480, 500, 600)})
    one = UnitStarts(unit(startup_inj=1), facts)
    assert sorted(all_starts(one)) == [(), (480,), (480, 600), (500,), (500, 600), (600,)]


def test_a_tray_without_room_is_never_started() -> None:
    facts = problem([bottle("B", 0, (900, 1))], units=(unit(rack_positions=0),), choose=True)
    plan = make_plan(facts)
    assert (plan.runs, plan.places, plan.missed_weight, plan.starts_proven) == ((), {}, 1, True)


def test_a_run_waits_for_what_arrives_later() -> None:
    """Starting at once would shut the tray; with one start it is better to wait for the delivery."""
    bottles = [bottle(f"B{n}", 480, (2000, 1)) for n in range(3)]
    bottles += [bottle(f"C{n}", 700, (1300, 1)) for n in range(3)]
    facts = problem(bottles, choose=True, candidates={"A1": (480, 720)}, units=(unit(startup_inj=9),))
    plan = make_plan(facts)
    assert [run.start for run in plan.runs] == [720]
    assert plan.missed == ()
    assert plan.starts_proven


def test_few_runs_or_early_ones() -> None:
    """Three hours between two deliveries: one run late, or two, the first of them early."""
    bottles = [bottle("B", 480, (4000, 1)), bottle("C", 660, (4000, 1))]
    facts = problem(bottles, choose=True)
    assert [run.start for run in make_plan(facts).runs] == [660]
    assert [run.start for run in make_plan(replace(facts, earlier_first=True)).runs] == [480, 660]


def test_given_runs_stay_even_when_nobody_needs_them() -> None:
    plan = make_plan(problem([bottle("B", 481, (2000, 1))], Run("A1", 480, 5), choose=True))
    assert Run("A1", 480, 5) in plan.runs
    assert plan.missed == ()


@pytest.mark.parametrize("limit", [1, 40, 200])
def test_the_climb_stops_after_so_many_evaluations(limit: int) -> None:
    """Too few evaluations for listing every choice: the climb is still a plan, and not above its rules."""
    instance = next(one for one in instances("choose-runs") if one["id"].startswith("L10"))
    facts = replace(of_instance(instance), evaluations=limit)
    plan = make_plan(facts)
    assert plan.proven
    asap = instance["asap"]["optimal_order"]["missed_weight"]
    assert instance["optimum"]["missed_weight"] <= plan.missed_weight <= asap


def test_work_is_bounded_by_size() -> None:
    assert default_evaluations(10) > default_evaluations(1000) > default_evaluations(10**6) == 20


def test_opening_hours_of_the_horizon_only() -> None:
    one = UnitStarts(unit(), problem([], horizon_end=DAY))
    assert one.first_candidate(1021) is None  # tomorrow is behind the horizon
    assert OFFICE.next_at_or_after(1021) == 1920
    listed = UnitStarts(unit(), problem([], horizon_end=DAY, candidates={"A1": (500,)}))
    assert listed.first_candidate(500) == 500
    assert listed.first_candidate(501) is None
