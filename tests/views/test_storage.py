"""Storing and discarding by scans, without a script; where a bottle stands is found at once."""

from datetime import timedelta

import pytest
from django.conf import settings
from django.utils import timezone

from intake.actions.checking import check_bottle
from intake.actions.deciding import decide_bottle
from intake.actions.stowing import make_place, store_bottle
from intake.models import StoragePlace
from tests.factories import RECEIVED, cation_bottle, opened, sample, sent
from tests.papers.seeing import codes, pages
from tests.views.pages import hidden_of, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def at_the_moment_of_arrival(monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: RECEIVED)


@pytest.fixture
def client(signed_in, reception):
    return signed_in(reception)


@pytest.fixture
def place(reception):
    return make_place(by=reception, at=RECEIVED, name="Fridge 2", kind="fridge")


def checked(by, submitter, group, rulebook, count=1):
    bottles = (cation_bottle(additive="mercury(II) chloride"),)
    waters = (
        sample(f"S{n}", bottles=bottles, hazards="may hold sewage", water_kind="mine drainage")
        for n in range(count)
    )
    consignment = sent(submitter, group, rulebook, *waters)
    arrival = opened(by, consignment)
    return [
        check_bottle(one, arrival, by=by, at=RECEIVED, seen={"ph_low": 1, "ph_high": 2}, in_order=True).bottle
        for one in consignment.bottles.select_related("consignment", "sample")
    ]


@pytest.fixture
def bottle(reception, submitter, group, rulebook):
    return checked(reception, submitter, group, rulebook)[0]


def scan(client, text, answer=None, address="/storage/"):
    """Scan as the page stood: its token and its chosen place go along."""
    hidden = {name: hidden_of(answer, name) for name in ("token", "place")} if answer else {}
    return client.post(address, {"text": text, **hidden})


def test_a_place_then_bottles_and_the_box_keeps_the_focus(client, place, bottle):
    answer = scan(client, place.number, client.get("/storage/"))
    assert "Now scan the bottles" in text_of(answer)
    answer = scan(client, f" {bottle.number.lower()} ", answer)
    assert "stands in Fridge 2" in text_of(answer)
    assert "autofocus" in answer.content.decode()
    assert hidden_of(answer, "place") == place.number
    bottle.refresh_from_db()
    assert bottle.stored_in == place


def test_the_same_scan_posted_again_changes_nothing(client, place, bottle):
    page = scan(client, place.number)
    scan(client, bottle.number, page)
    assert "Recorded already" in text_of(scan(client, bottle.number, page))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "Nothing scanned"),
        ("P2345678", "Misread"),
        ("B2345678", "Misread"),
        ("hello", "Not a bottle"),
        ("\x00", "Not"),
        ("9" * 3000, "Not recorded"),
    ],
)
def test_what_means_nothing_is_answered_in_place(client, place, text, said):
    answer = scan(client, text, client.get(f"/storage/?place={place.number}"))
    assert answer.status_code == 200
    assert said in text_of(answer)


def test_a_bottle_without_a_place_is_told_where_it_stands(client, reception, place, bottle):
    assert "stands in no place yet" in text_of(scan(client, bottle.number))
    store_bottle(bottle, place, by=reception, at=RECEIVED)
    assert "stands in Fridge 2" in text_of(scan(client, bottle.number))


def test_the_search_and_the_bottle_say_where_it_is(client, reception, place, bottle):
    store_bottle(bottle, place, by=reception, at=RECEIVED)
    found = client.get("/reception/", {"q": bottle.number}, follow=True)
    assert "Stands in Fridge 2" in text_of(found)
    listed = client.get("/reception/", {"q": place.number}, follow=True)
    assert bottle.number[:4] in text_of(listed)


def test_a_place_is_made_and_its_card_reads_back(client):
    page = client.post("/storage/places/new/", {"name": "Shelf 1", "kind": "shelf"})
    assert page.status_code == 302
    place = StoragePlace.objects.get()
    card = client.get(f"/storage/places/{place.number}/card/")
    assert codes(pages(card.content, 150)[0]) == [place.number]
    assert client.post("/storage/places/new/", {"name": "", "kind": "cellar"}).status_code == 422


def test_discarding_lists_hazards_and_is_confirmed_by_scan(client, signed_in, reception, bottle, monkeypatch):
    decide_bottle(bottle, by=reception, at=RECEIVED, decision="refused", reason="empty")
    assert "Keep it" in text_of(scan(client, bottle.number, address="/storage/discard/"))
    late = RECEIVED + timedelta(days=settings.DISCARD_AFTER_DAYS)
    monkeypatch.setattr(timezone, "now", lambda: late)
    client = signed_in(reception)  # no session lasts that long
    said = text_of(client.get("/storage/discard/"))
    for hazard in (
        "Declared: may hold sewage.",
        "Kind of water: mine drainage.",
        "Acid: nitric 1 mol/L",
        "Preservative: mercury(II) chloride",
        "local codes",
    ):
        assert hazard in said
    answer = scan(client, bottle.number, address="/storage/discard/")
    assert "is noted as discarded" in text_of(answer)
    assert "Nothing is to be discarded." in text_of(answer)
    bottle.refresh_from_db()
    assert bottle.discarded_at == late


@pytest.mark.parametrize("count", [1, 6])
def test_pages_ask_as_often_for_few_as_for_many(
    client, reception, submitter, group, rulebook, place, count, django_assert_num_queries
):
    for one in checked(reception, submitter, group, rulebook, count):
        store_bottle(one, place, by=reception, at=RECEIVED)
        make_place(by=reception, at=RECEIVED, name=f"Box {one.pk}", kind="box", inside=place)
    client.get("/storage/")
    for address, queries in (
        ("/storage/", 4),
        (f"/storage/places/{place.number}/", 6),
        ("/storage/discard/", 3),
    ):
        with django_assert_num_queries(queries):
            client.get(address)
