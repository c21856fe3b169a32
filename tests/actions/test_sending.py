"""Sending and withdrawing."""

from datetime import timedelta

import pytest
from django.core import mail

from intake.actions.sending import expected_losses, send_consignment, withdraw_consignment
from intake.errors import AlreadyDone, EntryProblem, MoveNotAllowed, NotPermitted, SomebodyWasFaster
from intake.models import Consignment, RecordEntry
from tests.factories import ENTERED, anion_bottle, draft, sample, sent

pytestmark = pytest.mark.django_db


def send(consignment, by, **changes):
    return send_consignment(consignment, by=by, at=ENTERED, **{"version": consignment.version, **changes})


def test_sending_hands_over_records_and_mails(
    submitter, manager, group, rulebook, django_capture_on_commit_callbacks
):
    consignment = draft(submitter, group, rulebook, sample())
    with django_capture_on_commit_callbacks(execute=True):
        send(consignment, submitter)
    assert Consignment.objects.get().state == "sent"
    told = RecordEntry.objects.filter(verb="consignment.send").get()
    assert told.after["bottles"] == 2
    assert {message.to[0] for message in mail.outbox} == {submitter.email, manager.email}
    assert consignment.number in mail.outbox[0].body


def test_what_will_be_lost_is_told_once_a_cause_with_the_samples_it_touches(submitter, group, rulebook):
    acid = anion_bottle(acidified=True, acid_kind="nitric", acid_mol_l=1.0, acid_ml=0.5)
    consignment = draft(
        submitter, group, rulebook, *(sample(own_id, bottles=(acid,)) for own_id in ("S1", "S2"))
    )
    losses = expected_losses(consignment, ENTERED)
    assert losses[0].weight == "bar"
    assert losses[0].samples == ("S1", "S2")
    assert "nitrate" in losses[0].ions
    assert len({loss.code for loss in losses}) == len(losses)


@pytest.mark.parametrize(
    ("hours", "told"), [(20, []), (24, ["clock.short"]), (48, ["clock.short"]), (49, ["clock.over"])]
)
def test_holding_times_that_are_over_or_short_are_told_before_sending(
    submitter, group, rulebook, hours, told
):
    """The house rulebook gives nitrite and nitrate two days; exactly due is still in time."""
    one = sample(collected_at=ENTERED - timedelta(hours=hours))
    losses = expected_losses(draft(submitter, group, rulebook, one), ENTERED)
    of_time = [loss for loss in losses if loss.code.startswith("clock.")]
    assert [loss.code for loss in of_time] == told
    for loss in of_time:
        assert loss.samples == ("S1",)
        assert {"nitrite", "nitrate"} <= set(loss.ions)
        assert "chloride" not in loss.ions


def test_nothing_is_sent_without_samples_or_bottles(submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook)
    with pytest.raises(EntryProblem, match="no samples"):
        send(consignment, submitter)
    bare = draft(submitter, group, rulebook, sample("bare", bottles=()))
    with pytest.raises(EntryProblem, match="bare"):
        send(bare, submitter)


def test_strangers_and_reception_do_not_send(stranger, reception, submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample())
    for person in (stranger, reception):
        with pytest.raises(NotPermitted):
            send(consignment, person)


def test_sending_twice_changes_nothing(submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample())
    send(consignment, submitter, token="one")
    with pytest.raises(AlreadyDone):
        send(consignment, submitter, token="one")
    with pytest.raises(MoveNotAllowed):
        send(consignment, submitter, token="two")


def test_a_change_made_meanwhile_stops_the_sending(submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample())
    with pytest.raises(SomebodyWasFaster):
        send(consignment, submitter, version=consignment.version - 1)
    assert Consignment.objects.get().state == "draft"


def test_a_sent_consignment_is_withdrawn_with_a_reason(
    submitter, manager, group, rulebook, django_capture_on_commit_callbacks
):
    consignment = sent(submitter, group, rulebook)
    with pytest.raises(EntryProblem):
        withdraw_consignment(consignment, by=submitter, at=ENTERED, reason=" ")
    with django_capture_on_commit_callbacks(execute=True):
        withdraw_consignment(consignment, by=submitter, at=ENTERED, reason="The river froze.")
    assert Consignment.objects.get().state == "withdrawn"
    assert mail.outbox[-1].to == [manager.email]
    with pytest.raises(MoveNotAllowed):
        withdraw_consignment(consignment, by=submitter, at=ENTERED, reason="again")


def test_a_mail_server_that_is_away_loses_nothing(
    submitter, group, rulebook, monkeypatch, django_capture_on_commit_callbacks
):
    def away(*args, **kwargs):
        raise ConnectionRefusedError("nobody listens")

    monkeypatch.setattr("intake.tasks.mails.EmailMessage.send", away)
    consignment = draft(submitter, group, rulebook, sample())
    with django_capture_on_commit_callbacks(execute=True):
        send(consignment, submitter)
    assert Consignment.objects.get().state == "sent"
