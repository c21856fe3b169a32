"""The page of one bottle: looks, decisions and ions by plain forms."""

import pytest
from django.urls import reverse
from django.utils import timezone

from intake.actions.checking import check_bottle
from intake.models import BenchCheck
from tests.factories import RECEIVED, opened, sample, sent

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


def checking(client, bottle, came_in, **changes):
    return client.post(
        at("bottle_check", bottle),
        {
            f"check-{name}": value
            for name, value in {
                "arrival": came_in.number,
                "cold": "yes",
                "verdict": "not",
                "token": "c",
                **changes,
            }.items()
        },
    )


def test_the_plain_form_starts_with_nothing_looked_at(client, arrival, bottle):
    page = client.get(at("bottle", bottle)).text
    assert "checked" not in page.split('id="check"')[1].replace("unchecked", "").split("</form>")[0]
    checking(client, bottle, arrival)
    made = BenchCheck.objects.get()
    assert (made.cold, made.leaking, made.headspace, made.in_order) == (True, None, None, False)


def test_the_plain_form_records_every_look(client, arrival, consignment):
    cation = consignment.bottles.filter(line="cation").first()
    checking(
        client,
        cation,
        arrival,
        headspace="no",
        leaking="no",
        broken="no",
        frozen="no",
        cloudy="no",
        label_matches="yes",
        temperature_c="4,5",
        ph_low="1,5",
        verdict="in order",
    )
    made = BenchCheck.objects.get()
    assert (made.ph_low, made.ph_high, made.temperature_c, made.headspace) == (1.5, 1.5, 4.5, False)
    cation.refresh_from_db()
    assert cation.state == "ready"


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"ph_low": "15"}, "between 0 and 14"),
        ({"ph_low": "seven"}, "not a number"),
        ({"ph_low": "3", "ph_high": "2"}, "lower value first"),
        ({"temperature_c": "400"}, "between -30 and 60"),
        ({"verdict": ""}, "whether the bottle is in order"),
        ({"verdict": "in order", "leaking": "yes"}, "cannot be in order"),
        ({"cold": "perhaps"}, "in the list"),
        ({"arrival": "AXXXXXXX"}, "not on the bench"),
        ({"remark": "x" * 1001}, "too long"),
    ],
)
def test_bad_input_records_no_check(client, arrival, bottle, changes, sentence):
    answer = checking(client, bottle, arrival, **changes)
    assert answer.status_code == 422
    assert sentence in answer.text
    assert not BenchCheck.objects.exists()


def test_a_bottle_for_anions_offers_no_acid(client, arrival, consignment):
    for line, offered in (("anion", False), ("cation", True)):
        bottle = consignment.bottles.filter(line=line).first()
        assert ("acid_added_ml" in client.get(at("bottle", bottle)).text) is offered


def test_declared_stands_beside_seen(client, reception, arrival, bottle):
    held(bottle, arrival, reception, cold=False)
    page = client.get(at("bottle", bottle)).text
    assert "differs" in page
    assert "not cold" in page
    assert "Rolf Reception" in page


def test_deciding_on_the_page(client, reception, arrival, bottle):
    held(bottle, arrival, reception)
    answer = client.post(at("bottle_decide", bottle), {"decide-decision": "refused", "decide-token": "d"})
    assert answer.status_code == 422
    assert "Say why" in answer.text
    told = {"decide-decision": "refused", "decide-reason": "wrong river", "decide-token": "d"}
    for _ in range(2):
        assert client.post(at("bottle_decide", bottle), told).url == at("bottle", bottle)
    bottle.refresh_from_db()
    assert bottle.state == "refused"
    assert "wrong river" in client.get(at("bottle", bottle)).text


def test_reception_cannot_overrule_on_the_page(client, signed_in, reception, manager, arrival, bottle):
    held(bottle, arrival, reception)
    told = {"decide-decision": "accepted", "decide-reason": "fine", "decide-token": "d"}
    answer = client.post(at("bottle_decide", bottle), told)
    assert answer.status_code == 422
    assert "Only the lab manager accepts this bottle without a reservation." in answer.text
    assert "fine</textarea>" in answer.text, "the reason that was typed is kept"
    bottle.refresh_from_db()
    assert bottle.state == "on hold"
    assert signed_in(manager).post(at("bottle_decide", bottle), told).status_code == 302


def test_agreeing_undoing_giving_up_and_restoring(client, reception, arrival, bottle):
    held(bottle, arrival, reception)
    client.post(at("bottle_agree", bottle), {"token": "a"})
    bottle.refresh_from_db()
    assert bottle.decision == "reserved"
    client.post(
        at("bottle_give_up", bottle),
        {"give-up-ion": "nitrite", "give-up-reason": "too old", "give-up-token": "g"},
    )
    bottle.refresh_from_db()
    assert bottle.dropped == {"nitrite": "too old"}
    client.post(at("bottle_restore", bottle), {"restore-ion": "nitrite", "restore-token": "r"})
    client.post(at("bottle_undo", bottle), {"token": "u"})
    bottle.refresh_from_db()
    assert (bottle.dropped, bottle.state) == ({}, "expected")
    answer = client.post(at("bottle_undo", bottle), {"token": "u2"})
    assert "nothing to undo" in answer.text
