"""A day of analysis follows the bottles that are really sent."""

from __future__ import annotations

from datetime import date

import pytest
from django.core import mail

from intake.actions.registering import enter_samples
from intake.actions.sending import send_consignment
from intake.daycounts import told_unlike
from intake.models import DateRequest, RecordEntry
from intake.telling import tell
from labqueue.actions import dating
from tests.factories import ENTERED, anion_bottle, cation_bottle, draft, sample
from tests.views.pages import text_of

pytestmark = pytest.mark.django_db

THURSDAY = date(2026, 3, 5)
BOTH = (anion_bottle(), cation_bottle())


@pytest.fixture
def agreed(submitter, manager, group, rulebook):
    """``agreed(anion, cation)``: a draft of two samples, four bottles, with an agreed day for so many."""

    def make(anion, cation):
        consignment = draft(
            submitter, group, rulebook, sample("S1", bottles=BOTH), sample("S2", bottles=BOTH)
        )
        dating.ask_for_date(
            consignment, by=submitter, at=ENTERED, day=THURSDAY, anion_bottles=anion, cation_bottles=cation
        )
        dating.agree_date(consignment, by=manager, at=ENTERED, version=0)
        return again(consignment)

    return make


def again(consignment):
    return type(consignment).objects.get(pk=consignment.pk)


def send(consignment, by):
    return send_consignment(consignment, by=by, at=ENTERED, version=consignment.version)


def enter(consignment, by, *entries):
    consignment = again(consignment)
    return enter_samples(
        consignment, entries, by=by, at=ENTERED, version=consignment.version, reason="One more spring."
    )


def stands():
    day = DateRequest.objects.get()
    return (day.state, day.day, day.anion_bottles, day.cation_bottles, day.version)


def test_a_draft_changes_nothing_but_is_told_of(agreed, signed_in, submitter):
    consignment = agreed(1, 2)
    assert stands() == ("agreed", THURSDAY, 1, 2, 1)
    told = (
        "Entered: 2 bottles for anions, 2 bottles for cations. 5 Mar 2026 is agreed for "
        "1 bottle for anions, 2 bottles for cations. When you send it, the laboratory is asked anew."
    )
    assert told_unlike(consignment) == told
    mine = signed_in(submitter)
    for page in ("date/", "send/", ""):
        assert told in text_of(mine.get(f"/consignments/{consignment.number}/{page}"))


def test_as_many_as_agreed_stay_agreed(agreed, submitter):
    send(agreed(2, 2), submitter)
    assert stands() == ("agreed", THURSDAY, 2, 2, 1)
    assert not RecordEntry.objects.filter(verb="date.follow").exists()


def test_more_than_agreed_ask_anew_and_both_sides_are_told(
    agreed, submitter, manager, django_capture_on_commit_callbacks
):
    consignment = agreed(1, 2)
    with django_capture_on_commit_callbacks(execute=True):
        send(consignment, submitter)
    assert stands() == ("asked", THURSDAY, 2, 2, 2)
    mails = [message for message in mail.outbox if "more bottles than this day stood for" in message.body]
    assert {message.to[0] for message in mails} == {submitter.email, manager.email}
    assert "is agreed for 1 bottle for anions, 2 bottles for cations" in mails[0].body
    assert "asked for, 2 bottles for anions, 2 for cations" in mails[0].body
    told = tell(RecordEntry.objects.get(verb="date.follow"), "UTC")
    assert told.sentence.startswith("sends other bottles than stood for the day of analysis")


def test_fewer_than_agreed_only_free_the_room(agreed, submitter, django_capture_on_commit_callbacks):
    consignment = agreed(5, 2)
    with django_capture_on_commit_callbacks(execute=True):
        send(consignment, submitter)
    assert stands() == ("agreed", THURSDAY, 2, 2, 2)
    assert not [message for message in mail.outbox if "bottles than this day stood for" in message.body]
    assert RecordEntry.objects.filter(verb="date.follow").count() == 1


def test_more_of_one_line_and_fewer_of_the_other_ask_anew(agreed, submitter):
    send(agreed(4, 1), submitter)
    assert stands() == ("asked", THURSDAY, 2, 2, 2)


def test_a_bottle_added_after_sending_asks_anew(agreed, submitter):
    consignment = send(agreed(2, 2), submitter)
    three = [sample(name, bottles=BOTH) for name in ("S1", "S2", "S3")]
    enter(consignment, submitter, *three)
    assert stands() == ("asked", THURSDAY, 3, 3, 2)


def test_a_reading_changed_after_sending_leaves_the_day_alone(agreed, submitter):
    """The group may have asked for fewer bottles on purpose; only other bottles reopen that."""
    consignment = send(agreed(2, 2), submitter)
    dating.ask_for_date(
        again(consignment),
        by=submitter,
        at=ENTERED,
        day=THURSDAY,
        anion_bottles=1,
        cation_bottles=1,
        version=1,
    )
    two = [sample("S1", bottles=BOTH, ph=7.9), sample("S2", bottles=BOTH)]
    enter(consignment, submitter, *two)
    assert stands() == ("asked", THURSDAY, 1, 1, 2)


def test_a_declined_day_stays_declined(agreed, submitter):
    consignment = agreed(1, 1)
    dating.decline_date(consignment, by=submitter, at=ENTERED, version=1)
    send(again(consignment), submitter)
    assert stands()[0] == "declined"
    assert told_unlike(again(consignment)) == ""


def test_without_a_day_nothing_happens(submitter, group, rulebook):
    send(draft(submitter, group, rulebook, sample("S1", bottles=BOTH)), submitter)
    assert not DateRequest.objects.exists()
