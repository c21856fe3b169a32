"""A bench to plan on: usual units and hours, and bottles that are ready."""

from __future__ import annotations

from datetime import timedelta

import pytest

from labqueue.actions.accepting import accept_plan
from labqueue.actions.equipping import make_usual_units
from labqueue.actions.proposing import propose_plan
from labqueue.actions.running import start_run
from labqueue.models import Unit
from tests.bench.bench import received, river
from tests.factories import ENTERED, RECEIVED


@pytest.fixture
def units(manager):
    """Anion 1, Anion 2 and Cation 1 with a working week."""
    make_usual_units(by=manager, at=ENTERED)
    return {unit.name: unit for unit in Unit.objects.all()}


@pytest.fixture
def ready(submitter, reception, group, rulebook):
    """``ready(count)`` receives samples with one good bottle for anions each."""

    def make(count, **changes):
        return received(submitter, reception, group, rulebook, *river(count, **changes))

    return make


@pytest.fixture
def plan_and_accept(units, manager):
    """Plan all ready bottles onto the named units and accept; the runs made."""

    def make(*names, at=RECEIVED + timedelta(hours=1)):
        draft = propose_plan([units[name] for name in names], 3, by=manager, at=at)
        return accept_plan(draft, by=manager, at=at, version=0)

    return make


@pytest.fixture
def planned(ready, plan_and_accept):
    """A run of five bottles, planned on Anion 1."""
    ready(5)
    (run,) = plan_and_accept("Anion 1")
    return run


@pytest.fixture
def started(planned, manager):
    """The same run, started as planned."""
    at = max(planned.planned_start, RECEIVED + timedelta(hours=1))
    return start_run(planned, by=manager, at=at, started_at=at, version=0)
