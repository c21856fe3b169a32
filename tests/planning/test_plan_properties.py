"""Laws of every plan on given runs: it is a plan, nothing loses less, and nothing irrelevant matters."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from labqueue.planning.plan import Plan, make_plan
from labqueue.planning.starts import UnitStarts
from labqueue.planning.units import Bottle, Problem, Slot, Step
from tests.planning.cases import bottles_of, free_slots, pinned_to, problems, shifted, unit

EXAMPLES = settings(max_examples=60, deadline=None)
Loss = tuple[int, int]


def loss(plan: Plan) -> Loss:
    return plan.missed_weight, plan.missed_count


def cost(problem: Problem, bottle: Bottle, slot: Slot | None) -> Loss:
    """Missed weight and whether anything is missed, straight from the definition."""
    missed = bottle.missed_outside(problem.horizon_end) if slot is None else bottle.missed_at(slot.moment)
    return sum(step.weight for step in missed), int(bool(missed))


def optimum(problem: Problem) -> Loss:
    """The least loss by scipy's assignment solver: bottles against places and leaving out."""
    slots = free_slots(problem)
    bottles, big = problem.bottles, len(problem.bottles) + 1
    matrix = numpy.full((len(bottles), len(slots) + len(bottles)), 1e9)
    for row, bottle in enumerate(bottles):
        weight, count = cost(problem, bottle, None)
        matrix[row, len(slots) + row] = weight * big + count
        for column, slot in enumerate(slots):
            if bottle.release <= slot.load:
                weight, count = cost(problem, bottle, slot)
                matrix[row, column] = weight * big + count
    rows, columns = linear_sum_assignment(matrix)
    weight, count = divmod(round(matrix[rows, columns].sum()), big)
    return weight, count


def fewest_missed(problem: Problem) -> int:
    """The fewest bottles that must miss their first due moment, by augmenting paths."""
    slots = free_slots(problem)
    holder: dict[int, Bottle] = {}

    def place(bottle: Bottle, seen: set[int]) -> bool:
        for number, slot in enumerate(slots):
            in_time = bottle.release <= slot.load and slot.moment <= bottle.steps[0].deadline
            if in_time and number not in seen:
                seen.add(number)
                if number not in holder or place(holder[number], seen):
                    holder[number] = bottle
                    return True
        return False

    due = [bottle for bottle in problem.bottles if bottle.steps[0].deadline <= problem.horizon_end]
    return sum(not place(bottle, set()) for bottle in due)


Order = Callable[[Bottle, Slot], tuple[object, ...]]
BASELINES: dict[str, Order] = {
    "order of receipt": lambda bottle, slot: (bottle.release, bottle.id),
    "expiry": lambda bottle, slot: (bottle.steps[0].deadline, bottle.id),
    "expiry, expired last": lambda b, slot: (b.steps[0].deadline < slot.moment, b.steps[0].deadline, b.id),
    "priority": lambda bottle, slot: (-bottle.steps[0].weight, bottle.steps[0].deadline, bottle.id),
}


def baseline(problem: Problem, order: Order) -> Loss:
    """Each place in order of time takes the first loadable bottle of a queue."""
    waiting = list(problem.bottles)
    losses = []
    for slot in sorted(free_slots(problem), key=lambda slot: slot.moment):
        loadable = [bottle for bottle in waiting if bottle.release <= slot.load]
        if loadable:
            chosen = min(loadable, key=lambda bottle: order(bottle, slot))
            waiting.remove(chosen)
            losses.append(cost(problem, chosen, slot))
    losses += [cost(problem, bottle, None) for bottle in waiting]
    return sum(weight for weight, _ in losses), sum(count for _, count in losses)


@EXAMPLES
@given(problems())
def test_it_is_a_plan(problem: Problem) -> None:
    plan = make_plan(problem)
    by_id = {bottle.id: bottle for bottle in problem.bottles}
    assert len(set(plan.places.values())) == len(plan.places)
    assert set(plan.places.values()) <= set(free_slots(problem))
    for name, slot in plan.places.items():
        assert by_id[name].release <= slot.load <= slot.moment


