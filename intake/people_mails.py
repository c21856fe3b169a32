"""Mails about people and groups, in plain text, left as jobs like all mails."""

from __future__ import annotations

from datetime import datetime

from django.template.loader import render_to_string

from intake.mails import post
from intake.models import Invitation, User


def _post(address: str, subject: str, template: str, at: datetime, **context: object) -> None:
    post(address, f"labqueue: {subject}", render_to_string(f"mail/{template}.txt", context), at=at)


def send_invitation(invitation: Invitation, link: str) -> None:
    """The invitation with its link. The link is in this mail and nowhere else, once the mail has left."""
    _post(
        invitation.email,
        f"{invitation.invited_by.name} invites you",
        "invitation",
        invitation.invited_at,
        invitation=invitation,
        link=link,
    )


def tell(person: User, *, by: User, at: datetime, subject: str, sentence: str) -> None:
    """Tell ``person`` of a change that ``by`` made to their account; not of their own."""
    if person.pk != by.pk:
        _post(person.email, subject, "person_told", at, person=person, by=by, sentence=sentence)
