"""Two managers with the same queue in front of them: no bottle gets two places, the slower is told."""

from __future__ import annotations

from datetime import time, timedelta

import pytest

from intake import record
from intake.errors import SomebodyWasFaster
from intake.models import Bottle
from labqueue.actions.accepting import accept_plan
from labqueue.actions.proposing import propose_plan
from labqueue.models import Place, PlanDraft, Run
from tests.actions.test_at_once import at_once
from tests.bench.bench import river
from tests.factories import RECEIVED, sent

pytestmark = pytest.mark.django_db(transaction=True)
NOW = RECEIVED + timedelta(hours=1)


@pytest.fixture
def other(person):
    return person("Olga Other", "manager")


def accepting(draft, by):
    """Accept ``draft`` as it was read before; the sentence it is refused with."""

    def accept():
        mine = PlanDraft.objects.get(pk=draft.pk)
        try:
            accept_plan(mine, by=by, at=NOW + timedelta(seconds=1), version=0)
        except SomebodyWasFaster as refused:
            return refused.sentence
        return ""

    return accept


def assert_one_was_told(told):
    assert sorted(map(bool, told)) == [False, True], told
    (sentence,) = filter(None, told)
    assert "Plan again" in sentence or "after you opened it" in sentence
    assert list(record.faults()) == []


@pytest.mark.parametrize("names", [("Anion 1", "Anion 1"), ("Anion 1", "Anion 2")], ids=["same", "different"])
def test_two_plans_of_the_same_queue(ready, units, manager, other, names):
    bottles = ready(12)
    drafts = [
        propose_plan([units[name]], 3, by=by, at=NOW)
        for name, by in zip(names, (manager, other), strict=True)
    ]
    told = at_once(accepting(drafts[0], manager), accepting(drafts[1], other))
    assert_one_was_told(told)
    assert Run.objects.count() == 1
    places = Place.objects.filter(awaiting=True).values_list("bottle", flat=True)
    assert sorted(places) == sorted(bottle.pk for bottle in bottles)
    assert set(Bottle.objects.values_list("state", flat=True)) == {"placed"}


def test_the_same_plan_by_two(ready, units, manager, other):
    ready(5)
    draft = propose_plan([units["Anion 1"]], 3, by=manager, at=NOW)
    assert_one_was_told(at_once(accepting(draft, manager), accepting(draft, other)))
    assert Run.objects.count() == 1


@pytest.mark.parametrize("names", [("Anion 1", "Anion 1"), ("Anion 1", "Anion 2")], ids=["same", "different"])
def test_two_who_reserve_places_for_the_same_bottles(
    submitter, group, rulebook, units, manager, other, names
):
    consignment = sent(submitter, group, rulebook, *river(4))
    consignment.requested_on = (NOW + timedelta(days=1)).date()
    consignment.save(update_fields=["requested_on"])
    drafts = [propose_plan([units[name]], 3, by=manager, at=NOW, ready_from=time(9)) for name in names]
    assert_one_was_told(at_once(accepting(drafts[0], manager), accepting(drafts[1], other)))
    assert Place.objects.filter(reserved=True).count() == 4
    assert Run.objects.count() == 1