@EXAMPLES
@given(problems())
def test_what_it_says_is_missed_is_what_is_missed(problem: Problem) -> None:
    plan = make_plan(problem)
    costs = [cost(problem, bottle, plan.places.get(bottle.id)) for bottle in problem.bottles]
    assert loss(plan) == (sum(weight for weight, _ in costs), sum(count for _, count in costs))


@EXAMPLES
@given(problems())
def test_no_bottle_waits_beside_a_free_place(problem: Problem) -> None:
    plan = make_plan(problem)
    free = set(free_slots(problem)) - set(plan.places.values())
    for bottle in problem.bottles:
        if bottle.id not in plan.places:
            outside = cost(problem, bottle, None)
            assert not any(bottle.release <= s.load and cost(problem, bottle, s) <= outside for s in free)


@EXAMPLES
@given(problems())
def test_a_closed_tray_has_no_hole(problem: Problem) -> None:
    plan = make_plan(problem)
    closed = {one.id for one in problem.units if not one.topup}
    taken: dict[tuple[str, int], set[int]] = {}
    for slot in plan.places.values():
        if slot.unit in closed:
            taken.setdefault((slot.unit, slot.start), set()).add(slot.sample)
    assert all(samples == set(range(len(samples))) for samples in taken.values())


@EXAMPLES
@given(problems(steps=3), st.sampled_from([0, 30]))
def test_the_price_certificate_holds(problem: Problem, margin: int) -> None:
    plan = make_plan(replace(problem, margin_min=margin))
    assert plan.proven
    assert all(certificate.holds() for certificate in plan.certificates.values())


@EXAMPLES
@given(problems(steps=3), st.sampled_from([0, 30, 90]))
def test_it_equals_the_assignment_solver_and_the_margin_costs_nothing(problem: Problem, margin: int) -> None:
    assert loss(make_plan(replace(problem, margin_min=margin))) == optimum(problem)


@EXAMPLES
@given(problems(steps=1))
def test_with_one_due_moment_the_number_is_the_least_too(problem: Problem) -> None:
    assert make_plan(problem).missed_count == fewest_missed(problem)


@EXAMPLES
@given(problems(), st.sampled_from(sorted(BASELINES)))
def test_no_simple_queue_loses_less(problem: Problem, name: str) -> None:
    weight, count = loss(make_plan(problem))
    queue_weight, queue_count = baseline(problem, BASELINES[name])
    assert weight <= queue_weight
    if all(len(bottle.steps) == 1 for bottle in problem.bottles):
        assert count <= queue_count


@EXAMPLES
@given(problems(), st.randoms(use_true_random=False), st.sampled_from([0, 30]))
def test_the_order_of_the_facts_does_not_matter(problem: Problem, random: object, margin: int) -> None:
    problem = replace(problem, margin_min=margin)
    parts = [list(problem.bottles), list(problem.units), list(problem.runs)]
    for part in parts:
        random.shuffle(part)  # type: ignore[attr-defined]
    mixed = replace(problem, bottles=tuple(parts[0]), units=tuple(parts[1]), runs=tuple(parts[2]))
    plan = make_plan(problem)
    assert make_plan(mixed).places == plan.places
    assert make_plan(problem).places == plan.places


@EXAMPLES
@given(problems(), st.integers(-5000, 5000))
def test_only_differences_of_time_matter(problem: Problem, by: int) -> None:
    places = make_plan(problem).places
    later = make_plan(shifted(problem, by)).places
    assert {name: (slot.unit, slot.moment + by) for name, slot in places.items()} == {
        name: (slot.unit, slot.moment) for name, slot in later.items()
    }


