"""Mails about people and groups, in plain text, left as jobs like all mails."""

from __future__ import annotations

from datetime import datetime

from django.template.loader import render_to_string
from django.utils import translation
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from intake.mails import language_of, post
from intake.models import Invitation, User


def _post(
    address: str, language: str, subject: object, template: str, at: datetime, **context: object
) -> None:
    with translation.override(language):
        text = render_to_string(f"mail/{template}.txt", context)
        heading = f"labqueue: {subject}"
    post(address, heading, text, at=at)


def send_invitation(invitation: Invitation, link: str) -> None:
    """The invitation with its link. The link is in this mail and nowhere else, once the mail has left.

    Nobody knows yet which language its reader chooses, so it is in that of whoever invites.
    """
    _post(
        invitation.email,
        language_of(invitation.invited_by),
        format_lazy(_("{name} invites you"), name=invitation.invited_by.name),
        "invitation",
        invitation.invited_at,
        invitation=invitation,
        link=link,
    )


def tell(person: User, *, by: User, at: datetime, subject: object, sentence: object) -> None:
    """Tell ``person`` of a change that ``by`` made to their account; not of their own.

    ``subject`` and ``sentence`` are said lazily, in the language of ``person``.
    """
    if person.pk != by.pk:
        _post(
            person.email,
            language_of(person),
            subject,
            "person_told",
            at,
            person=person,
            by=by,
            sentence=sentence,
        )
