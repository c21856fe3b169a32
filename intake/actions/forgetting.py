"""Removing what is personal of somebody who asks for it, so that the record still holds."""

from __future__ import annotations

from datetime import datetime

from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.contrib.auth.hashers import make_password
from django.contrib.sessions.models import Session
from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from intake import people_mails, record
from intake.actions.steps import claim
from intake.choices import JobKind, Role
from intake.errors import EntryProblem, MoveNotAllowed
from intake.models import CalendarAddress, Invitation, Job, Membership, PersonalText, StagedSheet, User
from intake.permissions import require

FASTER = _("Somebody changed this account in the meantime. Load the page anew to see it.")


@transaction.atomic
def forget_person(*, person: User, by: User, at: datetime, reason: str) -> None:
    """Remove name, mail address and all else that is personal of ``person``, for good.

    What they did stays, by "a former member" and a number: the record names people by marks whose
    texts go here, so that its chain holds. Statements keep the name of who released them, which is
    part of what was certified. ``reason`` says who asked and when. The account must be switched off.
    """
    require(by, "people.manage")
    _check(person, by, reason)
    # What waits to be mailed to them, or could not be, would keep the address.
    Job.objects.filter(kind=JobKind.MAIL, content__to=person.email).delete()
    people_mails.tell(
        person,
        by=by,
        at=at,
        subject=_("your data is removed"),
        sentence=_("Your name and mail address are removed from labqueue. This cannot be taken back."),
    )
    address = person.email
    claim(
        User.objects.filter(pk=person.pk, is_active=False, forgotten_at=None),
        FASTER,
        name=f"{record.REMOVED} ({person.pk})",
        email=_nowhere(person),
        zone="UTC",
        language="",
        password=make_password(None),
        last_login=None,
        forgotten_at=at,
    )
    _remove_traces(person, address)
    record.write(
        by=by, at=at, verb="person.forget", subject=f"{record.REMOVED} ({person.pk})", reason=reason.strip()
    )
    person.refresh_from_db()


def _check(person: User, by: User, reason: str) -> None:
    if person.pk == by.pk or person.role == Role.SYSTEM:
        raise MoveNotAllowed(_("You cannot remove your own data. Ask another lab manager to do it."))
    if person.forgotten_at is not None:
        raise MoveNotAllowed(_("The data of this person was removed already."))
    if person.is_active:
        raise MoveNotAllowed(
            _("Switch the account of %(person)s off first, so that nobody is at work in it.")
            % {"person": person}
        )
    if not reason.strip():
        sentence = _("Say who asked for it and when; do not name the person.")
        raise EntryProblem(sentence, {"reason": sentence})


def _nowhere(person: User) -> str:
    """An address that reaches nobody (RFC 2606: .invalid) and is nobody else's."""
    return f"former-{person.pk}@labqueue.invalid"


def _remove_traces(person: User, address: str) -> None:
    """Delete or blank every row that tells who ``person`` was."""
    keys = UserSession.objects.filter(user=person).values_list("session_key", flat=True)
    Session.objects.filter(session_key__in=list(keys)).delete()
    for kind in (UserSession, Authenticator, EmailAddress, CalendarAddress, Membership, StagedSheet):
        kind.objects.filter(user=person).delete()
    Invitation.objects.filter(email=address).update(email=_nowhere(person))
    PersonalText.objects.filter(Q(person=person) | Q(text=address)).delete()
