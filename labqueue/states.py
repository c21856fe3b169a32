"""The legal moves of a run, as data."""

from __future__ import annotations

from django.db.models import TextChoices
from django.utils.translation import gettext_lazy as _


class RunState(TextChoices):
    PLANNED = "planned", _("planned")
    RUNNING = "running", _("running")
    DONE = "done", _("done")
    CANCELLED = "cancelled", _("cancelled")


RUN_MOVES: dict[str, frozenset[str]] = {
    RunState.PLANNED: frozenset({RunState.RUNNING, RunState.CANCELLED}),
    RunState.RUNNING: frozenset({RunState.DONE}),
    RunState.DONE: frozenset(),
    RunState.CANCELLED: frozenset(),
}

#: Runs that hold their unit.
STANDING = (RunState.PLANNED, RunState.RUNNING)
