"""Will it make it? What the queue says of each row, from runs that stand and from the projection."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from intake.models import Bottle, ClockRow
from labqueue.actions import equipping
from labqueue.foresight import foresee
from labqueue.models import Place
from labqueue.queuerows import left_of
from tests.factories import RECEIVED

pytestmark = pytest.mark.django_db
#: Tuesday, 15:00 in a laboratory open until 17:00.
NOW = RECEIVED + timedelta(hours=1)


def outlook(bottle, now=NOW):
    bottle = Bottle.objects.prefetch_related("clocks").get(pk=bottle.pk)
    clock = left_of(bottle.clocks.all(), now).clock
    return foresee(now).of(bottle.pk, clock.due_at if clock else None)


def test_without_units_nothing_is_said(ready):
    assert outlook(ready(1)[0]) is None


def test_a_bottle_that_makes_it_says_when_and_where_and_what_is_left(ready, units):
    said = outlook(ready(1)[0])
    assert not said.lost
    # Start at once, 30 min of equilibration and 8 injections of 20 min: 15:00 + 3 h 10 min.
    assert "injection Tue 3 Mar 18:10 UTC on Anion" in said.sentence
    assert "to spare" in said.sentence


def test_a_bottle_that_does_not_says_its_first_free_place(ready, units):
    bottle = ready(1)[0]
    ClockRow.objects.filter(bottle=bottle).update(due_at=NOW + timedelta(hours=1))
    said = outlook(bottle)
    assert said.lost
    assert "first free place Tue 3 Mar 18:10 UTC on Anion" in said.sentence
    assert "2 h 10 min too late as runs stand now" in said.sentence
    assert "due" not in said.sentence, "the due moment stands in its own column"


def test_no_place_in_sight_is_said(ready, units, manager):
    bottle = ready(1)[0]
    equipping.set_hours([], by=manager, at=NOW, country="", region="", margin_min=30, version=1)
    said = outlook(bottle)
    assert said.lost
    assert "no free place within 7 days" in said.sentence


def test_a_planned_bottle_has_its_planned_place(planned):
    place = Place.objects.filter(awaiting=True).order_by("position").last()
    said = outlook(place.bottle)
    assert f"injection Tue 3 Mar {place.planned_at:%H:%M} UTC on Anion 1" in said.sentence


def test_places_that_are_taken_are_not_given_twice(planned, ready, units):
    taken = set(Place.objects.filter(awaiting=True).values_list("planned_at", flat=True))
    fresh = ready(3)
    foresight = foresee(NOW)
    seats = [foresight._seats[bottle.pk] for bottle in fresh]
    on_the_same = {seat.moment for seat in seats if seat.unit == "Anion 1"}
    assert not on_the_same & taken
    assert len({(seat.unit, seat.moment) for seat in seats}) == 3


def test_a_unit_changed_under_its_planned_run_does_not_break_the_queue(planned, units, manager, signed_in):
    fields = {name: getattr(units["Anion 1"], name) for name in equipping.UNIT_FIELDS}
    equipping.change_unit(
        units["Anion 1"],
        {**fields, "tray_places": 9, "reserved_places": 8},
        by=manager,
        at=NOW,
        version=0,
    )
    assert outlook(Place.objects.filter(awaiting=True).first().bottle) is not None


def test_the_outlook_takes_three_questions_however_many_wait(ready, planned, manager, signed_in):
    counts = []
    for count in (2, 10):
        ready(count)
        with CaptureQueriesContext(connection) as seen:
            foresee(NOW)
        counts.append(len(seen))
    assert counts == [3, 3]


def test_the_queue_s_page_shows_it(ready, units, manager, signed_in, monkeypatch):
    ready(1)
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    page = signed_in(manager).get(reverse("labqueue:queue")).content.decode()
    assert "to spare" in page
    assert "Will it make it?" in page
