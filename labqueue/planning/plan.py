"""The entry: from the facts to a plan, its losses and its proof.

For given runs the plan is optimal (greedy filling, exchange, tidying; the prices prove it). Starts
are chosen by :mod:`labqueue.planning.search`. The lines do not touch each other and are planned one
by one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from labqueue.planning.board import Board, fill
from labqueue.planning.exchange import FREE, Exchange
from labqueue.planning.losses import Job, Scale, jobs_of
from labqueue.planning.proof import Certificate
from labqueue.planning.search import Search, default_evaluations
from labqueue.planning.starts import Earliest, FirstMoments, Starts, UnitStarts, runs_of
from labqueue.planning.tidy import Tidy
from labqueue.planning.units import Bottle, PlanningError, Problem, Run, Slot, Step


class Reason(StrEnum):
    """Why a due moment is missed. Only the last is a matter of who comes first."""

    TOO_LATE_TO_ACT = "lost before we could act"
    NO_RUN_IN_TIME = "no run in time"
    CROWDED_OUT = "crowded out"


@dataclass(frozen=True, slots=True)
class Missed:
    """A due moment that the plan misses; ``moment`` is the injection, None without a place.

    ``possible`` is the earliest injection there could have been: in an empty laboratory if the
    bottle was lost before we could act, else alone on the planned runs; None if there is none.
    """

    bottle: str
    step: Step
    moment: int | None
    reason: Reason
    possible: int | None


@dataclass(frozen=True, slots=True)
class Plan:
    """The places of all bottles, what is missed and why, and how far that is proven.

    ``places`` includes pinned bottles. ``proven``: on these runs no plan misses less weight, nor,
    at that weight, fewer bottles. ``starts_proven``: nor does any other choice of starts.
    """

    problem: Problem
    runs: tuple[Run, ...]
    places: Mapping[str, Slot]
    missed: tuple[Missed, ...]
    certificates: Mapping[str, Certificate]
    proven: bool
    starts_proven: bool

    @property
    def missed_weight(self) -> int:
        return sum(missed.step.weight for missed in self.missed)

    @property
    def missed_clocks(self) -> int:
        return sum(missed.step.clocks for missed in self.missed)

    @property
    def missed_count(self) -> int:
        return len({missed.bottle for missed in self.missed})

    @property
    def without_place(self) -> tuple[str, ...]:
        return tuple(bottle.id for bottle in self.problem.bottles if bottle.id not in self.places)

    def spare_min(self, bottle: Bottle) -> int | None:
        """Minutes between its injection and its next due moment still kept; None if there is none."""
        place = self.places.get(bottle.id)
        if place is None:
            return None
        spare = (step.deadline - place.moment for step in bottle.steps)
        return min((minutes for minutes in spare if minutes >= 0), default=None)


@dataclass(frozen=True, slots=True)
class _Line:
    """The plan of one line, before the lines are put together."""

    runs: tuple[Run, ...]
    places: dict[str, Slot]
    missed: list[Missed]
    certificate: Certificate
    proven: bool
    starts_proven: bool


def make_plan(problem: Problem) -> Plan:
    """Plan every line; raises PlanningError where the facts contradict each other."""
    scale = Scale.for_bottles(problem.bottles)
    units = [UnitStarts(unit, problem) for unit in sorted(problem.units, key=lambda unit: unit.id)]
    _check_pins(problem)
    lines = {
        kind: _plan_line(
            problem,
            [unit for unit in units if unit.unit.kind == kind],
            [bottle for bottle in problem.bottles if bottle.kind == kind],
            scale,
        )
        for kind in sorted({u.kind for u in problem.units} | {b.kind for b in problem.bottles})
    }
    return Plan(
        problem=problem,
        runs=tuple(sorted(run for line in lines.values() for run in line.runs)),
        places={bottle: slot for line in lines.values() for bottle, slot in line.places.items()},
        missed=tuple(missed for line in lines.values() for missed in line.missed),
        certificates={kind: line.certificate for kind, line in lines.items()},
        proven=all(line.proven for line in lines.values()),
        starts_proven=all(line.proven and line.starts_proven for line in lines.values()),
    )


def _check_pins(problem: Problem) -> None:
    kinds = {bottle.id: bottle.kind for bottle in problem.bottles}
    units = {unit.id: unit for unit in problem.units}
    for pin in problem.pins:
        unit = units[pin.unit]
        if kinds[pin.bottle] != unit.kind:
            raise PlanningError(
                f"Bottle {pin.bottle} is for the {kinds[pin.bottle]} line, "
                f"but unit {unit.id} belongs to the {unit.kind} line."
            )


def _plan_line(
    problem: Problem, units: Sequence[UnitStarts], bottles: Sequence[Bottle], scale: Scale
) -> _Line:
    pinned = _pinned_places(problem, units)
    fixed = {bottle.id: pinned[bottle.id] for bottle in bottles if bottle.id in pinned}
    waiting = [bottle for bottle in bottles if bottle.id not in pinned]
    # Starts and the first filling look at the true due moments; the exchange adds the margin.
    firm = jobs_of(waiting, scale, problem.horizon_end, 0, problem.now)
    jobs = jobs_of(waiting, scale, problem.horizon_end, problem.margin_min, problem.now)
    earliest = Earliest(units, chosen=problem.choose)
    rungs = [_first_rung(job, earliest.moment(job.release)) for job in firm]
    floor = sum(job.loss_of(rung) for job, rung in zip(firm, rungs, strict=True))

    state = _starts(problem, units, firm, rungs)
    slots = sorted(slot for unit, starts in zip(units, state, strict=True) for slot in unit.slots(starts))
    exchange = Exchange(jobs, slots, _filled(slots, firm, rungs))
    outcome = exchange.run(problem.rounds)
    sitters = Tidy(jobs, slots, exchange.seats).run()

    seats = {jobs[rank].bottle.id: slots[place] for place, rank in enumerate(sitters) if rank != FREE}
    prices = {slots[place]: price for place, price in outcome.prices.items()}
    places = fixed | seats
    return _Line(
        runs=_runs_kept(problem, units, state, places),
        places=places,
        missed=_missed(problem, bottles, firm, places, slots, earliest),
        certificate=Certificate(tuple(jobs), tuple(slots), seats, prices),
        proven=outcome.proven,
        starts_proven=_firm_loss(firm, seats) == floor,
    )


def _pinned_places(problem: Problem, units: Sequence[UnitStarts]) -> dict[str, Slot]:
    by_id = {unit.unit.id: unit for unit in units}
    return {
        pin.bottle: by_id[pin.unit].slot(pin.start, pin.sample) for pin in problem.pins if pin.unit in by_id
    }


def _filled(slots: Sequence[Slot], jobs: Sequence[Job], rungs: Sequence[int]) -> list[int]:
    """The bottle on each place, or FREE, by greedy filling."""
    board = Board(slot[:2] for slot in slots)
    fill(board, jobs, rungs)
    sitters = [FREE] * len(slots)
    for place, rank in board.seats():
        sitters[place] = rank
    return sitters


def _firm_loss(jobs: Sequence[Job], seats: Mapping[str, Slot]) -> int:
    places = [seats.get(job.bottle.id) for job in jobs]
    return sum(
        job.outside if place is None else job.loss_of(job.rung_at(place.moment))
        for job, place in zip(jobs, places, strict=True)
    )


def _first_rung(job: Job, moment: int | None) -> int:
    """The best rung that can be reached at all, ``moment`` being the earliest injection possible."""
    return len(job.latest) if moment is None else job.rung_at(moment)


def _starts(
    problem: Problem, units: Sequence[UnitStarts], jobs: Sequence[Job], rungs: Sequence[int]
) -> tuple[Starts, ...]:
    if not problem.choose:
        return tuple(unit.given for unit in units)
    search = Search(units, jobs, rungs, earlier_first=problem.earlier_first)
    evaluations = default_evaluations(len(jobs)) if problem.evaluations is None else problem.evaluations
    return search.run(evaluations)


def _runs_kept(
    problem: Problem, units: Sequence[UnitStarts], state: Sequence[Starts], places: Mapping[str, Slot]
) -> tuple[Run, ...]:
    """Given runs with what they can hold; chosen runs only if somebody is on them."""
    used = {slot[2:4] for slot in places.values()}
    given = {run[:2] for run in problem.runs}
    return tuple(run for run in runs_of(units, state) if run[:2] in used | given)


def _missed(
    problem: Problem,
    bottles: Sequence[Bottle],
    jobs: Sequence[Job],
    places: Mapping[str, Slot],
    slots: Sequence[Slot],
    earliest: Earliest,
) -> list[Missed]:
    releases = {job.bottle.id: job.release for job in jobs}
    planned = FirstMoments(slot[:2] for slot in slots)
    found = []
    for bottle in sorted(bottles, key=lambda bottle: bottle.id):
        place = places.get(bottle.id)
        missed_from = problem.horizon_end + 1 if place is None else place.moment
        release = releases.get(bottle.id, bottle.release)
        alone, first = earliest.moment(release), planned.after(release)
        moment = None if place is None else place.moment
        for step in bottle.missed_at(missed_from):
            reason, possible = _reason(step, alone, first)
            found.append(Missed(bottle.id, step, moment, reason, possible))
    return found


def _reason(step: Step, alone: int | None, first: int | None) -> tuple[Reason, int | None]:
    if alone is None or alone > step.deadline:
        return Reason.TOO_LATE_TO_ACT, alone
    if first is None or first > step.deadline:
        return Reason.NO_RUN_IN_TIME, first
    return Reason.CROWDED_OUT, first
