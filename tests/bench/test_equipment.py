"""Units, hours and closed days: the actions, their refusals, the pages, the hours they make."""

import io
from datetime import UTC, date, datetime, time, timedelta

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from intake.errors import AlreadyDone, EntryProblem, NotPermitted, SomebodyWasFaster
from intake.models import RecordEntry
from labqueue.actions import equipping
from labqueue.calendar import closed_days, opening_hours
from labqueue.models import ClosedDay, Laboratory, OpeningHours, Run, Unit

pytestmark = pytest.mark.django_db
AT = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)
WEEK = {"country": "", "region": "", "margin_min": 30}


def values(**changes):
    unit = Unit()
    fields = {name: getattr(unit, name) for name in equipping.UNIT_FIELDS}
    return {**fields, "name": "Anions 1", "line": "anion", **changes}


def posted(form):
    """The fields of a form as a browser sends them back."""
    return {
        name: form[name].value()
        for name in form.fields
        if form[name].value() not in (None, "") and form[name].value() is not False
    }


@pytest.fixture
def unit(manager):
    return equipping.make_unit(values(), by=manager, at=AT)


@pytest.fixture
def hours(manager):
    return equipping.set_hours(equipping.USUAL_SHIFTS, by=manager, at=AT, version=0, **WEEK)


def test_only_the_manager_changes_units_and_hours(unit, reception, hours):
    for refused in (
        lambda: equipping.make_unit(values(name="x"), by=reception, at=AT),
        lambda: equipping.change_unit(unit, values(), by=reception, at=AT, version=0),
        lambda: equipping.retire_unit(unit, by=reception, at=AT),
        lambda: equipping.set_hours([], by=reception, at=AT, version=0, **WEEK),
        lambda: equipping.close_day(date(2026, 5, 1), "x", by=reception, at=AT),
        lambda: equipping.make_usual_units(by=reception, at=AT),
    ):
        with pytest.raises(NotPermitted):
            refused()


def test_a_change_of_a_unit_is_recorded_with_what_differs(unit, manager):
    equipping.change_unit(unit, values(inject_min=25), by=manager, at=AT, version=0)
    entry = RecordEntry.objects.get(verb="unit.change")
    assert (entry.before, entry.after) == ({"inject_min": 20}, {"inject_min": 25})
    assert (unit.inject_min, unit.version) == (25, 1)


def test_the_slower_of_two_changes_is_told(unit, manager):
    equipping.change_unit(unit, values(inject_min=25), by=manager, at=AT, version=0)
    with pytest.raises(SomebodyWasFaster):
        equipping.change_unit(unit, values(inject_min=30), by=manager, at=AT, version=0)
    assert Unit.objects.get().inject_min == 25


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"reserved_places": 60}, "reserved_places"),
        ({"out_until": AT}, "out_from"),
        ({"out_from": AT, "out_until": AT}, "out_until"),
    ],
)
def test_units_that_cannot_be_are_refused_at_the_field(manager, changes, field):
    with pytest.raises(EntryProblem) as refusal:
        equipping.make_unit(values(**changes), by=manager, at=AT)
    assert set(refusal.value.problems) == {field}
    assert not Unit.objects.exists()
    assert not RecordEntry.objects.filter(verb="unit.make").exists()


def test_a_name_is_given_once(unit, manager):
    with pytest.raises(EntryProblem) as refusal:
        equipping.make_unit(values(), by=manager, at=AT)
    assert "name" in refusal.value.problems


def test_a_unit_with_runs_keeps_its_line_and_is_not_taken_out(unit, manager):
    Run.objects.create(number="R1", unit=unit, planned_start=AT, created_at=AT, created_by=manager)
    with pytest.raises(EntryProblem) as refusal:
        equipping.change_unit(unit, values(line="cation"), by=manager, at=AT, version=0)
    assert "line" in refusal.value.problems
    with pytest.raises(EntryProblem, match="still has runs to do"):
        equipping.retire_unit(unit, by=manager, at=AT)
    Run.objects.update(state="cancelled")
    equipping.retire_unit(unit, by=manager, at=AT)
    assert Unit.objects.get().retired_at == AT


def test_the_same_form_makes_one_unit(manager):
    equipping.make_unit(values(), by=manager, at=AT, token="t")
    with pytest.raises(AlreadyDone):
        equipping.make_unit(values(name="other"), by=manager, at=AT, token="t")


def test_usual_units_are_made_once(manager):
    equipping.make_usual_units(by=manager, at=AT)
    equipping.make_usual_units(by=manager, at=AT)
    assert sorted(Unit.objects.values_list("line", flat=True)) == ["anion", "anion", "cation"]
    assert OpeningHours.objects.count() == 5
    assert RecordEntry.objects.filter(verb="unit.make").count() == 3


