"""Amending what was sent: who may, until when, why, and who is told."""

from datetime import timedelta

import pytest
from django.core import mail

from intake.actions.entries import SampleEntry
from intake.actions.receiving import open_arrival
from intake.actions.registering import amend_consignment, enter_samples
from intake.actions.sending import withdraw_consignment
from intake.errors import AlreadyDone, EntryProblem, MoveNotAllowed, NotPermitted, SomebodyWasFaster
from intake.models import Arrival, Bottle, ClockRow, Consignment, RecordEntry, Sample
from intake.states import ConsignmentState
from intake.telling import told_after_sending
from tests.factories import COLLECTED, ENTERED, RECEIVED, anion_bottle, draft, opened, sample, sent

pytestmark = pytest.mark.django_db
LATER = ENTERED + timedelta(minutes=30)
WHY = "the meter had slipped"


@pytest.fixture
def consignment(submitter, group, rulebook):
    return sent(submitter, group, rulebook, sample("S1"), sample("S2"))


def enter(consignment, by, *entries: SampleEntry, **changes):
    more = {"version": consignment.version, "reason": WHY, **changes}
    return enter_samples(consignment, entries, by=by, at=LATER, **more)


def amend(consignment, by, **changes):
    more = {"version": consignment.version, "changes": {"title": "Second try"}, "reason": WHY, **changes}
    return amend_consignment(consignment, by=by, at=LATER, **more)


def test_a_sent_consignment_is_changed_judged_anew_and_keeps_its_bottle_numbers(consignment, submitter):
    numbers = dict(Bottle.objects.values_list("pk", "number"))
    later = COLLECTED + timedelta(hours=1)
    enter(consignment, submitter, sample("S1", collected_at=later), sample("S2"))
    assert dict(Bottle.objects.values_list("pk", "number")) == numbers
    consignment.refresh_from_db()
    assert consignment.state == ConsignmentState.SENT
    due = ClockRow.objects.get(ion="nitrate", bottle__sample__own_id="S1").due_at
    assert due == later + timedelta(hours=48)
    entry = RecordEntry.objects.filter(consignment=consignment).order_by("-position").first()
    assert (entry.verb, entry.reason) == ("samples.enter", WHY)


def test_the_head_of_a_sent_consignment_is_changed_with_its_reason(consignment, submitter):
    amend(consignment, submitter)
    entry = RecordEntry.objects.filter(verb="consignment.amend").get()
    assert (entry.before, entry.after) == ({"title": "Weir survey"}, {"title": "Second try"})
    assert entry.reason == WHY


@pytest.mark.parametrize("reason", ["", "  "])
def test_without_a_reason_nothing_is_changed_after_sending(consignment, submitter, reason):
    for change, entries in ((enter, [sample("S1")]), (amend, [])):
        with pytest.raises(EntryProblem) as refusal:
            change(consignment, submitter, *entries, reason=reason)
        assert "reason" in refusal.value.problems
    assert Sample.objects.count() == 2
    assert Consignment.objects.get().title == "Weir survey"


def test_others_do_not_change_it(consignment, stranger, reception):
    for person in (stranger, reception):
        with pytest.raises(NotPermitted):
            enter(consignment, person, sample("S1"))
        with pytest.raises(NotPermitted):
            amend(consignment, person)


def test_a_change_leaves_it_fit_to_be_sent_or_is_not_made(consignment, submitter):
    with pytest.raises(EntryProblem, match="Withdraw it"):
        enter(consignment, submitter)
    with pytest.raises(EntryProblem, match="No bottle is entered for S2"):
        enter(consignment, submitter, sample("S1"), sample("S2", bottles=()))
    assert Bottle.objects.count() == 4


def test_a_fault_in_the_middle_leaves_everything_as_it_was(consignment, submitter, monkeypatch):
    def break_off(*args, **kwargs):
        raise RuntimeError("the power went")

    version = consignment.version
    monkeypatch.setattr("intake.actions.registering.judge_consignment", break_off)
    with pytest.raises(RuntimeError):
        enter(consignment, submitter, sample("S9"))
    assert set(Sample.objects.values_list("own_id", flat=True)) == {"S1", "S2"}
    assert Consignment.objects.get().version == version
    assert not RecordEntry.objects.after_sending().exists()


def test_the_same_change_sent_twice_is_made_once(consignment, submitter):
    enter(consignment, submitter, sample("S1"), token="once")
    with pytest.raises(AlreadyDone):
        enter(consignment, submitter, sample("S1"), token="once")
    assert RecordEntry.objects.after_sending().count() == 1


def test_of_two_people_who_amend_at_once_the_slower_is_told_who_was_faster(consignment, submitter, manager):
    stale = Consignment.objects.get()
    amend(consignment, manager)
    with pytest.raises(SomebodyWasFaster, match="Mara Manager changed it"):
        enter(stale, submitter, sample("S1"))
    assert Sample.objects.count() == 2


def test_an_arrival_opened_first_refuses_the_amendment(consignment, submitter, reception):
    stale = Consignment.objects.get()
    opened(reception, consignment)
    for change, entries in ((enter, [sample("S1")]), (amend, [])):
        with pytest.raises(SomebodyWasFaster, match=r"Rolf Reception opened arrival \w+ of it"):
            change(stale, submitter, *entries)
    with pytest.raises(MoveNotAllowed, match="have arrived"):
        amend(Consignment.objects.get(), submitter)
    assert Sample.objects.count() == 2


def test_an_amendment_made_first_refuses_an_arrival_opened_on_what_was_read_before(
    consignment, submitter, reception
):
    stale = Consignment.objects.get()
    enter(consignment, submitter, sample("S1"))
    with pytest.raises(SomebodyWasFaster, match="changed by its group a moment ago"):
        open_arrival([stale], by=reception, at=RECEIVED, received_at=RECEIVED)
    assert not Arrival.objects.exists()
    assert Consignment.objects.get().state == ConsignmentState.SENT
    opened(reception, Consignment.objects.get())


def test_what_was_withdrawn_is_not_changed(consignment, submitter):
    withdraw_consignment(consignment, by=submitter, at=LATER, reason="storm")
    with pytest.raises(MoveNotAllowed, match="withdrawn"):
        amend(consignment, submitter)


def test_managers_get_a_mail_with_what_changed_and_why(
    consignment, submitter, manager, django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        enter(consignment, submitter, sample("S1", ph=6.5), sample("S2"))
    (message,) = (each for each in mail.outbox if "Changed after sending" in each.subject)
    assert message.to == [manager.email]
    for words in ("Sami Submitter", WHY, "S1: field pH: 7.4 → 6.5"):
        assert words in message.body


def test_a_draft_asks_for_no_reason_and_mails_nobody(
    submitter, group, rulebook, manager, django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        enter(draft(submitter, group, rulebook), submitter, sample("S1"), reason="")
    assert Sample.objects.count() == 1
    assert not mail.outbox


def test_what_was_changed_after_sending_is_told_and_what_was_changed_before_is_not(
    consignment, submitter, django_assert_num_queries
):
    untouched = sent(submitter, consignment.group, consignment.rulebook)
    enter(consignment, submitter, sample("S1", bottles=(anion_bottle(),)))
    amend(consignment, submitter)
    with django_assert_num_queries(1):
        (one,) = told_after_sending([consignment, untouched])
    assert one.consignment == consignment
    assert [told.entry.verb for told in one.told] == ["consignment.amend", "samples.enter"]
    listed = dict(Consignment.objects.with_amendment().values_list("pk", "amended_at"))
    assert listed == {consignment.pk: LATER, untouched.pk: None}
