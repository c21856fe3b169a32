"""The demo laboratory's bench: its usual units, and one run planned for the bottles for cations."""

from __future__ import annotations

from datetime import datetime

from intake.choices import Role
from intake.models import User
from labqueue.actions.accepting import accept_plan
from labqueue.actions.equipping import make_usual_units
from labqueue.actions.proposing import propose_plan
from labqueue.actions.running import cancel_run
from labqueue.models import Run

#: Long enough that some day of it is a working day, whatever day the demo is loaded on.
DAYS = 4


def set_up_bench(*, at: datetime) -> list[Run]:
    """Make the units and plan one run of the cation unit; the anion queue is left to the visitor."""
    manager = User.objects.filter(role=Role.MANAGER, is_active=True).order_by("pk")[0]
    units = make_usual_units(by=manager, at=at)
    cation = [unit for unit in units if unit.line == "cation"]
    draft = propose_plan(cation, DAYS, by=manager, at=at)
    first, *others = accept_plan(draft, by=manager, at=at, version=draft.version)
    for run in others:
        cancel_run(run, by=manager, at=at, version=run.version, reason="Only the next run is settled.")
    return [first]
