"""What the database itself refuses of units, runs and places."""

from datetime import UTC, datetime, timedelta

import pytest
from django.db import IntegrityError, transaction

from labqueue.models import Laboratory, Place, Run, Unit
from labqueue.states import RUN_MOVES, RunState
from tests.bench.bench import received

pytestmark = pytest.mark.django_db
START = datetime(2026, 3, 4, 8, 0, tzinfo=UTC)


@pytest.fixture
def unit():
    return Unit.objects.create(name="Anions 1", line="anion")


@pytest.fixture
def run(unit, manager):
    return Run.objects.create(
        number="R1", unit=unit, planned_start=START, created_at=START, created_by=manager
    )


def refused(make):
    with pytest.raises(IntegrityError), transaction.atomic():
        make()


def place(run, position, **values):
    return Place.objects.create(run=run, position=position, planned_at=START, **{"kind": "blank", **values})


def test_a_position_of_a_run_exists_once(run):
    place(run, 1)
    refused(lambda: place(run, 1))


def test_a_bottle_awaits_its_injection_at_one_place(run, submitter, reception, group, rulebook):
    bottle = received(submitter, reception, group, rulebook)[0]
    first = place(run, 1, kind="sample", bottle=bottle, awaiting=True)
    refused(lambda: place(run, 2, kind="sample", bottle=bottle, awaiting=True))
    first.awaiting = False
    first.save()
    place(run, 2, kind="sample", bottle=bottle, awaiting=True)


def test_only_a_sample_with_its_bottle_awaits(run):
    refused(lambda: place(run, 1, awaiting=True))
    refused(lambda: place(run, 1, kind="sample", awaiting=True))


@pytest.mark.parametrize("values", [{"dilution": 0.5}, {"volume_factor": 0}])
def test_factors_make_sense(run, values):
    refused(lambda: place(run, 1, **values))


def test_a_unit_starts_one_run_at_a_moment_unless_it_was_cancelled(run, unit, manager):
    def again():
        return Run.objects.create(
            number="R2", unit=unit, planned_start=START, created_at=START, created_by=manager
        )

    refused(again)
    Run.objects.filter(pk=run.pk).update(state=RunState.CANCELLED)
    again()


def test_units_that_cannot_run_are_refused():
    refused(lambda: Unit.objects.create(name="x", line="anion", inject_min=0))
    refused(lambda: Unit.objects.create(name="x", line="neither"))
    refused(lambda: Unit.objects.create(name="x", line="anion", out_from=START, out_until=START))
    Unit.objects.create(name="x", line="anion", out_from=START, out_until=START + timedelta(hours=1))


def test_there_is_one_laboratory():
    Laboratory.objects.create(pk=1)
    refused(lambda: Laboratory.objects.create(pk=2))


def test_every_state_of_a_run_has_its_moves():
    assert set(RUN_MOVES) == set(RunState)
    assert all(move in RunState for moves in RUN_MOVES.values() for move in moves)
