"""Agreeing on a day: who may, which moves, room, races, mails, record."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from django.core import mail

from intake.actions.sending import withdraw_consignment
from intake.errors import AlreadyDone, EntryProblem, MoveNotAllowed, NotPermitted, SomebodyWasFaster
from intake.models import DateRequest, RecordEntry
from intake.rules.facts import Line
from intake.telling import tell
from labqueue.actions import dating
from labqueue.capacity import room_on, rooms
from labqueue.models import ClosedDay, Unit
from tests.factories import ENTERED, draft, sent

pytestmark = pytest.mark.django_db

#: ENTERED is Tuesday 3 March 2026, 10:00 UTC.
THURSDAY, FRIDAY, SATURDAY = date(2026, 3, 5), date(2026, 3, 6), date(2026, 3, 7)


@pytest.fixture
def consignment(submitter, group, rulebook):
    return sent(submitter, group, rulebook)


def ask(consignment, by, **changes):
    given = {"at": ENTERED, "day": THURSDAY, "anion_bottles": 10, "cation_bottles": 4} | changes
    return dating.ask_for_date(consignment, by=by, **given)


def test_asked_confirmed_and_told_to_both_sides(
    consignment, submitter, manager, django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        asked = ask(consignment, submitter)
    assert (asked.state, asked.version) == ("asked", 0)
    consignment.refresh_from_db()
    assert consignment.requested_on == THURSDAY
    assert {message.to[0] for message in mail.outbox} == {submitter.email, manager.email}
    mail.outbox.clear()
    with django_capture_on_commit_callbacks(execute=True):
        agreed = dating.agree_date(consignment, by=manager, at=ENTERED, version=0, note="Bring it by nine.")
    assert (agreed.state, agreed.version) == ("agreed", 1)
    assert {message.to[0] for message in mail.outbox} == {submitter.email, manager.email}
    assert "Thursday 5 March 2026: agreed, 10 bottles for anions, 4 for cations" in mail.outbox[0].body
    assert "Bring it by nine." in mail.outbox[0].body
    told = tell(RecordEntry.objects.get(verb="date.agree"), "UTC")
    assert told.sentence.startswith("agreed the day of analysis for")


def test_proposed_and_accepted(consignment, submitter, manager):
    ask(consignment, submitter)
    proposed = dating.propose_date(
        consignment, by=manager, at=ENTERED, version=0, day=FRIDAY, note="Thursday is full."
    )
    assert (proposed.state, proposed.day) == ("proposed", FRIDAY)
    agreed = dating.accept_date(consignment, by=submitter, at=ENTERED, version=1)
    assert (agreed.state, agreed.day, agreed.version) == ("agreed", FRIDAY, 2)


def test_declined_and_asked_again(consignment, submitter, manager):
    ask(consignment, submitter)
    dating.decline_date(consignment, by=manager, at=ENTERED, version=0, note="No eluent.")
    again = ask(consignment, submitter, day=FRIDAY, version=1)
    assert (again.state, again.day, again.version) == ("asked", FRIDAY, 2)


def test_an_agreed_day_can_be_moved_by_both_sides(consignment, submitter, manager):
    ask(consignment, submitter)
    dating.agree_date(consignment, by=manager, at=ENTERED, version=0)
    assert ask(consignment, submitter, day=FRIDAY, version=1).state == "asked"
    dating.agree_date(consignment, by=manager, at=ENTERED, version=2)
    moved = dating.propose_date(consignment, by=manager, at=ENTERED, version=3, day=THURSDAY)
    assert moved.state == "proposed"


@pytest.mark.parametrize(
    ("name", "states"),
    [
        ("agree_date", {"asked"}),
        ("accept_date", {"proposed"}),
        ("decline_date", {"asked", "proposed", "agreed"}),
    ],
)
def test_every_other_state_refuses(consignment, submitter, manager, name, states):
    ask(consignment, submitter)
    for state in ("asked", "proposed", "agreed", "declined"):
        DateRequest.objects.update(state=state, version=0)
        by = submitter if name == "accept_date" else manager
        if state in states:
            getattr(dating, name)(consignment, by=by, at=ENTERED, version=0)
        else:
            with pytest.raises(MoveNotAllowed):
                getattr(dating, name)(consignment, by=by, at=ENTERED, version=0)


def test_who_may_not(consignment, submitter, stranger, reception, manager):
    for person in (stranger, reception):
        with pytest.raises(NotPermitted):
            ask(consignment, person)
    ask(consignment, submitter)
    for person in (submitter, stranger, reception):
        with pytest.raises(NotPermitted):
            dating.agree_date(consignment, by=person, at=ENTERED, version=0)
        with pytest.raises(NotPermitted):
            dating.propose_date(consignment, by=person, at=ENTERED, version=0, day=FRIDAY)
        with pytest.raises(NotPermitted):
            dating.set_policy(by=person, at=ENTERED, confirms_itself=True)
    assert DateRequest.objects.get().state == "asked"


@pytest.mark.parametrize(
    ("day", "sentence"),
    [
        (date(2026, 3, 2), "is over"),
        (SATURDAY, "is closed"),
        (date(2029, 3, 5), "two years"),
    ],
)
def test_days_that_cannot_be(consignment, submitter, day, sentence):
    with pytest.raises(EntryProblem, match=sentence) as refused:
        ask(consignment, submitter, day=day)
    assert set(refused.value.problems) == {"day"}
    assert not DateRequest.objects.exists()


def test_a_day_of_our_own_is_closed(consignment, submitter):
    ClosedDay.objects.create(day=THURSDAY, reason="Stocktaking")
    with pytest.raises(EntryProblem, match="closed"):
        ask(consignment, submitter)


def test_a_day_for_no_bottle_is_refused(consignment, submitter):
    with pytest.raises(EntryProblem, match="how many bottles"):
        ask(consignment, submitter, anion_bottles=0, cation_bottles=0)


def test_two_who_answer_at_once(consignment, submitter, manager):
    ask(consignment, submitter)
    dating.propose_date(consignment, by=manager, at=ENTERED, version=0, day=FRIDAY)
    with pytest.raises(SomebodyWasFaster):
        dating.propose_date(consignment, by=manager, at=ENTERED, version=0, day=THURSDAY)
    with pytest.raises(SomebodyWasFaster):
        ask(consignment, submitter, version=0)
    with pytest.raises(SomebodyWasFaster):
        ask(consignment, submitter)
    assert DateRequest.objects.get().day == FRIDAY


def test_sent_twice_takes_effect_once(consignment, submitter):
    ask(consignment, submitter, token="once")
    with pytest.raises(AlreadyDone):
        ask(consignment, submitter, token="once")
    assert RecordEntry.objects.filter(verb="date.ask").count() == 1


def test_room_of_the_usual_unit():
    """08:00 to the next 08:00 is 1440 min; 30 of turnaround and 190 of start-up leave 1220.

    A sample takes 20 min, each begun ten 40 more (standard, blank), each begun twenty 40 (duplicate,
    spike): 45 take 900 + 5 x 40 + 3 x 40 = 1220, 46 would take 1240. The tray's 52 free places hold
    two batches of 22 and 6 samples with 2 duplicates: 46, so time decides.
    """
    room = room_on(THURSDAY)
    assert [(line.line, line.capacity) for line in room.lines] == [(Line.ANION, 45), (Line.CATION, 45)]
    assert room_on(SATURDAY).closed


def test_friday_has_the_weekend_but_one_tray():
    """No opening on Saturday: a day's run is reckoned as 24 h, whatever stands empty after it."""
    assert room_on(FRIDAY).lines[0].capacity == 45


