"""Each mail is in the language of whoever gets it, whoever did what it tells of."""

from __future__ import annotations

import pytest
from django.core import mail
from django.test import Client
from django.utils import translation

from intake.actions import invitations, people
from intake.choices import JobKind
from intake.models import Job, Membership, User
from tests.factories import ENTERED, sample, sent

pytestmark = pytest.mark.django_db


def mails() -> dict[str, dict[str, str]]:
    """What is left to be handed over, by address."""
    return {job.content["to"]: job.content for job in Job.objects.filter(kind=JobKind.MAIL)}


def speaks(person: User, language: str) -> None:
    person.language = language
    person.save(update_fields=["language"])


def test_one_group_of_two_languages_gets_one_mail_each_in_its_own(submitter, manager, group, rulebook):
    other = User.objects.create_user("zwei@group.example", None, name="Zwei")
    Membership.objects.create(user=other, group=group)
    speaks(other, "de")
    speaks(manager, "de")
    sent(submitter, group, rulebook, sample())
    left = mails()
    assert left[submitter.email]["subject"].startswith("Sent: ")
    assert "is registered with the laboratory: 2 bottles" in left[submitter.email]["text"]
    assert left[other.email]["subject"].startswith("Gesendet: ")
    assert "beim Labor angemeldet: 2 Flaschen" in left[other.email]["text"]
    assert left[manager.email]["subject"].startswith("Angekündigt: ")
    assert translation.get_language() == "en"


def test_the_language_of_who_acts_is_of_no_account(submitter, manager, group):
    speaks(manager, "de")
    with translation.override("de"):
        people.remove_from_group(person=submitter, group=group, by=manager, at=ENTERED)
        assert translation.get_language() == "de"
    told = mails()[submitter.email]
    assert told["subject"] == f"labqueue: you no longer belong to {group.name}"
    assert "You can no longer see or send samples" in told["text"]


def test_an_invitation_is_in_the_language_of_who_invites(manager, group):
    speaks(manager, "de")
    invitations.invite_person(
        by=manager, at=ENTERED, email="neu@x.example", role="submitter", group=group, link_for=str
    )
    told = mails()["neu@x.example"]
    assert told["subject"].endswith("lädt Sie ein")
    assert "lädt Sie zu labqueue ein" in told["text"]


@pytest.mark.parametrize(("own", "asked", "subject"), [("de", "en", "Neues Kennwort"), ("", "de", "Neues")])
def test_a_forgotten_password_is_answered_in_the_language_of_its_owner(submitter, own, asked, subject):
    speaks(submitter, own)
    Client().post(
        "/account/password/forgotten/", {"email": submitter.email}, headers={"accept-language": asked}
    )
    assert subject in mails()[submitter.email]["subject"]
    assert not mail.outbox or mail.outbox == []
