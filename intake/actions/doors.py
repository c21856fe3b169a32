"""Ending sessions, and taking a second factor away that its owner has lost."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.contrib.sessions.models import Session
from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake import people_mails, record
from intake.choices import Role
from intake.errors import EntryProblem, MoveNotAllowed, NotPermitted
from intake.models import User
from intake.permissions import require
from intake.signing import SignedIn


@transaction.atomic
def end_sessions(*, person: User, sessions: Collection[SignedIn], by: User, at: datetime) -> int:
    """Sign ``person`` out of ``sessions``; one's own, or those of others for a manager. How many ended."""
    if person.pk != by.pk:
        require(by, "people.manage")
    elif not by.is_active:
        raise NotPermitted("Somebody switched off has no sessions.")
    rows = UserSession.objects.filter(user=person, pk__in=[one.pk for one in sessions])
    keys = list(rows.values_list("session_key", flat=True))
    if not keys:
        return 0
    Session.objects.filter(session_key__in=keys).delete()
    rows.delete()
    record.write(
        by=by,
        at=at,
        verb="person.end_sessions",
        subject=record.private(person, person.email),
        after={"sessions": len(keys)},
    )
    people_mails.tell(
        person,
        by=by,
        at=at,
        subject=_("you were signed out"),
        sentence=_("Your sessions in labqueue were ended. Sign in again when you need it."),
    )
    return len(keys)


@transaction.atomic
def take_factor_away(*, person: User, by: User, at: datetime, reason: str) -> None:
    """Let ``person``, who lost phone or key and the recovery codes, sign in by password alone again.

    Whoever does this has made sure who is asking; ``reason`` says how. Where the laboratory demands
    a second factor, the person is led to setting up another.
    """
    require(by, "people.manage")
    if person.pk == by.pk:
        raise MoveNotAllowed(_("Switch your own second factor off on your own pages."))
    if person.role == Role.SYSTEM:
        raise MoveNotAllowed(_("The system itself is not a person."))
    if not reason.strip():
        sentence = _("Say how you made sure that it is this person who asks.")
        raise EntryProblem(sentence, {"reason": sentence})
    gone, _kinds = Authenticator.objects.filter(user=person).delete()
    if not gone:
        raise MoveNotAllowed(_("%(person)s has no second factor.") % {"person": person})
    record.write(
        by=by,
        at=at,
        verb="person.take_factor_away",
        subject=record.private(person, person.email),
        reason=reason.strip(),
    )
    people_mails.tell(
        person,
        by=by,
        at=at,
        subject=_("your second factor was taken away"),
        sentence=_("Your password alone lets you in now. If you did not ask for this, say so at once."),
    )
