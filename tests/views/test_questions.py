"""Questions on the consignment's page, on pages of their own, and in lists."""

import pytest
from django.core.management import call_command
from django.utils import timezone

from intake.actions import receiving
from intake.actions.checking import check_bottle
from intake.models import Question
from tests.factories import RECEIVED, opened, sample, sent
from tests.views.pages import hidden_of, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def at_the_moment_of_arrival(monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: RECEIVED)


def asked(by, submitter, group, rulebook, *, count=2, seen=None):
    consignment = sent(submitter, group, rulebook, *(sample(f"Q-{n}") for n in range(1, count + 1)))
    arrival = opened(by, consignment)
    for bottle in consignment.bottles.all():
        check_bottle(bottle, arrival, by=by, at=RECEIVED, seen=seen or {"label_matches": False})
    receiving.close_arrival(arrival, by=by, at=RECEIVED, more_to_come=False)
    return consignment


@pytest.fixture
def consignment(reception, submitter, group, rulebook):
    return asked(reception, submitter, group, rulebook)


@pytest.fixture
def question(consignment):
    return Question.objects.get()


def page_of(question):
    return f"/questions/{question.pk}/"


def test_the_consignments_page_asks_in_place_and_says_so_first(signed_in, submitter, consignment, question):
    page = signed_in(submitter).get(f"/consignments/{consignment.number}/")
    said = text_of(page)
    assert "4 bottles wait for your word. Answer the question below." in said
    assert "Label unlike the list" in said
    assert "An answer is useful until" in said
    assert f'action="{page_of(question)}"' in page.content.decode()
    assert "Give up" not in said.split("What is to happen")[1].split("In your words")[0]


def test_an_answer_takes_effect_and_leads_back(signed_in, submitter, consignment, question):
    browser = signed_in(submitter)
    token = hidden_of(browser.get(page_of(question)), "token")
    sent_form = {"choice": "go on with a reservation", "words": "Ours.", "token": token}
    answer = browser.post(page_of(question), sent_form)
    assert answer.status_code == 302
    assert answer.url == f"/consignments/{consignment.number}/"
    assert set(consignment.bottles.values_list("state", flat=True)) == {"ready"}
    said = text_of(browser.get(page_of(question)))
    assert "Answered: go on with a reservation by Sami Submitter" in said
    assert "Results for" in said
    again = browser.post(page_of(question), sent_form, follow=True)
    assert "already done" in text_of(again)
    other = browser.post(page_of(question), {"choice": "discard the bottles", "token": "another"})
    assert other.status_code == 409
    assert "Somebody else has answered" in text_of(other)


@pytest.mark.parametrize("choice", ["", "accept", "give up the ions concerned", "\x00", "9" * 300])
def test_no_or_a_wrong_choice_is_explained_in_the_form(signed_in, submitter, question, choice):
    page = signed_in(submitter).post(page_of(question), {"choice": choice, "words": "still here"})
    assert page.status_code == 422
    assert "Choose one of the" in text_of(page)
    assert "still here" in page.content.decode()
    question.refresh_from_db()
    assert question.answered_at is None


def test_a_word_that_is_too_long_is_explained(signed_in, submitter, question):
    page = signed_in(submitter).post(
        page_of(question), {"choice": "discard the bottles", "words": "x" * 1001}
    )
    assert page.status_code == 422
    assert "at most 1000 characters" in text_of(page)


def test_the_manager_says_how_the_group_was_asked(signed_in, manager, question):
    browser = signed_in(manager)
    assert "Whom you asked, how, and what was said" in text_of(browser.get(page_of(question)))
    page = browser.post(page_of(question), {"choice": "discard the bottles"})
    assert page.status_code == 422
    assert "Say whom you asked" in text_of(page)


def test_strangers_get_404_and_reception_may_only_read(signed_in, stranger, reception, client, question):
    answer = {"choice": "discard the bottles", "words": "x"}
    assert signed_in(stranger).get(page_of(question)).status_code == 404
    assert signed_in(stranger).post(page_of(question), answer).status_code == 404
    assert "Label unlike" not in text_of(signed_in(stranger).get("/questions/"))
    assert client.get(page_of(question)).status_code == 302
    browser = signed_in(reception)
    assert 'name="choice"' not in browser.get(page_of(question)).content.decode()
    assert browser.post(page_of(question), answer).status_code == 403
    question.refresh_from_db()
    assert question.answered_at is None


def test_getting_pages_answers_nothing(signed_in, submitter, question):
    browser = signed_in(submitter)
    for address in (page_of(question), "/questions/", f"{page_of(question)}?choice=discard+the+bottles"):
        assert browser.get(address).status_code == 200
    question.refresh_from_db()
    assert question.answered_at is None


def test_lists_show_what_is_owed(signed_in, submitter, manager, question, monkeypatch):
    assert "needs your word on one question" in text_of(signed_in(submitter).get("/consignments/"))
    assert "Label unlike the list" in text_of(signed_in(submitter).get("/questions/"))
    monkeypatch.setattr(timezone, "now", lambda: question.falls_at)
    call_command("remind_questions")
    said = text_of(signed_in(manager).get("/questions/"))
    assert "Yours now: no answer came" in said
    assert "No group owes an answer." in said


def test_the_command_tells_what_it_did(question, monkeypatch, capsys):
    monkeypatch.setattr(timezone, "now", lambda: question.remind_at)
    call_command("remind_questions")
    call_command("remind_questions")
    assert capsys.readouterr().out.splitlines() == [
        "0 asked, 1 reminded, 0 handed over.",
        "0 asked, 0 reminded, 0 handed over.",
    ]


@pytest.mark.parametrize("count", [1, 6])
def test_pages_ask_the_database_as_often_for_few_as_for_many(
    signed_in, reception, submitter, group, rulebook, count, django_assert_num_queries
):
    asked(reception, submitter, group, rulebook, count=count)
    browser = signed_in(submitter)
    address = page_of(Question.objects.get())
    browser.get("/questions/")
    with django_assert_num_queries(5):
        browser.get("/questions/")
    with django_assert_num_queries(6):
        browser.get(address)
