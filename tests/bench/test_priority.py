"""Priorities: given with a reason, recorded, respected by plans and told on their pages."""

from datetime import timedelta

import pytest
from django.urls import reverse

from intake.errors import EntryProblem, NotPermitted
from intake.models import Bottle, RecordEntry
from intake.telling import tell
from labqueue.actions import proposing
from labqueue.actions.prioritising import give_priority
from labqueue.drafting import plan_of, stale_sentences
from labqueue.models import GivenPriority
from labqueue.planning.plan import Reason
from labqueue.planning.units import Pin
from labqueue.priorities import priorities_of
from tests.factories import RECEIVED

pytestmark = pytest.mark.django_db
NOW = RECEIVED + timedelta(hours=1)


def give(thing, manager, level="first", reason="Flood warning"):
    return give_priority(thing, level, by=manager, at=NOW, reason=reason)


def plan(units, manager, at=NOW):
    return plan_of(proposing.propose_plan([units["Anion 1"]], 3, by=manager, at=at))


def weights(plan, number):
    (bottle,) = [bottle for bottle in plan.problem.bottles if bottle.id == number]
    return [step.weight / step.clocks for step in bottle.steps]


def test_each_clock_counts_as_the_priority_says(ready, units, manager):
    usual, ahead, first = ready(3)
    give(ahead, manager, "ahead")
    give(first, manager, "first")
    made = plan(units, manager)
    assert set(weights(made, usual.number)) == {1}
    assert set(weights(made, ahead.number)) == {10}
    assert set(weights(made, first.number)) == {100}


def test_a_bottle_s_own_priority_counts_more_than_its_consignment_s(ready, units, manager):
    one, other = ready(2)
    give(one.consignment, manager, "ahead")
    give(other, manager, "usual", "Only a blank of theirs")
    assert priorities_of(Bottle.objects.all()) == {one.pk: "ahead"}
    made = plan(units, manager)
    assert set(weights(made, one.number)) == {10}
    assert set(weights(made, other.number)) == {1}


def test_where_not_all_can_be_kept_those_ahead_are(ready, units, manager):
    """Started Wednesday at 16:00, about thirty of 45 still make 48 h on Thursday at 8:00."""
    bottles, at = ready(45), NOW + timedelta(hours=25)
    made = plan(units, manager, at)
    crowded = {missed.bottle for missed in made.missed if missed.reason is Reason.CROWDED_OUT}
    assert 0 < len(crowded) < len(bottles)
    chosen = sorted(crowded)[-1]
    give(Bottle.objects.get(number=chosen), manager)
    again = plan(units, manager, at)
    assert chosen not in {missed.bottle for missed in again.missed}
    assert again.missed_clocks == made.missed_clocks


def test_it_is_recorded_and_told_with_its_reason(ready, manager):
    (bottle,) = ready(1)
    give(bottle, manager, "ahead", "Drinking water complaint")
    entry = RecordEntry.objects.get(verb="priority.give")
    assert entry.consignment == bottle.consignment
    assert entry.reason == "Drinking water complaint"
    told = tell(entry, "UTC")
    assert told.sentence == f"set the priority in plans of bottle {bottle.number}"
    assert told.details == ("priority: usual → ahead",)
    give(bottle, manager, "usual", "Settled")
    assert GivenPriority.objects.get().level == "usual"
    assert RecordEntry.objects.filter(verb="priority.give").count() == 2


def test_what_cannot_be_is_refused(ready, manager, reception):
    (bottle,) = ready(1)
    with pytest.raises(NotPermitted):
        give(bottle, reception)
    with pytest.raises(EntryProblem, match="Say why"):
        give(bottle, manager, reason="  ")
    with pytest.raises(EntryProblem, match="Choose one"):
        give(bottle, manager, level="highest")


def test_a_plan_made_before_says_that_priorities_have_changed(ready, units, manager):
    (bottle,) = ready(1)
    draft = proposing.propose_plan([units["Anion 1"]], 3, by=manager, at=NOW - timedelta(seconds=5))
    assert stale_sentences(draft, plan_of(draft), NOW) == []
    give(bottle, manager)
    assert "Priorities have changed since this plan was made." in stale_sentences(draft, plan_of(draft), NOW)


def test_pages_tell_meaning_reason_and_who(ready, units, manager, client):
    (bottle,) = ready(1)
    client.force_login(manager)
    address = reverse("labqueue:priority", args=[bottle.number])
    page = client.get(address).content.decode()
    assert "first: each of its clocks counts as a hundred usual ones" in page
    refused = client.post(address, {"level": "first", "reason": ""})
    assert refused.status_code == 422
    whole = reverse("labqueue:priority", args=[bottle.consignment.number])
    client.post(whole, {"level": "ahead", "reason": "A"})
    assert "like the whole consignment" in client.get(address).content.decode()
    client.post(address, {"level": "first", "reason": "Complaint"})
    assert "Complaint" in client.get(whole).content.decode()
    draft = proposing.propose_plan([units["Anion 1"]], 3, by=manager, at=NOW)
    page = client.get(reverse("labqueue:plan_draft", args=[draft.key])).content.decode()
    assert "<strong>first</strong>" in page
    why = client.get(reverse("labqueue:plan_bottle", args=[draft.key, bottle.number])).content.decode()
    assert "Complaint" in why
    assert "Change its priority" in why


def test_a_pinned_place_is_kept_whatever_has_priority(ready, units, manager):
    one, other = ready(2)
    draft = proposing.propose_plan([units["Anion 1"]], 3, by=manager, at=NOW)
    slot = plan_of(draft).places[one.number]
    proposing.move_by_hand(draft, one.number, slot[2:], by=manager, at=NOW, version=0)
    give(other, manager)
    pin = Pin(one.number, *slot[2:])
    assert plan_of(draft).problem.pins == (pin,)
    assert plan_of(draft).places[one.number] == slot
