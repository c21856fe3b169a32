"""What the planner's tests build from: units, bottles, random problems, literal counting."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from labqueue.hours import StaffedTimes
from labqueue.planning.starts import UnitStarts
from labqueue.planning.units import Bottle, Pin, Problem, Run, Slot, Step, Unit

DAY = 1440
OFFICE = StaffedTimes.of((day * DAY + 480, day * DAY + 1020) for day in range(5))
INSTANCES = Path(__file__).parent.parent / "outside" / "data" / "planning.json"


def unit(**changes: Any) -> Unit:
    """A unit without overheads: 30 minutes per sample, first sample at once."""
    plain = Unit(
        id="A1", kind="anion", inject_min=30, equil_min=0, startup_inj=0, qc_every=10, qc_inj=0,
        batch_every=20, batch_inj=0, rack_positions=100, reserved_positions=0, turnaround_min=0,
        topup=False, free_from=0, opening=OFFICE,
    )  # fmt: skip
    return replace(plain, **changes)


def bottle(name: str, release: int, *steps: tuple[int, int], kind: str = "anion", group: str = "") -> Bottle:
    return Bottle(name, kind, release, tuple(Step(*step) for step in steps), group)


def problem(bottles: list[Bottle], *runs: Run, units: tuple[Unit, ...] = (unit(),), **more: Any) -> Problem:
    return Problem(tuple(bottles), units, more.pop("horizon_end", 3 * DAY), runs=runs, **more)


def instances(family: str) -> list[dict[str, Any]]:
    found = json.loads(INSTANCES.read_text(encoding="utf-8"))["instances"]
    return [instance for instance in found if instance["family"] == family]


def of_instance(instance: dict[str, Any]) -> Problem:
    """The problem of a stored instance."""
    units = tuple(
        Unit(**{**fields, "opening": StaffedTimes.of(map(tuple, fields["opening"]))})
        for fields in instance["units"]
    )
    kinds = {"a": "anion", "c": "cation"}
    bottles = []
    for number, (kind, release, _, *steps) in enumerate(instance["bottles"], 1):
        pairs = tuple(Step(*pair) for pair in zip(steps[::2], steps[1::2], strict=True))
        bottles.append(Bottle(f"B{number:04}", kinds[kind], release, pairs))
    given, candidates = instance.get("run_starts", {}), instance.get("start_candidates", {})
    return Problem(
        tuple(bottles),
        units,
        instance["horizon_end"],
        runs=tuple(Run(name, start) for name, starts in given.items() for start in starts),
        choose=bool(candidates),
        candidates={name: tuple(starts) for name, starts in candidates.items()},
    )


def free_slots(problem: Problem, kind: str = "anion") -> list[Slot]:
    """Every place of the given runs that is not pinned."""
    units = [UnitStarts(one, problem) for one in problem.units if one.kind == kind]
    return sorted(slot for one in units for slot in one.slots(one.given))


def shifted(problem: Problem, by: int) -> Problem:
    """The same problem some minutes later."""
    return replace(
        problem,
        bottles=tuple(
            replace(
                b, release=b.release + by, steps=tuple(s._replace(deadline=s.deadline + by) for s in b.steps)
            )
            for b in problem.bottles
        ),
        units=tuple(
            replace(
                u,
                free_from=u.free_from + by,
                opening=StaffedTimes.of((opens + by, closes + by) for opens, closes in u.opening.intervals),
            )
            for u in problem.units
        ),
        horizon_end=problem.horizon_end + by,
        runs=tuple(run._replace(start=run.start + by) for run in problem.runs),
        pins=tuple(pin._replace(start=pin.start + by) for pin in problem.pins),
    )


def pinned_to(problem: Problem, places: dict[str, Slot]) -> Problem:
    """The same problem with some bottles pinned to these places."""
    pins = tuple(Pin(name, slot.unit, slot.start, slot.sample) for name, slot in places.items())
    return replace(problem, pins=pins)


@st.composite
def units_of(draw: st.DrawFn, name: str, kind: str = "anion") -> Unit:
    return Unit(
        id=name,
        kind=kind,
        inject_min=draw(st.sampled_from([10, 20, 30])),
        equil_min=draw(st.sampled_from([0, 30])),
        startup_inj=draw(st.integers(0, 3)),
        qc_every=draw(st.integers(1, 4)),
        qc_inj=draw(st.integers(0, 2)),
        batch_every=draw(st.integers(1, 5)),
        batch_inj=draw(st.integers(0, 2)),
        rack_positions=draw(st.integers(2, 14)),
        reserved_positions=draw(st.integers(0, 2)),
        turnaround_min=draw(st.sampled_from([0, 30])),
        topup=draw(st.booleans()),
        free_from=0,
        opening=OFFICE,
    )


@st.composite
def bottles_of(draw: st.DrawFn, steps: int, most: int = 14, kind: str = "anion") -> list[Bottle]:
    found = []
    for number in range(draw(st.integers(0, most))):
        # Coarse moments make ties and exact hits common.
        release = 60 * draw(st.integers(-2, 50))
        deadlines = sorted(
            draw(st.lists(st.integers(-4, 100), min_size=1, max_size=steps, unique=True))
        )  # fmt: skip
        pairs = tuple(Step(30 * deadline, draw(st.integers(1, 5))) for deadline in deadlines)
        group = draw(st.sampled_from(["", "north", "south"]))
        found.append(Bottle(f"{kind[0].upper()}{number:02}", kind, release, pairs, group))
    return found


@st.composite
def problems(draw: st.DrawFn, steps: int = 2, most: int = 14) -> Problem:
    """A small problem with given runs: one to three anion units, three days."""
    units = tuple(draw(units_of(f"A{number}")) for number in range(draw(st.integers(1, 3))))
    bottles = tuple(draw(bottles_of(steps, most)))
    empty = Problem(bottles, units, 3 * DAY)
    runs = []
    for one in units:
        starts: tuple[int, ...] = ()
        for start in sorted(
            draw(st.sets(st.sampled_from([480, 540, 720, 1020, 1920, 2400, 3360]), max_size=3))
        ):
            if UnitStarts(one, empty).possible((*starts, start)):
                starts = (*starts, start)
        runs.extend(Run(one.id, start, draw(st.sampled_from([None, 1, 4]))) for start in starts)
    return replace(empty, runs=tuple(runs))
