"""What would change: one more run, an earlier start, a bottle moved by hand."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import chain
from operator import itemgetter
from typing import NamedTuple

from labqueue.planning.board import Board, fill
from labqueue.planning.losses import Scale, jobs_of
from labqueue.planning.plan import Plan, make_plan
from labqueue.planning.starts import Starts, UnitStarts, with_start
from labqueue.planning.units import Bottle, PlanningError, Problem, Run, Slot, Step


@dataclass(frozen=True, slots=True)
class Saving:
    """A change of starts and what it saves: ``earlier_than`` is the start it replaces, None for one
    more run. With priorities fewer ``clocks`` may weigh more, so that it can be negative.
    """

    run: Run
    earlier_than: int | None
    weight: int
    bottles: int
    clocks: int


@dataclass(frozen=True, slots=True)
class Move:
    """The effect of moving one bottle: who stands where then, what is lost and what is gained."""

    places: dict[str, Slot | None]
    lost: tuple[tuple[str, Step], ...]
    gained: tuple[tuple[str, Step], ...]


RETRIED = 3
"""Changes planned anew of those that the greedy filling ranks first (with one due moment it is exact)."""


def savings(plan: Plan) -> tuple[Saving | None, Saving | None]:
    """(best one more run, best earlier start), planned anew; None where nothing is saved.

    Only lines that miss something are looked at, and only starts the plan itself has chosen moved.
    """
    missed_kinds = {_bottle(plan.problem, missed.bottle).kind for missed in plan.missed}
    ranked = [ranked for kind in sorted(missed_kinds) for ranked in _Line(plan, kind).changes()]
    ranked.sort(key=itemgetter(0))
    more = [change for _, change in ranked if change.earlier_than is None]
    earlier = [change for _, change in ranked if change.earlier_than is not None]
    return _best(plan, more[:RETRIED]), _best(plan, earlier[:RETRIED])


def _best(plan: Plan, changes: Iterable[_Change]) -> Saving | None:
    found = [saving for change in changes if (saving := _saving(plan, change)).weight > 0]
    return max(found, key=lambda saving: (saving.weight, saving.bottles), default=None)


class _Change(NamedTuple):
    run: Run
    earlier_than: int | None


def _saving(plan: Plan, change: _Change) -> Saving:
    given = {run[:2]: run for run in plan.problem.runs}
    runs = [given.get(run[:2], Run(run.unit, run.start)) for run in plan.runs]
    runs = [run for run in runs if run[:2] != (change.run.unit, change.earlier_than)]
    after = make_plan(replace(plan.problem, runs=(*runs, change.run), choose=False))
    weight, bottles = plan.missed_weight - after.missed_weight, plan.missed_count - after.missed_count
    clocks = plan.missed_clocks - after.missed_clocks
    return Saving(change.run, change.earlier_than, weight, bottles, clocks)


class _Line:
    """The units and bottles of one line, to rank changes of its starts."""

    def __init__(self, plan: Plan, kind: str) -> None:
        problem = plan.problem
        self._units = [UnitStarts(unit, problem) for unit in problem.units if unit.kind == kind]
        self._starts = [
            tuple(sorted(run.start for run in plan.runs if run.unit == unit.unit.id)) for unit in self._units
        ]
        waiting = [job.bottle for job in plan.certificates[kind].jobs]
        self._jobs = jobs_of(waiting, Scale.for_bottles(problem.bottles), problem.horizon_end, 0, problem.now)

    def changes(self) -> Iterator[tuple[int, _Change]]:
        """(loss by greedy filling, change) for every possible change."""
        for index, unit in enumerate(self._units):
            starts = self._starts[index]
            for candidate in unit.candidates:
                if candidate in starts:
                    continue
                run = Run(unit.unit.id, candidate)
                later = next((s for s in starts if s > candidate and s not in unit.given), None)
                more = with_start(starts, candidate)
                moved = tuple(start for start in more if start != later)
                if unit.possible(more):
                    yield self._loss(index, more), _Change(run, None)
                if later is not None and unit.possible(moved):
                    yield self._loss(index, moved), _Change(run, later)

    def _loss(self, index: int, changed: Starts) -> int:
        starts = [*self._starts[:index], changed, *self._starts[index + 1 :]]
        places = (unit.places(of_unit) for unit, of_unit in zip(self._units, starts, strict=True))
        filled = fill(Board(sorted(chain.from_iterable(places))), self._jobs, [0] * len(self._jobs))
        return 0 if filled is None else filled[0]


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