def test_units_of_the_laboratory_count_once_entered():
    Unit.objects.create(name="Short tray", line="anion", tray_places=20, reserved_places=8)
    Unit.objects.create(name="Broken", line="anion", out_from=datetime(2026, 1, 1, tzinfo=UTC))
    Unit.objects.create(name="Gone", line="anion", retired_at=ENTERED)
    anion, cation = room_on(THURSDAY).lines
    # 12 free places, two of them for the duplicate and spike that close the batch.
    assert anion.capacity == 10
    assert cation.capacity == 0


def test_room_counts_what_stands(consignment, submitter, manager, group, rulebook):
    ask(consignment, submitter)
    other = sent(submitter, group, rulebook)
    ask(other, submitter, anion_bottles=7, cation_bottles=0)
    dating.agree_date(other, by=manager, at=ENTERED, version=0)
    gone = sent(submitter, group, rulebook)
    ask(gone, submitter, anion_bottles=30)
    withdraw_consignment(gone, by=submitter, at=ENTERED, reason="too dry")
    anion, cation = room_on(THURSDAY).lines
    assert (anion.agreed, anion.asked, anion.left, anion.left_if_all_agree) == (7, 10, 38, 28)
    assert (cation.agreed, cation.asked) == (0, 4)


def test_room_takes_few_queries(consignment, submitter, django_assert_max_num_queries):
    ask(consignment, submitter)
    with django_assert_max_num_queries(5):
        assert len(rooms(THURSDAY, 60)) == 60


def test_days_confirm_themselves_while_there_is_room(consignment, submitter, manager, group, rulebook):
    dating.set_policy(by=manager, at=ENTERED, confirms_itself=True)
    assert ask(consignment, submitter, anion_bottles=40).state == "agreed"
    other = draft(submitter, group, rulebook)
    assert ask(other, submitter, anion_bottles=6).state == "asked"
    last = draft(submitter, group, rulebook)
    assert ask(last, submitter, anion_bottles=5, cation_bottles=41).state == "agreed"
    # What is agreed for oneself does not stand in one's own way.
    assert ask(consignment, submitter, anion_bottles=39, version=0).state == "agreed"
    assert RecordEntry.objects.filter(verb="date.policy").count() == 1


def test_nothing_is_agreed_for_what_was_withdrawn(consignment, submitter, manager):
    ask(consignment, submitter)
    withdraw_consignment(consignment, by=submitter, at=ENTERED, reason="too dry")
    with pytest.raises(MoveNotAllowed):
        dating.agree_date(consignment, by=manager, at=ENTERED, version=0)
    assert not DateRequest.objects.open().exists()
