"""Bottles chosen in the queue, and views that a person keeps."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from intake.choices import Role
from intake.models import Bottle, Question, RecordEntry, User
from labqueue.actions.views import MOST_VIEWS
from labqueue.models import GivenPriority, SavedView
from labqueue.views.selected import MOST_CHOSEN
from tests.factories import RECEIVED

pytestmark = pytest.mark.django_db
NOW = RECEIVED + timedelta(hours=1)


@pytest.fixture(autouse=True)
def at_now(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


@pytest.fixture
def other_manager(db):
    return User.objects.create_user("second@example.org", None, name="Second", role=Role.MANAGER)


def chosen(bottles):
    return {"bottle": [bottle.number for bottle in bottles]}


def test_the_chosen_are_shown_and_nobody_else(ready, manager, signed_in):
    first, second, third = ready(3)
    page = signed_in(manager).get("/queue/selected/", chosen([first, third])).text
    assert "2 selected bottles" in page
    assert first.number in page
    assert second.number not in page


def test_nothing_chosen_leads_back(manager, signed_in):
    assert "No bottle is selected" in signed_in(manager).get("/queue/selected/").text


def test_numbers_that_are_none_are_told_and_too_many_refused(ready, manager, signed_in):
    (bottle,) = ready(1)
    client = signed_in(manager)
    assert client.get("/queue/selected/", {"bottle": ["nonsense", "\0"]}).status_code == 200
    assert bottle.number in client.get("/queue/selected/", chosen([bottle])).text
    with_number = Bottle.objects.get().number
    made = [with_number] * (MOST_CHOSEN + 5)
    assert client.get("/queue/selected/", {"bottle": made}).status_code == 200, "the same one many times"


def test_the_chosen_as_a_file(ready, manager, signed_in):
    first, second = ready(2)
    text = b"".join(
        signed_in(manager).get("/queue/selected/list.csv", chosen([second])).streaming_content
    ).decode()
    assert second.number in text
    assert first.number not in text


def test_many_are_put_on_hold_for_one_reason_each_recorded_and_asked_about(ready, manager, signed_in):
    bottles = ready(3)
    answer = signed_in(manager).post(
        "/queue/selected/hold/", {**chosen(bottles[:2]), "reason": "The fridge stood open.", "token": "t1"}
    )
    assert answer.status_code == 302
    assert list(Bottle.objects.order_by("pk").values_list("state", flat=True)) == [
        "on hold",
        "on hold",
        "ready",
    ]
    entries = RecordEntry.objects.filter(verb="bottle.decide", reason="The fridge stood open.")
    assert entries.count() == 2
    arrival = Bottle.objects.first().arrival
    assert Question.objects.exists() == (arrival.closed_at is not None)


def test_the_same_form_twice_holds_once(ready, manager, signed_in):
    bottles = ready(1)
    client = signed_in(manager)
    form = {**chosen(bottles), "reason": "warm", "token": "t1"}
    assert client.post("/queue/selected/hold/", form).status_code == 302
    assert client.post("/queue/selected/hold/", form).status_code == 409
    assert RecordEntry.objects.filter(verb="bottle.decide").count() == 1


def test_all_or_none_where_one_is_not_ready(ready, manager, signed_in):
    bottles = ready(2)
    Bottle.objects.filter(pk=bottles[1].pk).update(state="placed")
    answer = signed_in(manager).post("/queue/selected/hold/", {**chosen(bottles), "reason": "warm"})
    assert answer.status_code == 409
    assert "nothing was changed" in answer.text
    assert Bottle.objects.get(pk=bottles[0].pk).state == "ready"


def test_a_hold_without_a_reason_or_bottle_is_asked_again(ready, manager, signed_in):
    client = signed_in(manager)
    answer = client.post("/queue/selected/hold/", chosen(ready(1)))
    assert answer.status_code == 422
    assert "Say why these bottles are put on hold." in answer.text
    assert client.post("/queue/selected/hold/", {"reason": "warm"}).status_code == 422


def test_many_are_planned_first_and_the_way_leads_to_the_plan(ready, manager, signed_in):
    bottles = ready(3)
    form = {**chosen(bottles[:2]), "level": "first", "reason": "The flood.", "token": "t1"}
    client = signed_in(manager)
    answer = client.post("/queue/selected/first/", form)
    assert (answer.status_code, answer.url) == (302, "/bench/plan/")
    given = GivenPriority.objects.values_list("bottle", "level", "reason")
    assert set(given) == {(bottle.pk, "first", "The flood.") for bottle in bottles[:2]}
    assert RecordEntry.objects.filter(verb="priority.give").count() == 2
    assert client.post("/queue/selected/first/", form).status_code == 409


def test_a_priority_without_a_reason_gives_none(ready, manager, signed_in):
    answer = signed_in(manager).post("/queue/selected/first/", {**chosen(ready(2)), "level": "first"})
    assert answer.status_code == 422
    assert not GivenPriority.objects.exists()


def test_the_page_of_the_chosen_asks_as_often_for_2_and_12(ready, manager, signed_in):
    client = signed_in(manager)
    bottles = ready(12)
    client.get("/queue/selected/")
    counts = []
    for many in (2, 12):
        with CaptureQueriesContext(connection) as queries:
            client.get("/queue/selected/", chosen(bottles[:many]))
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 8, counts


def test_a_view_is_saved_shown_renamed_and_deleted(manager, signed_in):
    client = signed_in(manager)
    asked = "line=anion&page=3&sort=group&by=consignment&nonsense=1"
    answer = client.post("/queue/views/", {"name": "  Anions   together ", "query": asked})
    assert answer.status_code == 302
    view = SavedView.objects.get()
    assert (view.name, view.query) == ("Anions together", "line=anion&by=consignment&sort=group")
    assert answer.url == f"/queue/?{view.query}"
    assert "Anions together" in client.get("/queue/").text
    assert client.post(f"/queue/views/{view.pk}/", {"name": "Anions"}).status_code == 302
    assert "Anions" in client.get("/queue/views/").text
    assert client.post(f"/queue/views/{view.pk}/delete/").status_code == 302
    assert not SavedView.objects.exists()


def test_a_name_is_needed_and_taken_once(manager, signed_in):
    client = signed_in(manager)
    assert client.post("/queue/views/", {"name": " "}).status_code == 422
    assert client.post("/queue/views/", {"name": "Mine"}).status_code == 302
    answer = client.post("/queue/views/", {"name": "Mine"})
    assert answer.status_code == 422
    assert "You have a view called “Mine” already." in answer.text
    client.post("/queue/views/", {"name": "Other"})
    other = SavedView.objects.get(name="Other")
    assert client.post(f"/queue/views/{other.pk}/", {"name": "Mine"}).status_code == 422
    assert client.post("/queue/views/", {"name": "n" * 61}).status_code == 422


def test_nobody_sees_or_touches_the_views_of_others(manager, other_manager, signed_in):
    signed_in(manager).post("/queue/views/", {"name": "Mine", "query": "line=anion"})
    view = SavedView.objects.get()
    stranger = signed_in(other_manager)
    assert "Mine" not in stranger.get("/queue/").text
    assert "Mine" not in stranger.get("/queue/views/").text
    assert stranger.get(f"/queue/views/{view.pk}/").status_code == 404
    assert stranger.post(f"/queue/views/{view.pk}/", {"name": "Theirs"}).status_code == 404
    assert stranger.post(f"/queue/views/{view.pk}/delete/").status_code == 404
    assert stranger.post("/queue/views/", {"name": "Mine"}).status_code == 302, "names are one's own"
    assert SavedView.objects.count() == 2


def test_views_have_an_end(manager, signed_in):
    SavedView.objects.bulk_create(
        SavedView(user=manager, name=f"V{number}", query="", saved_at=NOW) for number in range(MOST_VIEWS)
    )
    answer = signed_in(manager).post("/queue/views/", {"name": "One more"})
    assert answer.status_code == 422
    assert "Delete one you no longer use" in answer.text
