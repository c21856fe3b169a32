"""Reception's pages: what is expected and on the bench, the search, arrivals, who sees them."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from intake import numbers
from intake.actions import receiving
from intake.actions.checking import check_bottle, note_sighting
from intake.actions.sending import withdraw_consignment
from intake.models import Arrival, Bottle
from tests.factories import RECEIVED, draft, opened, sample, sent

pytestmark = pytest.mark.django_db

RECEPTION = "/reception/"


@pytest.fixture(autouse=True)
def at_the_moment_of_arrival(monkeypatch):
    """Every request of these tests comes at RECEIVED."""
    monkeypatch.setattr(timezone, "now", lambda: RECEIVED)


@pytest.fixture
def consignment(submitter, group, rulebook):
    return sent(submitter, group, rulebook, sample("W-1"), sample("W-2"))


@pytest.fixture
def client(signed_in, reception):
    return signed_in(reception)


@pytest.fixture
def arrival(reception, consignment):
    return opened(reception, consignment)


@pytest.fixture
def bottle(consignment):
    return consignment.bottles.filter(line="anion").select_related("sample").first()


def at(name, *args):
    return reverse(f"intake:{name}", args=[getattr(one, "number", one) for one in args])


def held(bottle, arrival, by, **seen):
    return check_bottle(bottle, arrival, by=by, at=RECEIVED, seen=seen or {"headspace": True}).bottle


def test_a_number_of_something_withdrawn_says_so(client, submitter, group, rulebook):
    gone = sent(submitter, group, rulebook, sample("X-1"), title="Taken back")
    withdraw_consignment(gone, by=submitter, at=RECEIVED, reason="Wrong bottles")
    for number in (gone.number, gone.bottles.first().number):
        answer = client.get(RECEPTION, {"q": number})
        assert answer.status_code == 200
        assert f"Taken back was withdrawn by {group}" in answer.text
        assert at("consignment", gone) in answer.text


# What is expected, what is on the bench


def test_the_soonest_clock_stands_first(client, submitter, group, rulebook, consignment):
    late = sent(
        submitter,
        group,
        rulebook,
        sample("L-1", collected_at=RECEIVED - timedelta(hours=40)),
        title="Nearly run out",
    )
    page = client.get(RECEPTION).text
    assert page.index(late.title) < page.index(consignment.title)


def test_drafts_and_what_came_whole_are_not_expected(
    client, submitter, group, rulebook, reception, consignment
):
    draft(submitter, group, rulebook, sample("D-1"), title="Secret draft")
    arrival = opened(reception, consignment)
    assert consignment.title in client.get(RECEPTION).text
    receiving.close_arrival(arrival, by=reception, at=RECEIVED, more_to_come=False)
    page = client.get(RECEPTION).text
    assert "Secret draft" not in page
    assert consignment.title not in page


def test_open_arrivals_say_how_far_they_are(client, reception, arrival, bottle):
    held(bottle, arrival, reception)
    page = " ".join(client.get(RECEPTION).text.split())
    assert "<b>1</b> of <b>4</b>" in page


# The search


@pytest.mark.parametrize("grouped", [False, True])
def test_a_bottle_opens_the_desk_of_its_arrival(client, arrival, bottle, grouped):
    text = numbers.grouped(bottle.number).lower() if grouped else bottle.number
    answer = client.get(RECEPTION, {"q": text})
    assert answer.url == f"{at('desk', arrival)}?on={bottle.number}"


def test_a_bottle_of_no_arrival_offers_to_open_one(client, consignment, bottle):
    answer = client.get(RECEPTION, {"q": bottle.number})
    assert answer.url.startswith(at("arrival_open"))
    page = client.get(answer.url).text
    assert consignment.title in page
    assert numbers.grouped(bottle.number) in page


def test_a_bottle_that_came_and_went_shows_its_page(client, reception, arrival, bottle):
    held(bottle, arrival, reception)
    receiving.close_arrival(arrival, by=reception, at=RECEIVED, more_to_come=True)
    assert client.get(RECEPTION, {"q": bottle.number}).url == at("bottle", bottle)


def test_a_consignment_leads_to_its_arrival_or_to_a_new_one(client, reception, consignment):
    assert client.get(RECEPTION, {"q": consignment.number}).url.startswith(at("arrival_open"))
    arrival = opened(reception, consignment)
    assert client.get(RECEPTION, {"q": consignment.number}).url == at("desk", arrival)


def test_an_arrival_is_found_by_its_number(client, arrival):
    assert client.get(RECEPTION, {"q": arrival.number}).url == at("arrival", arrival)


@pytest.mark.parametrize("text", ["weir", "REEDMOOR", "reed hyd"])
def test_part_of_a_title_or_a_group_finds_the_consignment(client, consignment, text):
    assert consignment.number in client.get(RECEPTION, {"q": text}).text


@pytest.mark.parametrize("text", ["zzz", "B2345678", "🧪", "' OR 1=1 --", "<script>", "%", "\x00", "a" * 500])
def test_what_is_unknown_is_said_in_a_sentence(client, consignment, text):
    answer = client.get(RECEPTION, {"q": text})
    assert answer.status_code == 200
    assert "<script>" not in answer.text.replace('<script type="module"', "")


def test_numbers_that_are_not_there_are_not_told_from_drafts(client, submitter, group, rulebook):
    hidden = draft(submitter, group, rulebook, sample("D-1"), title="Secret draft")
    for number in (hidden.number, hidden.bottles.first().number, numbers.new_number("C")):
        page = client.get(RECEPTION, {"q": number}).text
        assert "Secret" not in page
        assert "may not have sent" in page


# Opening


def opening(client, consignment, **changes):
    return client.post(
        at("arrival_open"),
        {
            "consignments": consignment.number,
            "token": "t",
            "temperature_c": "4,2",
            "measured_on": "temperature blank",
            "cooling": "ice",
            **changes,
        },
    )


def test_opening_leads_to_the_desk(client, consignment):
    answer = opening(client, consignment)
    arrival = Arrival.objects.get()
    assert answer.url == at("desk", arrival)
    assert (arrival.received_at, arrival.temperature_c) == (RECEIVED, 4.2)


def test_opening_twice_by_the_same_form_opens_one(client, consignment):
    first, second = opening(client, consignment), opening(client, consignment)
    assert first.url == second.url
    assert Arrival.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"temperature_c": "-40"}, "between -30 and 60"),
        ({"temperature_c": "400"}, "between -30 and 60"),
        ({"temperature_c": "cold"}, "not a number"),
        ({"temperature_c": "nan"}, "not a number"),
        ({"measured_on": ""}, "choose bottle, temperature blank or melt water"),
        ({"received_at": "2099-01-01T10:00"}, "lies in the future"),
        ({"received_at": "2026-03-03T10:00"}, "Say why it is entered only now"),
        ({"received_at": "yesterday"}, "not a day and time"),
        ({"received_at": "2026-02-30 10:00"}, "not a day and time"),
        ({"consignments": ""}, ""),
        ({"consignments": "CXXXXXXX"}, ""),
        ({"carrier": "x" * 121}, "too long"),
        ({"seal": "melted"}, ""),
    ],
)
def test_bad_input_opens_nothing_and_keeps_what_was_typed(client, consignment, changes, sentence):
    answer = opening(client, consignment, **changes)
    assert answer.status_code in (200, 422)
    assert sentence in answer.text
    assert not Arrival.objects.exists()


def test_an_earlier_moment_with_a_reason_is_taken(client, consignment):
    opening(client, consignment, received_at="2026-03-03T10:00", earlier_reason="came before opening hours")
    arrival = Arrival.objects.get()
    assert arrival.received_at.isoformat() == "2026-03-03T10:00:00+00:00"
    assert arrival.earlier_reason


@pytest.mark.parametrize("text", ["2026-03-29 02:30", "2026-10-25 02:30"])
def test_an_hour_that_the_clocks_skip_or_repeat_is_not_guessed(settings, text):
    from django.core.exceptions import ValidationError

    from intake.forms.figures import MomentField

    settings.TIME_ZONE = "Europe/Berlin"
    timezone.get_default_timezone.cache_clear()
    try:
        with pytest.raises(ValidationError, match="clocks of Europe/Berlin change"):
            MomentField().clean(text)
        assert MomentField().clean("29 Mar 2026 03:30").isoformat() == "2026-03-29T03:30:00+02:00"
    finally:
        settings.TIME_ZONE = "UTC"
        timezone.get_default_timezone.cache_clear()


# One arrival


def test_the_transport_is_amended(client, arrival):
    answer = client.post(
        at("arrival_transport", arrival),
        {"temperature_c": "7.5", "measured_on": "melt water", "seal": "broken"},
    )
    assert answer.url == at("arrival", arrival)
    arrival.refresh_from_db()
    assert (arrival.temperature_c, arrival.measured_on, arrival.seal) == (7.5, "melt water", "broken")


def test_a_further_consignment_is_added_by_its_number_or_a_bottles(
    client, submitter, group, rulebook, arrival
):
    for title, of_bottle in (("Second", False), ("Third", True)):
        other = sent(submitter, group, rulebook, sample(title), title=title)
        number = other.bottles.first().number if of_bottle else other.number
        client.post(at("arrival_add", arrival), {"number": number})
        assert arrival.consignments.filter(pk=other.pk).exists()
    answer = client.post(at("arrival_add", arrival), {"number": "nonsense"})
    assert "Scan it again" in answer.text


def test_closing_lists_what_is_missing_before_it_is_said_so(client, reception, arrival, bottle):
    held(bottle, arrival, reception)
    page = client.get(at("arrival_close", arrival)).text
    assert "3 bottles were never scanned" in page
    assert "not in the box" in page, "what the group will read is said beforehand"
    assert client.post(at("arrival_close", arrival), {"token": "t"}).status_code == 422
    client.post(at("arrival_close", arrival), {"token": "t", "more_to_come": "no"})
    arrival.refresh_from_db()
    assert arrival.closed_at == RECEIVED
    assert Bottle.objects.filter(state="missing").count() == 3


def test_closing_tells_what_was_scanned_from_what_nobody_saw(client, reception, arrival, consignment):
    seen, *_others = consignment.bottles.order_by("pk")
    note_sighting(seen, arrival, by=reception, at=RECEIVED)
    page = client.get(at("arrival_close", arrival)).text
    assert "One bottle was scanned, but not checked" in page
    assert f"{at('desk', arrival)}?on={seen.number}" in page
    assert "3 bottles were never scanned" in page
    without_word = client.post(at("arrival_close", arrival), {"token": "t", "more_to_come": "no"})
    assert "Say whether these bottles are here" in without_word.text
    client.post(at("arrival_close", arrival), {"token": "t", "more_to_come": "no", "scanned": "here"})
    seen.refresh_from_db()
    assert seen.state == "expected"
    assert set(consignment.bottles.exclude(pk=seen.pk).values_list("state", flat=True)) == {"missing"}


def test_another_box_on_its_way_keeps_them_expected(client, arrival):
    client.post(at("arrival_close", arrival), {"token": "t", "more_to_come": "yes"})
    assert Bottle.objects.filter(state="expected").count() == 4


def test_closing_warns_of_a_second_box_on_the_bench(client, reception, consignment, arrival):
    consignment.refresh_from_db()
    second = opened(reception, consignment)
    assert str(second) in client.get(at("arrival_close", arrival)).text


def test_a_closed_arrival_explains_itself(client, arrival):
    client.post(at("arrival_close", arrival), {"token": "t", "more_to_come": "yes"})
    for name in ("arrival_transport", "arrival_add", "arrival_close", "arrival_unannounced"):
        answer = client.get(at(name, arrival))
        assert answer.status_code == 409
        assert "is closed" in answer.text


def test_a_bottle_nobody_announced_is_taken_in_and_shown_at_the_desk(client, consignment, arrival):
    answer = client.post(
        at("arrival_unannounced", arrival),
        {"consignment": consignment.number, "own_id": "🧪 מים", "line": "anion", "token": "t"},
    )
    bottle = Bottle.objects.get(announced=False)
    assert answer.url == f"{at('desk', arrival)}?on={bottle.number}"
    assert "Look at this bottle" in client.get(answer.url).text
    assert bottle.sample.own_id == "🧪 מים"


@pytest.mark.parametrize("missing", ["own_id", "line", "consignment"])
def test_an_unannounced_bottle_needs_an_id_a_line_and_an_owner(client, consignment, arrival, missing):
    told = {"consignment": consignment.number, "own_id": "M-1", "line": "anion", "token": "t"}
    answer = client.post(at("arrival_unannounced", arrival), {**told, missing: ""})
    assert answer.status_code == 422
    assert not Bottle.objects.filter(announced=False).exists()


# Who sees what


GETS = ("arrival", "desk", "arrival_transport", "arrival_add", "arrival_close", "arrival_unannounced")
POSTS = (
    "bottle_check",
    "bottle_undo",
    "bottle_decide",
    "bottle_agree",
    "bottle_give_up",
    "bottle_restore",
)


def test_reception_is_closed_to_submitters(signed_in, submitter, stranger, arrival, bottle):
    for person in (submitter, stranger):
        theirs = signed_in(person)
        for address in (RECEPTION, at("arrival_open"), at("command_card")):
            assert theirs.get(address).status_code == 403
        for name in GETS:
            assert theirs.get(at(name, arrival)).status_code in (403, 404)
        for name in POSTS:
            assert theirs.post(at(name, bottle)).status_code in (403, 404)


def test_a_group_sees_its_own_bottle_without_acts_and_no_other(
    signed_in, submitter, stranger, arrival, bottle
):
    page = signed_in(submitter).get(at("bottle", bottle))
    assert page.status_code == 200
    assert "<form" not in page.text.split("<main")[1].split("</main")[0]
    theirs = signed_in(stranger)
    missing = theirs.get(at("bottle", numbers.new_number("B")))
    hidden = theirs.get(at("bottle", bottle))
    assert hidden.status_code == missing.status_code == 404


def test_signed_out_everything_asks_to_sign_in(django_user_model, arrival, bottle):
    from django.test import Client

    nobody = Client()
    addresses = [RECEPTION, at("arrival_open"), at("command_card"), at("bottle", bottle)]
    for address in [*addresses, *(at(name, arrival) for name in GETS)]:
        answer = nobody.get(address)
        assert answer.status_code == 302
        assert "/account/" in answer.url


def test_numbers_of_nothing_are_404(client, arrival):
    for name in GETS:
        assert client.get(at(name, numbers.new_number("A"))).status_code == 404
    assert client.get(at("bottle", numbers.new_number("B"))).status_code == 404


# What a page costs


@pytest.mark.parametrize("count", [1, 10])
def test_pages_cost_the_same_for_two_bottles_and_for_twenty(
    client, submitter, reception, group, rulebook, count, django_assert_num_queries
):
    consignment = sent(submitter, group, rulebook, *(sample(f"W-{number}") for number in range(count)))
    arrival = opened(reception, consignment)
    bottle = consignment.bottles.first()
    costs = {
        RECEPTION: 7,
        at("arrival", arrival): 7,
        at("desk", arrival): 6,
        at("arrival_close", arrival): 5,
        at("bottle", bottle): 11,
    }
    for address in costs:
        client.get(address)
    for address, queries in costs.items():
        with django_assert_num_queries(queries):
            client.get(address)


@pytest.mark.parametrize("count", [2, 9])
def test_reception_costs_the_same_however_many_consignments(
    client, submitter, reception, group, rulebook, count, django_assert_num_queries
):
    for number in range(count):
        consignment = sent(submitter, group, rulebook, sample(f"W-{number}"), title=f"Trip {number}")
        if number % 2:
            opened(reception, consignment)
    client.get(RECEPTION)
    with django_assert_num_queries(7):
        client.get(RECEPTION)


def test_opening_tells_every_fault_at_once(client, consignment):
    """A figure without what it was read on, and a moment long past without a reason, in one answer."""
    told = {
        "consignments": consignment.number,
        "temperature_c": "400",
        "received_at": "2026-03-03 02:00",
        "token": "t",
    }
    answer = client.post(at("arrival_open"), told)
    assert answer.status_code == 422
    for sentence in ("Read the thermometer again", "what the temperature was read on", "Say why"):
        assert sentence in answer.text
    assert not Arrival.objects.exists()
