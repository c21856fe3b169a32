"""A problem as plain data and back, so that a plan can be made again exactly as it was."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from typing import Any

from labqueue.hours import StaffedTimes
from labqueue.planning.units import Bottle, Pin, Problem, Run, Step, Unit

_UNIT_PLAIN = tuple(field.name for field in fields(Unit) if field.name != "opening")


def problem_to_data(problem: Problem) -> dict[str, Any]:
    """``problem`` as JSON holds it; the bounds on the work are not kept."""
    return {
        "now": problem.now,
        "horizon_end": problem.horizon_end,
        "margin_min": problem.margin_min,
        "choose": problem.choose,
        "units": [
            {
                **{name: getattr(unit, name) for name in _UNIT_PLAIN},
                "opening": [list(interval) for interval in unit.opening.intervals],
            }
            for unit in problem.units
        ],
        "bottles": [
            [bottle.id, bottle.kind, bottle.release, [list(step) for step in bottle.steps], bottle.group]
            for bottle in problem.bottles
        ],
        "runs": [list(run) for run in problem.runs],
        "pins": [list(pin) for pin in problem.pins],
    }


def problem_from_data(data: Mapping[str, Any]) -> Problem:
    """The problem that ``problem_to_data`` wrote."""
    units = tuple(
        Unit(
            opening=StaffedTimes(tuple((opens, closes) for opens, closes in unit["opening"])),
            **{name: unit[name] for name in _UNIT_PLAIN},
        )
        for unit in data["units"]
    )
    bottles = tuple(
        Bottle(number, kind, release, tuple(Step(*step) for step in steps), group)
        for number, kind, release, steps, group in data["bottles"]
    )
    return Problem(
        bottles=bottles,
        units=units,
        horizon_end=data["horizon_end"],
        runs=tuple(Run(*run) for run in data["runs"]),
        choose=data["choose"],
        pins=tuple(Pin(*pin) for pin in data["pins"]),
        margin_min=data["margin_min"],
        now=data["now"],
    )


def with_runs(problem: Problem, runs: tuple[Run, ...], pins: tuple[Pin, ...]) -> Problem:
    """``problem`` on exactly these runs, nothing to be chosen."""
    return replace(problem, runs=runs, pins=pins, choose=False)