def reweighted(problem: Problem, weight: Callable[[Bottle, Step], int]) -> Problem:
    return replace(
        problem,
        bottles=tuple(
            replace(b, steps=tuple(step._replace(weight=weight(b, step)) for step in b.steps))
            for b in problem.bottles
        ),
    )


@EXAMPLES
@given(problems(steps=1))
def test_with_one_due_moment_only_the_order_of_weights_matters(problem: Problem) -> None:
    other = reweighted(problem, lambda _, step: step.weight**3 + 7)
    assert make_plan(other).places == make_plan(problem).places


@EXAMPLES
@given(problems(steps=1), st.data())
def test_a_bottle_in_time_stays_in_time_when_it_weighs_more(problem: Problem, data: st.DataObject) -> None:
    plan = make_plan(problem)
    missed = {missed.bottle for missed in plan.missed}
    kept = sorted(name for name in plan.places if name not in missed)
    if not kept:
        return
    chosen = data.draw(st.sampled_from(kept))
    heavier = make_plan(reweighted(problem, lambda b, step: step.weight + 10 * (b.id == chosen)))
    assert chosen not in {missed.bottle for missed in heavier.missed}
    assert loss(heavier) == loss(plan)


@EXAMPLES
@given(problems(most=10), st.data())
def test_more_room_and_fewer_demands_never_cost(problem: Problem, data: st.DataObject) -> None:
    plan = make_plan(problem)
    limited = [run for run in problem.runs if run.samples is not None]
    if limited:
        run = data.draw(st.sampled_from(limited))
        wider = tuple(r if r != run else r._replace(samples=(r.samples or 0) + 1) for r in problem.runs)
        assert loss(make_plan(replace(problem, runs=wider))) <= loss(plan)
    if not problem.bottles:
        return
    chosen = data.draw(st.sampled_from(problem.bottles))
    rest = tuple(bottle for bottle in problem.bottles if bottle != chosen)
    without = make_plan(replace(problem, bottles=rest))
    assert without.missed_weight <= plan.missed_weight
    assert plan.missed_weight - without.missed_weight <= sum(step.weight for step in chosen.steps)
    if all(len(bottle.steps) == 1 for bottle in problem.bottles):
        assert plan.missed_count - without.missed_count in (0, 1)
    easier = (
        replace(chosen, release=chosen.release - 120),
        replace(chosen, steps=tuple(step._replace(deadline=step.deadline + 90) for step in chosen.steps)),
    )
    for changed in easier:
        assert loss(make_plan(replace(problem, bottles=(*rest, changed)))) <= loss(plan)


@EXAMPLES
@given(problems(), bottles_of(2, 5, "cation"))
def test_the_other_line_does_not_matter(problem: Problem, others: list[Bottle]) -> None:
    both = replace(
        problem,
        bottles=(*problem.bottles, *others),
        units=(*problem.units, unit(id="C1", kind="cation")),
    )
    plan, alone = make_plan(both), make_plan(problem)
    assert {name: slot for name, slot in plan.places.items() if name.startswith("A")} == alone.places


@EXAMPLES
@given(problems(), st.data())
def test_pinning_the_plan_itself_costs_nothing(problem: Problem, data: st.DataObject) -> None:
    plan = make_plan(problem)
    names = data.draw(st.sets(st.sampled_from(sorted(plan.places)))) if plan.places else set()
    pinned = pinned_to(problem, {name: plan.places[name] for name in names})
    again = make_plan(pinned)
    assert loss(again) == loss(plan)
    assert all(again.places[name] == plan.places[name] for name in names)


@EXAMPLES
@given(problems())
def test_given_runs_stay_as_they_are(problem: Problem) -> None:
    plan = make_plan(problem)
    assert {run[:2] for run in plan.runs} == {run[:2] for run in problem.runs}
    for one in problem.units:
        starts = UnitStarts(one, problem).given
        assert all(one.capacity(a, b) >= 0 for a, b in pairwise(starts))
