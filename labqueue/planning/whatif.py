"""What would change: one more run, an earlier start, a bottle moved by hand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from labqueue.planning.plan import Plan, make_plan
from labqueue.planning.starts import UnitStarts, with_start
from labqueue.planning.units import Bottle, PlanningError, Problem, Run, Slot, Step


@dataclass(frozen=True, slots=True)
class Saving:
    """A change of starts and what it saves: ``earlier_than`` is the start it replaces, None for one
    more run.
    """

    run: Run
    earlier_than: int | None
    weight: int
    bottles: int


@dataclass(frozen=True, slots=True)
class Move:
    """The effect of moving one bottle: who stands where then, what is lost and what is gained."""

    places: dict[str, Slot | None]
    lost: tuple[tuple[str, Step], ...]
    gained: tuple[tuple[str, Step], ...]


def savings(plan: Plan) -> tuple[Saving | None, Saving | None]:
    """(best one more run, best earlier start), each planned anew; None where nothing is saved."""
    more: Saving | None = None
    earlier: Saving | None = None
    for change, earlier_than, runs in _changes(plan):
        after = make_plan(replace(plan.problem, runs=runs, choose=False))
        weight, bottles = plan.missed_weight - after.missed_weight, plan.missed_count - after.missed_count
        if weight <= 0:
            continue
        saving = Saving(change, earlier_than, weight, bottles)
        if earlier_than is None:
            more = _better(more, saving)
        else:
            earlier = _better(earlier, saving)
    return more, earlier


def _better(one: Saving | None, two: Saving) -> Saving:
    return two if one is None or (two.weight, two.bottles) > (one.weight, one.bottles) else one


def _changes(plan: Plan) -> Iterator[tuple[Run, int | None, tuple[Run, ...]]]:
    """(changed run, the start it replaces, all runs then)."""
    problem = plan.problem
    given = {run[:2]: run for run in problem.runs}
    runs = tuple(given.get(run[:2], Run(run.unit, run.start)) for run in plan.runs)
    missed_kinds = {_bottle(problem, missed.bottle).kind for missed in plan.missed}
    for unit in problem.units:
        if unit.kind not in missed_kinds:
            continue
        options = UnitStarts(unit, problem)
        starts = tuple(sorted(run.start for run in runs if run.unit == unit.id))
        for candidate in options.candidates:
            if candidate in starts:
                continue
            run = Run(unit.id, candidate)
            if options.possible(with_start(starts, candidate)):
                yield run, None, (*runs, run)
            later = next((s for s in starts if s > candidate and s not in options.given), None)
            rest = tuple(start for start in starts if start != later)
            if later is not None and options.possible(with_start(rest, candidate)):
                yield run, later, (*(r for r in runs if r[:2] != (unit.id, later)), run)


def preview_move(plan: Plan, bottle_id: str, target: Slot) -> Move:
    """Put a bottle on a place by hand; whoever sits there takes its old place if it can, else none.

    Raises PlanningError where the bottle cannot be on that tray in time to be loaded.
    """
    problem = plan.problem
    bottle = _bottle(problem, bottle_id)
    unit = next((unit for unit in problem.units if unit.id == target.unit), None)
    if unit is None or unit.kind != bottle.kind:
        raise PlanningError(f"Bottle {bottle_id} is for the {bottle.kind} line; choose a unit of that line.")
    if not _loadable(problem, bottle, target):
        raise PlanningError(
            f"Bottle {bottle_id} is not there yet when this place is loaded; choose a later run."
        )
    old = plan.places.get(bottle_id)
    places: dict[str, Slot | None] = {bottle_id: target}
    sitter = next((other for other, slot in plan.places.items() if slot == target), bottle_id)
    if sitter != bottle_id:
        fits = old is not None and _loadable(problem, _bottle(problem, sitter), old)
        places[sitter] = old if fits else None
    lost: list[tuple[str, Step]] = []
    gained: list[tuple[str, Step]] = []
    for moved, slot in places.items():
        before = _missed(problem, _bottle(problem, moved), plan.places.get(moved))
        after = _missed(problem, _bottle(problem, moved), slot)
        lost.extend((moved, step) for step in after if step not in before)
        gained.extend((moved, step) for step in before if step not in after)
    return Move(places, tuple(lost), tuple(gained))


def _bottle(problem: Problem, bottle_id: str) -> Bottle:
    for bottle in problem.bottles:
        if bottle.id == bottle_id:
            return bottle
    raise PlanningError(f"Bottle {bottle_id} is not in this plan.")


def _loadable(problem: Problem, bottle: Bottle, slot: Slot) -> bool:
    release = bottle.release if problem.now is None else max(bottle.release, problem.now)
    return release <= slot.load


def _missed(problem: Problem, bottle: Bottle, slot: Slot | None) -> tuple[Step, ...]:
    return bottle.missed_outside(problem.horizon_end) if slot is None else bottle.missed_at(slot.moment)