@pytest.mark.parametrize(
    ("country", "region", "field"), [("XX", "", "country"), ("DE", "ZZ", "region"), ("", "BY", "country")]
)
def test_holidays_that_are_not_known_are_refused(manager, country, region, field):
    with pytest.raises(EntryProblem) as refusal:
        equipping.set_hours([], by=manager, at=AT, version=0, country=country, region=region, margin_min=30)
    assert set(refusal.value.problems) == {field}
    assert not Laboratory.objects.exists()


def test_public_holidays_and_own_days_close_the_laboratory(manager, settings):
    settings.TIME_ZONE = "Europe/Berlin"
    lab = equipping.set_hours(
        equipping.USUAL_SHIFTS, by=manager, at=AT, version=0, country="DE", region="BY", margin_min=30
    )
    equipping.close_day(date(2026, 5, 15), "Bridging day", by=manager, at=AT)
    closed = closed_days(lab, date(2026, 5, 11), date(2026, 5, 31))
    # Ascension Day (39 days after Easter, 5 April 2026) and Whit Monday are holidays all over
    # Germany: computed from the date of Easter.
    assert sorted(closed) == [date(2026, 5, 14), date(2026, 5, 15), date(2026, 5, 25)]
    hours = opening_hours(lab, AT, AT + timedelta(days=120))
    assert hours.of_day(date(2026, 5, 14)) == []
    (shift,) = hours.of_day(date(2026, 5, 13))
    assert shift == (datetime(2026, 5, 13, 6, tzinfo=UTC), datetime(2026, 5, 13, 15, tzinfo=UTC))


def test_a_closed_day_is_noted_once_and_taken_back_once(manager):
    closed = equipping.close_day(date(2026, 5, 1), "Outing", by=manager, at=AT)
    with pytest.raises(EntryProblem):
        equipping.close_day(date(2026, 5, 1), "Again", by=manager, at=AT)
    equipping.open_day(closed, by=manager, at=AT)
    with pytest.raises(SomebodyWasFaster):
        equipping.open_day(closed, by=manager, at=AT)
    assert not ClosedDay.objects.exists()


def test_the_pages_show_and_change_a_unit(unit, hours, manager, signed_in):
    client = signed_in(manager)
    assert "Anions 1" in client.get(reverse("labqueue:equipment")).content.decode()
    address = reverse("labqueue:unit", args=[unit.pk])
    page = client.get(address)
    assert "US EPA Method 332.0" in page.content.decode()
    sent = {**posted(page.context["form"]), "inject_min": "15"}
    assert client.post(address, sent).status_code == 302
    assert Unit.objects.get().inject_min == 15
    again = client.post(address, {**sent, "token": "other"})
    assert again.status_code == 409
    assert "after you opened it" in again.content.decode()


@pytest.mark.parametrize(("name", "value"), [("inject_min", "0"), ("inject_min", "many"), ("line", "x")])
def test_a_wrong_unit_is_asked_again_with_the_page_s_name_kept(unit, manager, signed_in, name, value):
    client = signed_in(manager)
    address = reverse("labqueue:unit", args=[unit.pk])
    sent = {**posted(client.get(address).context["form"]), name: value, "name": "Renamed"}
    answer = client.post(address, sent)
    assert answer.status_code == 422
    assert answer.context["heading"] == "Anions 1"
    assert Unit.objects.get().name == "Anions 1"


def test_the_hours_page_sets_the_week(manager, signed_in):
    client = signed_in(manager)
    address = reverse("labqueue:hours")
    sent = posted(client.get(address).context["form"])
    answer = client.post(address, {**sent, "opens_0": "07:30", "closes_0": "16:00", "country": "AT"})
    assert answer.status_code == 302
    (shift,) = OpeningHours.objects.all()
    assert (shift.weekday, shift.opens, shift.closes) == (0, time(7, 30), time(16))
    half = client.post(address, {**sent, "opens_0": "07:30", "version": "1", "token": "t"})
    assert half.status_code == 422
    assert "or neither if it is closed" in half.content.decode()


def test_the_page_of_units_asks_as_often_for_many(manager, signed_in, unit):
    client = signed_in(manager)
    client.get(reverse("labqueue:equipment"))
    counts = []
    for number in range(2):
        with CaptureQueriesContext(connection) as seen:
            client.get(reverse("labqueue:equipment"))
        counts.append(len(seen))
        for more in range(10):
            equipping.make_unit(values(name=f"{number} {more}"), by=manager, at=AT)
    assert counts[0] == counts[1]


def test_the_demo_has_units(db):
    call_command("demo", port="0", no_server=True, stdout=io.StringIO())
    assert Unit.objects.count() == 3
