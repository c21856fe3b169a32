"""A grown laboratory: as many bottles as asked, numbers of their own, and pages that can show them."""

from __future__ import annotations

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from intake import numbers
from intake.models import Bottle, ClockRow, Consignment, Injection, User
from labqueue.growing import grow
from labqueue.queue import Wanted, queued_bottles

pytestmark = pytest.mark.django_db


@pytest.fixture
def demo(db):
    call_command("load_demo", verbosity=0)
    return User.objects.get(email="manager@demo.example")


def test_the_past_is_measured_and_the_present_waits(demo):
    waiting = queued_bottles(demo, Wanted(), timezone.now()).count()
    bottles, consignments = Bottle.objects.count(), Consignment.objects.count()
    past, present = grow(200, 130, at=timezone.now())
    assert past >= 200
    assert present >= 130
    assert Bottle.objects.count() == bottles + past + present
    assert Consignment.objects.count() > consignments
    assert queued_bottles(demo, Wanted(), timezone.now()).count() == waiting + present
    assert Injection.objects.filter(label="Grown").count() == past
    assert not ClockRow.objects.filter(bottle__injections__label="Grown", waiting=True).exists()
    assert all(numbers.is_number(number, "B") for number in Bottle.objects.values_list("number", flat=True))


def test_growing_twice_copies_the_same_mould(demo):
    assert grow(1, 0, at=timezone.now()) == grow(1, 0, at=timezone.now())


def test_keys_go_on_after_the_last_copy(demo):
    grow(1, 0, at=timezone.now())
    last = Consignment.objects.latest("pk")
    last.pk, last.number = None, numbers.new_number("C")
    last.save()
    assert Consignment.objects.filter(pk=last.pk).count() == 1


def test_the_grown_can_be_looked_at(demo, client):
    grow(1, 1, at=timezone.now())
    client.force_login(demo)
    for consignment in Consignment.objects.order_by("-pk")[:12]:
        assert client.get(f"/consignments/{consignment.number}/").status_code == 200
    for address in ("/queue/", "/overview/", "/reception/", "/consignments/"):
        assert client.get(address).status_code == 200


def test_a_real_laboratory_is_not_touched(manager):
    with pytest.raises(CommandError, match="not the demo's"):
        call_command("grow_lab")


def test_without_a_demo_there_is_nothing_to_copy(db):
    with pytest.raises(CommandError, match="nothing to copy"):
        call_command("grow_lab")
    with pytest.raises(CommandError, match="negative"):
        call_command("grow_lab", history=-1)
