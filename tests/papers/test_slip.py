"""The arrival slip, read back: what came, what did not, what is wrong, what happens next."""

import pytest
from django.core import mail
from django.utils import timezone

from intake.actions import receiving
from intake.actions.checking import check_bottle, note_sighting
from intake.actions.deciding import decide_bottle, give_up_ion
from intake.models import Bottle, Question
from tests.factories import RECEIVED, opened, sample, sent
from tests.papers.seeing import codes, pages, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def at_the_moment_of_arrival(monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: RECEIVED)


@pytest.fixture
def consignment(submitter, group, rulebook):
    return sent(submitter, group, rulebook, *(sample(f"S{n}") for n in range(1, 5)))


def bottle(consignment, own_id, line) -> Bottle:
    return consignment.bottles.select_related("sample", "consignment").get(sample__own_id=own_id, line=line)


@pytest.fixture
def arrival(reception, consignment):
    """S1 in order, S2 reserved and refused, S3 with strange labels, S4 not in the box."""
    arrival = opened(reception, consignment, seal="intact", carrier="Moorland couriers 4711")

    def check(own_id, line, **seen):
        one = bottle(consignment, own_id, line)
        return check_bottle(one, arrival, by=reception, at=RECEIVED, seen=seen, in_order=not seen).bottle

    check("S1", "anion")
    check("S1", "cation")
    reserved = check("S2", "anion", headspace=True)
    decide_bottle(reserved, by=reception, at=RECEIVED, decision="reserved", reason="Air over the water.")
    give_up_ion(reserved, by=reception, at=RECEIVED, ion="nitrite", reason="too old")
    refused = check("S2", "cation", broken=True)
    decide_bottle(refused, by=reception, at=RECEIVED, decision="refused", reason="Broken on the way.")
    check("S3", "anion", label_matches=False)
    receiving.close_arrival(arrival, by=reception, at=RECEIVED, more_to_come=False)
    return arrival


def slip_of(consignment, arrival):
    return f"/consignments/{consignment.number}/arrivals/{arrival.number}/slip/"


@pytest.fixture
def text(signed_in, submitter, consignment, arrival):
    answer = signed_in(submitter).get(slip_of(consignment, arrival))
    assert answer["Content-Type"] == "application/pdf"
    return " ".join(text_of(answer.content).split())


def part(text, begins, ends):
    return text.split(begins)[1].split(ends)[0]


def test_it_says_how_the_box_came_and_who_took_it_in(text):
    for said in ("Rolf Reception", "4.2 °C, read on temperature blank", "intact", "Moorland couriers 4711"):
        assert said in text
    assert "3 Mar 2026 15:00 Europe/Berlin" in text


def test_it_says_what_is_wrong_with_what_came(text):
    wrong = part(text, "What is wrong (3)", "What did not come")
    for said in (
        "accepted with a reservation: Air over the water. Given up: nitrite.",
        "refused: Broken on the way.",
        "on hold: The label of the bottle is unlike the list.",
    ):
        assert said in wrong
    assert "S1" not in wrong


def test_it_says_what_did_not_come_and_what_did(text):
    missing = part(text, "What did not come (3)", "What came in order")
    assert missing.count("not in the box") == 3
    assert "S4" in missing
    fine = part(text, "What came in order (2)", "What happens next")
    assert fine.count("ready") == 2


def test_it_says_what_happens_next(text):
    following = text.split("What happens next")[1]
    question = Question.objects.get()
    assert f"/questions/{question.pk}/" in following
    assert "Your word is needed until 5 Mar 2026 09:00 Europe/Berlin" in following
    assert "3 bottles wait for their injection. The first clock runs out at 5 Mar 2026" in following
    assert "Look for what did not come" in following


def test_its_code_is_the_consignment(signed_in, submitter, consignment, arrival):
    content = signed_in(submitter).get(slip_of(consignment, arrival)).content
    assert codes(pages(content, 150)[0]) == [consignment.number]


