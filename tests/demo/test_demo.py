"""The demo laboratory: alive at any hour, told by the actions, and kept when started again."""

from __future__ import annotations

import io
from datetime import UTC, datetime, timedelta

import pytest
from django.core.management import call_command
from django.db.models import Count

from intake.demo import mishaps
from intake.demo.people import PASSWORD, PEOPLE
from intake.demo.scenario import STORIES
from intake.demo.story import FRIDAY_TO_MONDAY, last_friday_afternoon
from intake.demo.telling import tell_all
from intake.models import Bottle, ClockRow, Consignment, FindingRow, Group, RecordEntry, User
from intake.states import BottleState
from labqueue.models import Run, Unit

#: A Tuesday morning, a Friday night, and both nights on which Vienna changes its clocks in 2026.
MOMENTS = [
    datetime(2026, 5, 12, 8, 0, tzinfo=UTC),
    datetime(2026, 5, 15, 22, 30, tzinfo=UTC),
    datetime(2026, 3, 29, 1, 30, tzinfo=UTC),
    datetime(2026, 10, 25, 0, 30, tzinfo=UTC),
]


@pytest.fixture
def loaded_at(rulebook):
    tell_all(STORIES, at=MOMENTS[0])
    return MOMENTS[0]


def test_there_is_enough_to_look_at(loaded_at):
    assert Group.objects.count() >= 4
    assert Consignment.objects.count() >= 12
    assert Bottle.objects.count() >= 200
    states = set(Bottle.objects.values_list("state", flat=True))
    assert {"expected", "ready", "on hold", "refused", "missing", "measured"} <= states
    assert set(Consignment.objects.values_list("state", flat=True)) == {
        "draft",
        "sent",
        "received",
        "withdrawn",
    }


def test_what_goes_wrong_in_real_life_is_found(loaded_at):
    found = set(FindingRow.objects.values_list("code", flat=True))
    assert {
        "acid.in_anion_bottle",
        "acid.absent",
        "brim.headspace",
        "cold.transport",
        "clock.late_on_arrival",
        "collection.date_only",
        "collection.missing",
        "label.mismatch",
        "filter.none",
        "bottle.broken",
    } <= found
    assert Bottle.objects.filter(announced=False).count() == 1
    assert Bottle.objects.filter(state="missing").count() == 1


@pytest.mark.parametrize("at", MOMENTS, ids=lambda at: f"{at:%a %d %b %H:%M}")
def test_at_any_hour_it_is_alive_and_sound(rulebook, at):
    tell_all(STORIES, at=at)
    assert_alive(at)
    assert not RecordEntry.objects.filter(at__gt=at).exists()
    assert not Consignment.objects.filter(received_at__gt=at).exists()
    recorded = RecordEntry.objects.values("consignment").annotate(entries=Count("id")).filter(entries__gte=2)
    assert recorded.exclude(consignment=None).count() == len(STORIES)
    call_command("verify_record", stdout=io.StringIO())
    answer = io.StringIO()
    call_command("rejudge", dry_run=True, stdout=answer)
    assert " 0 differ" in answer.getvalue()


def assert_alive(at: datetime) -> None:
    """Some clocks ran out, some do within two hours, and others later."""
    waiting = ClockRow.objects.filter(waiting=True)
    for first_h, last_h in ((-1000, 0), (0, 2), (2, 12), (12, 48), (24 * 7, 24 * 40)):
        first, last = at + timedelta(hours=first_h), at + timedelta(hours=last_h)
        assert waiting.filter(due_at__gt=first, due_at__lte=last).exists(), (first_h, last_h)


@pytest.mark.parametrize("day", range(7))
def test_the_friday_round_was_always_received_by_now(day):
    at = datetime(2026, 5, 11, 9, 0, tzinfo=UTC) + timedelta(days=day)
    friday = last_friday_afternoon("Europe/London")(at)
    assert friday.weekday() == 4
    assert timedelta(0) < at - friday - FRIDAY_TO_MONDAY < timedelta(days=8)


def test_millisiemens_typed_as_microsiemens_is_a_thousandth():
    story = next(one for one in STORIES if mishaps.millisiemens_typed_as_micro in one.mishaps.values())
    entries = story.entries(MOMENTS[0])
    assert 0 < min(entry.ec_value for entry in entries) < 2
    assert max(entry.ec_value for entry in entries) > 500


def test_loading_again_keeps_what_was_entered(db):
    call_command("load_demo", stdout=io.StringIO())
    Group.objects.filter(pk=Group.objects.first().pk).update(name="Renamed since")
    before = (Bottle.objects.count(), User.objects.count(), RecordEntry.objects.count())
    answer = io.StringIO()
    call_command("load_demo", stdout=answer)
    assert "kept" in answer.getvalue()
    assert (Bottle.objects.count(), User.objects.count(), RecordEntry.objects.count()) == before
    assert Group.objects.filter(name="Renamed since").exists()


def test_the_loaded_laboratory_has_bottles_in_every_state_and_units_to_plan_on(db):
    call_command("load_demo", stdout=io.StringIO())
    assert set(Bottle.objects.values_list("state", flat=True)) == set(BottleState.values)
    assert Unit.objects.count() == 3
    assert Run.objects.filter(state="planned").count() == 1


def test_everybody_of_the_demo_can_sign_in(db, client):
    call_command("load_demo", stdout=io.StringIO())
    for person in PEOPLE:
        assert client.login(email=person.email, password=PASSWORD), person.email
