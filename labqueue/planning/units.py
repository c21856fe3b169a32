"""The facts a plan is made of: units, bottles, runs, and the moments at which samples go in.

All moments are whole minutes since one origin in UTC (:mod:`labqueue.hours` converts), so a holding
time is a plain difference. The numbers of a unit are the laboratory's own; nothing here is assumed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from labqueue.hours import StaffedTimes


class PlanningError(ValueError):
    """The facts contradict each other; the sentence says where and what to change."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One instrument of one line.

    ``kind`` is its line. Times in minutes, counts in injections or tray positions:
    ``equil_min`` passes before the ``startup_inj`` start-up injections; after each ``qc_every``
    samples come ``qc_inj`` injections (check standard, blank), after each ``batch_every`` samples
    ``batch_inj`` (duplicate, spike). ``reserved_positions`` of the ``rack_positions`` hold
    standards and blanks; duplicates and spikes need positions of their own. ``topup``: bottles may
    be added while it runs. ``free_from``: earliest moment of its next start.
    """

    id: str
    kind: str
    inject_min: int
    equil_min: int
    startup_inj: int
    qc_every: int
    qc_inj: int
    batch_every: int
    batch_inj: int
    rack_positions: int
    reserved_positions: int
    turnaround_min: int
    topup: bool
    free_from: int
    opening: StaffedTimes

    def __post_init__(self) -> None:
        for name in ("inject_min", "qc_every", "batch_every"):
            if getattr(self, name) < 1:
                raise PlanningError(f"Unit {self.id}: {name} must be 1 or more.")
        for name in (
            "equil_min",
            "startup_inj",
            "qc_inj",
            "batch_inj",
            "rack_positions",
            "reserved_positions",
            "turnaround_min",
        ):
            if getattr(self, name) < 0:
                raise PlanningError(f"Unit {self.id}: {name} must not be negative.")

    @property
    def lead_min(self) -> int:
        """Minutes from the start of a run to the injection of its first sample."""
        return self.equil_min + self.inject_min * self.startup_inj

    @property
    def rack_limit(self) -> int:
        """The most samples one tray holds beside standards, duplicates and spikes."""
        room = max(0, self.rack_positions - self.reserved_positions)
        batches, rest = divmod(room, self.batch_every + self.batch_inj)
        return batches * self.batch_every + max(0, rest - self.batch_inj)

    def sample_moment(self, start: int, sample: int) -> int:
        """When sample number ``sample`` (from 0) of a run started at ``start`` is injected."""
        between = self.qc_inj * (sample // self.qc_every) + self.batch_inj * (sample // self.batch_every)
        return start + self.lead_min + self.inject_min * (sample + between)

    def end(self, start: int, samples: int) -> int:
        """When a run of ``samples`` ends; unfinished groups get their own closing injections."""
        between = self.qc_inj * -(-samples // self.qc_every)
        between += self.batch_inj * -(-samples // self.batch_every)
        return start + self.lead_min + self.inject_min * (samples + between)

    def free_after(self, start: int, samples: int) -> int:
        """The earliest moment of the next start after a run of ``samples``."""
        return self.end(start, samples) + self.turnaround_min

    def capacity(self, start: int, next_start: int | None) -> int:
        """How many samples fit on the tray and before ``next_start``; -1 if not even the start-up."""
        low, high = -1, self.rack_limit
        if next_start is None:
            return high
        while low < high:
            middle = (low + high + 1) // 2
            if self.free_after(start, middle) <= next_start:
                low = middle
            else:
                high = middle - 1
        return low

    def load_moment(self, start: int, moment: int) -> int:
        """The last moment a bottle can be put on the tray to be injected at ``moment``."""
        if not self.topup:
            return start
        staffed = self.opening.last_at_or_before(moment)
        return start if staffed is None else max(start, staffed)


class Step(NamedTuple):
    """A due moment of a bottle and what missing it weighs; ``name`` says whose clock it is.

    ``clocks`` is how many clocks end then; what they weigh may be more, never less.
    """

    deadline: int
    weight: int
    name: str = ""
    clocks: int = 1


@dataclass(frozen=True, slots=True)
class Bottle:
    """One bottle waiting for one injection; it can be put on a tray from ``release`` on.

    An injection exactly at a deadline is in time. ``group`` keeps bottles together where that
    costs nothing.
    """

    id: str
    kind: str
    release: int
    steps: tuple[Step, ...]
    group: str = ""

    def __post_init__(self) -> None:
        if any(step.weight < 1 for step in self.steps):
            raise PlanningError(f"Bottle {self.id}: a weight must be 1 or more.")
        if list(self.steps) != sorted(self.steps, key=lambda step: step.deadline):
            raise PlanningError(f"Bottle {self.id}: list its due moments earliest first.")

    def missed_at(self, moment: int) -> tuple[Step, ...]:
        """The steps that an injection at ``moment`` misses."""
        return tuple(step for step in self.steps if step.deadline < moment)

    def missed_outside(self, horizon_end: int) -> tuple[Step, ...]:
        """The steps missed without a place: later ones are left to the next plan."""
        return tuple(step for step in self.steps if step.deadline <= horizon_end)


class Run(NamedTuple):
    """A run of a unit; ``samples`` limits it below what tray and next start allow.

    Chosen starts never cut a given run short: without a limit it keeps the unit for a full tray.
    """

    unit: str
    start: int
    samples: int | None = None


class Slot(NamedTuple):
    """A sample position of a run: injected at ``moment``, on the tray not later than ``load``."""

    load: int
    moment: int
    unit: str
    start: int
    sample: int


class Pin(NamedTuple):
    """A bottle that stays where it is put: sample number ``sample`` of the run at ``start``."""

    bottle: str
    unit: str
    start: int
    sample: int


@dataclass(frozen=True, slots=True)
class Problem:
    """What is to be planned.

    ``runs`` are given (running, or fixed by the manager). With ``choose`` further starts are
    chosen, from ``candidates`` of a unit where given, else from all its opening hours.
    Bottles not pinned are not loaded before ``now``. ``margin_min``: minutes a plan tries to keep
    between injection and due moment; it never loses a clock for it. ``earlier_first`` prefers
    early injections to few runs. ``evaluations`` and ``rounds`` bound the work, not the clock, so
    that the same facts give the same plan.
    """

    bottles: tuple[Bottle, ...]
    units: tuple[Unit, ...]
    horizon_end: int
    runs: tuple[Run, ...] = ()
    choose: bool = False
    candidates: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    pins: tuple[Pin, ...] = ()
    margin_min: int = 0
    now: int | None = None
    earlier_first: bool = False
    evaluations: int | None = None
    rounds: int = 100_000

    def __post_init__(self) -> None:
        _refuse_repeats("Bottle", [bottle.id for bottle in self.bottles])
        _refuse_repeats("Unit", [unit.id for unit in self.units])
        _refuse_repeats("Pinned bottle", [pin.bottle for pin in self.pins])
        _refuse_repeats("Pinned place", [str(pin[1:]) for pin in self.pins])
        _refuse_repeats("Run", [str(run[:2]) for run in self.runs])
        known = {unit.id for unit in self.units}
        for run in self.runs:
            if run.unit not in known:
                raise PlanningError(f"The run at {run.start} names unit {run.unit}, which is not planned.")
        bottles = {bottle.id for bottle in self.bottles}
        for pin in self.pins:
            if pin.bottle not in bottles:
                raise PlanningError(f"Pinned bottle {pin.bottle} is not among the bottles to plan.")
            if (pin.unit, pin.start) not in {run[:2] for run in self.runs}:
                raise PlanningError(
                    f"Bottle {pin.bottle} is pinned to unit {pin.unit} at {pin.start}, where no run is given."
                )


def _refuse_repeats(what: str, names: list[str]) -> None:
    for name, count in Counter(names).items():
        if count > 1:
            raise PlanningError(f"{what} {name} is given twice.")
