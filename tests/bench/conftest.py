"""A bench to plan on: usual units and hours, and bottles that are ready."""

from __future__ import annotations

import pytest

from labqueue.actions.equipping import make_usual_units
from labqueue.models import Unit
from tests.bench.bench import received, river
from tests.factories import ENTERED


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