def test_another_group_in_the_same_box_is_not_told(
    signed_in, submitter, stranger, reception, group, other_group, rulebook
):
    mine = sent(submitter, group, rulebook, sample("Mine"))
    theirs = sent(stranger, other_group, rulebook, sample("Theirs"), title="Secret survey")
    box = opened(reception, mine, theirs)
    for one in Bottle.objects.filter(consignment__in=(mine, theirs)):
        check_bottle(one, box, by=reception, at=RECEIVED, seen={}, in_order=True)
    text = text_of(signed_in(submitter).get(slip_of(mine, box)).content)
    assert "Mine" in text
    assert "Theirs" not in text
    assert "Secret" not in text
    assert signed_in(submitter).get(slip_of(theirs, box)).status_code == 404


def test_an_arrival_of_another_consignment_is_not_found(
    signed_in, submitter, group, rulebook, consignment, arrival
):
    other = sent(submitter, group, rulebook, title="Other")
    assert signed_in(submitter).get(slip_of(other, arrival)).status_code == 404


def test_it_prints_while_the_box_is_being_emptied(signed_in, reception, submitter, group, rulebook):
    consignment = sent(submitter, group, rulebook)
    box = opened(reception, consignment, temperature_c=None, measured_on="")
    text = text_of(signed_in(submitter).get(slip_of(consignment, box)).content)
    assert "still being emptied" in text
    assert "not written down yet" in text


@pytest.mark.django_db(transaction=True)
def test_the_mail_and_the_pages_lead_to_it(signed_in, submitter, reception, consignment, arrival):
    where = slip_of(consignment, arrival)
    (arrived,) = (one for one in mail.outbox if one.subject.startswith("Arrived"))
    assert where in arrived.body
    assert where in signed_in(submitter).get(f"/consignments/{consignment.number}/").content.decode()
    assert where in signed_in(reception).get(f"/reception/arrivals/{arrival.number}/").content.decode()


@pytest.mark.parametrize("count", [1, 8])
def test_it_asks_the_database_as_often_for_few_as_for_many(
    signed_in, reception, submitter, group, rulebook, count, django_assert_num_queries
):
    consignment = sent(submitter, group, rulebook, *(sample(f"S{n}") for n in range(count)))
    box = opened(reception, consignment)
    browser = signed_in(submitter)
    browser.get(slip_of(consignment, box))
    with django_assert_num_queries(6):
        browser.get(slip_of(consignment, box))


def test_declared_hazards_stand_on_it_with_the_usual_caution(
    signed_in, submitter, reception, group, rulebook, text
):
    assert "Handle with care" not in text, "nothing was declared of these"
    foul = sent(submitter, group, rulebook, sample("F1", hazards="may hold sewage"), title="Foul")
    arrival = opened(reception, foul)
    one = bottle(foul, "F1", "anion")
    check_bottle(one, arrival, by=reception, at=RECEIVED, seen={}, in_order=True)
    answer = signed_in(submitter).get(slip_of(foul, arrival))
    careful = part(" ".join(text_of(answer.content).split()), "Handle with care", "What happens next")
    assert careful.count("F1: Declared: may hold sewage.") == 1
    assert "local codes come first" in careful


def test_what_was_scanned_and_not_checked_is_not_said_to_be_absent(
    signed_in, submitter, reception, group, rulebook
):
    two = sent(submitter, group, rulebook, sample("U1"), title="Unchecked")
    arrival = opened(reception, two)
    note_sighting(bottle(two, "U1", "anion"), arrival, by=reception, at=RECEIVED)
    receiving.close_arrival(arrival, by=reception, at=RECEIVED, more_to_come=False, scanned_are_here=True)
    text = " ".join(text_of(signed_in(submitter).get(slip_of(two, arrival)).content).split())
    assert part(text, "not checked yet (1)", "What did not come (1)").count("not checked yet") == 1
    assert "checked as soon as it can be" in text
