"""Mails about people and groups, in plain text. They leave once the change is in the database."""

from __future__ import annotations

from django.core.mail import send_mail
from django.db import transaction
from django.template.loader import render_to_string

from intake.models import Invitation, User


def _on_commit(address: str, subject: str, template: str, **context: object) -> None:
    text = render_to_string(f"mail/{template}.txt", context)
    transaction.on_commit(lambda: send_mail(f"labqueue: {subject}", text, None, [address]), robust=True)


def send_invitation(invitation: Invitation, link: str) -> None:
    """The invitation with its link. The link is in this mail and nowhere else."""
    _on_commit(
        invitation.email,
        f"{invitation.invited_by.name} invites you",
        "invitation",
        invitation=invitation,
        link=link,
    )


def tell(person: User, *, by: User, subject: str, sentence: str) -> None:
    """Tell ``person`` of a change that ``by`` made to their account; not of their own."""
    if person.pk != by.pk:
        _on_commit(person.email, subject, "person_told", person=person, by=by, sentence=sentence)
