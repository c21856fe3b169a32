"""Inviting people. An invitation is a secret link, bound to an address, a role and a group."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Callable
from datetime import datetime, timedelta

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake import people_mails, record
from intake.actions.steps import claim
from intake.choices import Role
from intake.errors import EntryProblem, Refused
from intake.models import Group, Invitation, Membership, User
from intake.permissions import require
from intake.zones import known_zones

LASTS = timedelta(hours=72)
TOKEN_BYTES = 32

INVITED_ROLES = (Role.SUBMITTER, Role.RECEPTION, Role.MANAGER)


class InvitationClosed(Refused):
    """The link can no longer be used. ``sentence`` says why and what to do."""


def digest_of(token: str) -> str:
    """What is stored of a token: SHA-256 of 256 random bits, from which it cannot be found again."""
    return hashlib.sha256(token.encode()).hexdigest()


def _named(invitation: Invitation) -> dict[str, object]:
    return {
        "email": record.private(None, invitation.email),
        "role": invitation.role,
        "group": invitation.group.name if invitation.group else "",
        "expires_at": invitation.expires_at,
    }


def _check_address(email: str, role: str, group: Group | None) -> None:
    problems = {}
    if User.objects.filter(email=email).exists():
        problems["email"] = _(
            "Somebody with the address %(email)s is here already. Add them to the group instead, or "
            "change their role, on the page of people."
        ) % {"email": email}
    if role not in INVITED_ROLES:
        problems["role"] = _("Choose submitter, reception or lab manager.")
    if role == Role.SUBMITTER and group is None:
        problems["group"] = _("Choose the group whose samples this person will send.")
    if problems:
        raise EntryProblem(_("The invitation was not sent."), problems)


def invite_person(
    *,
    by: User,
    at: datetime,
    email: str,
    role: str,
    group: Group | None,
    link_for: Callable[[str], str],
) -> Invitation:
    """Invite whoever reads the mail of ``email``; ``link_for`` makes an address from the token.

    An earlier open invitation to the same address is revoked. The mail leaves on commit.
    Raises ``EntryProblem`` when the address is somebody's already or something is missing.
    """
    require(by, "people.manage")
    email = email.strip().lower()
    _check_address(email, role, group)
    token = secrets.token_urlsafe(TOKEN_BYTES)
    with transaction.atomic():
        for former in Invitation.objects.open_at(at).filter(email=email):
            revoke_invitation(invitation=former, by=by, at=at)
        invitation = Invitation.objects.create(
            email=email,
            role=role,
            group=group,
            token_digest=digest_of(token),
            invited_by=by,
            invited_at=at,
            expires_at=at + LASTS,
        )
        record.write(
            by=by, at=at, verb="person.invite", subject=record.private(None, email), after=_named(invitation)
        )
        people_mails.send_invitation(invitation, link_for(token))
    return invitation


def revoke_invitation(*, invitation: Invitation, by: User, at: datetime) -> None:
    """Make the link of ``invitation`` useless."""
    require(by, "people.manage")
    with transaction.atomic():
        claim(
            Invitation.objects.filter(pk=invitation.pk, accepted_at=None, revoked_at=None),
            _("This invitation was accepted or revoked in the meantime. Load the page anew."),
            revoked_at=at,
        )
        record.write(
            by=by,
            at=at,
            verb="invitation.revoke",
            subject=record.private(None, invitation.email),
            before=_named(invitation),
        )


def open_invitation(token: str, at: datetime) -> Invitation:
    """The invitation of ``token``, not consumed. Raises ``InvitationClosed`` with the reason."""
    invitation = (
        Invitation.objects.select_related("group", "invited_by").filter(token_digest=digest_of(token)).first()
    )
    if invitation is None:
        raise InvitationClosed(_("There is no such invitation. Check that you copied the whole link."))
    if invitation.accepted_at is not None:
        raise InvitationClosed(_("This invitation was used already. Sign in with the password chosen then."))
    if invitation.revoked_at is not None:
        if Invitation.objects.open_at(at).filter(email=invitation.email).exists():
            raise InvitationClosed(
                _("A newer invitation was sent to you after this one. Use the link in that mail.")
            )
        raise InvitationClosed(_("This invitation was taken back. Ask the manager of the laboratory why."))
    if invitation.expires_at < at:
        raise InvitationClosed(
            _("This invitation is more than three days old. Ask the manager of the laboratory for a new one.")
        )
    return invitation


def _check_answers(email: str, name: str, password: str, zone: str) -> None:
    problems = {}
    if not name:
        problems["name"] = _("Write your name as the laboratory should see it.")
    if zone not in known_zones():
        problems["zone"] = _("Choose your time zone from the list.")
    try:
        validate_password(password, User(email=email, name=name))
    except ValidationError as problem:
        problems["password"] = " ".join(problem.messages)
    if problems:
        raise EntryProblem(_("Your account was not made yet."), problems)


def accept_invitation(*, token: str, name: str, password: str, zone: str, at: datetime) -> User:
    """Make the invited person, in the role and group of the invitation, and use the link up.

    Whoever holds the token may do this; the new person is the actor. Raises
    ``InvitationClosed`` or ``EntryProblem``.
    """
    invitation = open_invitation(token, at)
    name = name.strip()
    _check_answers(invitation.email, name, password, zone)
    with transaction.atomic():
        claim(
            Invitation.objects.filter(pk=invitation.pk, accepted_at=None, revoked_at=None),
            _("This invitation was used or taken back just now. Ask the manager of the laboratory."),
            accepted_at=at,
        )
        if User.objects.filter(email=invitation.email).exists():
            raise InvitationClosed(_("You have an account here already. Sign in with it."))
        person = User.objects.create_user(invitation.email, password, name=name, role=invitation.role)
        person.zone = zone
        person.save(update_fields=["zone"])
        if invitation.group is not None:
            Membership.objects.create(user=person, group=invitation.group)
        record.write(
            by=person,
            at=at,
            verb="invitation.accept",
            subject=record.private(person, person.email),
            after=_named(invitation) | {"name": record.private(person, name), "zone": zone},
        )
    return person
