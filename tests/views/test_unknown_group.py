"""A box that nobody announced, of a group that nobody knows yet, until somebody says whose it is."""

import pytest
from django.urls import reverse
from django.utils import timezone

from intake.actions import receiving
from intake.actions.naming import UNKNOWN, name_group
from intake.errors import EntryProblem, MoveNotAllowed
from intake.models import Arrival, Bottle, RecordEntry
from tests.factories import RECEIVED

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def at_the_moment_of_arrival(monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: RECEIVED)


@pytest.fixture
def client(signed_in, reception):
    return signed_in(reception)


@pytest.fixture
def arrival(client, rulebook):
    told = {"temperature_c": "5", "measured_on": "melt water", "token": "o"}
    client.post(reverse("intake:arrival_open") + "?unannounced=yes", told)
    return Arrival.objects.get()


@pytest.fixture
def bottle(client, arrival):
    told = {"own_id": "??-1", "line": "anion", "group_unknown": "on", "token": "u"}
    answer = client.post(reverse("intake:arrival_unannounced", args=[arrival.number]), told)
    assert answer.status_code == 302, answer.text
    return Bottle.objects.select_related("consignment__group").get()


def test_a_box_that_nobody_announced_opens_and_is_recorded(arrival):
    assert not arrival.consignments.exists()
    assert RecordEntry.objects.get(verb="arrival.open").subject == f"arrival {arrival.number}"


def test_its_bottles_stand_under_a_group_without_people(bottle, submitter, signed_in):
    assert bottle.consignment.group.name == UNKNOWN
    assert not bottle.consignment.group.members.exists()
    hidden = signed_in(submitter).get(reverse("intake:bottle", args=[bottle.number]))
    assert hidden.status_code == 404


def test_naming_the_group_hands_the_bottles_over(client, signed_in, arrival, bottle, group, submitter):
    assert "Name the group" in client.get(reverse("intake:arrival", args=[arrival.number])).text
    told = {"consignment": bottle.consignment.number, "group": group.pk, "token": "n"}
    answer = client.post(reverse("intake:arrival_group", args=[arrival.number]), told)
    assert answer.status_code == 302, answer.text
    bottle.consignment.refresh_from_db()
    assert bottle.consignment.group == group
    assert signed_in(submitter).get(reverse("intake:bottle", args=[bottle.number])).status_code == 200
    assert RecordEntry.objects.get(verb="consignment.name-group").after == {"group": group.name}
    assert "Name the group" not in client.get(reverse("intake:arrival", args=[arrival.number])).text


def test_naming_once_is_enough(reception, bottle, group, other_group):
    with pytest.raises(EntryProblem):
        name_group(bottle.consignment, by=reception, at=RECEIVED, group=bottle.consignment.group)
    named = name_group(bottle.consignment, by=reception, at=RECEIVED, group=group)
    with pytest.raises(MoveNotAllowed):
        name_group(named, by=reception, at=RECEIVED, group=other_group)


def test_the_arrival_can_be_closed_before_the_group_is_known(reception, arrival, bottle):
    receiving.close_arrival(arrival, by=reception, at=RECEIVED, more_to_come=False, scanned_are_here=True)
    bottle.refresh_from_db()
    assert bottle.state == "expected"
