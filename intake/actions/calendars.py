"""The private address of one's calendar: made, renewed, switched off. Only a digest is kept."""

from __future__ import annotations

import secrets
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake import record
from intake.actions.invitations import TOKEN_BYTES, digest_of
from intake.actions.steps import take_token
from intake.errors import MoveNotAllowed, NotPermitted
from intake.models import CalendarAddress, User


def reader_of(secret: str) -> User | None:
    """Whose calendar lies at the address with ``secret``; ``None`` where there is none."""
    found = (
        CalendarAddress.objects.filter(token_digest=digest_of(secret), user__is_active=True)
        .select_related("user")
        .first()
    )
    return None if found is None else found.user


@transaction.atomic
def make_address(*, by: User, at: datetime, token: str = "") -> str:
    """Make an address, or a new one in place of the former; the secret is returned this once."""
    if not by.is_active:
        raise NotPermitted("Only people who may sign in have a calendar.")
    take_token(token, by=by, verb="calendar.make", at=at)
    secret = secrets.token_urlsafe(TOKEN_BYTES)
    address, made = CalendarAddress.objects.update_or_create(
        user=by, defaults={"token_digest": digest_of(secret), "made_at": at}
    )
    record.write(
        by=by,
        at=at,
        verb="calendar.make" if made else "calendar.renew",
        subject=record.private(by, by.email),
        after={"made_at": address.made_at},
    )
    return secret


@transaction.atomic
def switch_off_address(*, by: User, at: datetime, token: str = "") -> None:
    """Let the address lead nowhere any more."""
    take_token(token, by=by, verb="calendar.off", at=at)
    removed, _kinds = CalendarAddress.objects.filter(user=by).delete()
    if not removed:
        raise MoveNotAllowed(_("Your calendar has no address; there is nothing to switch off."))
    record.write(by=by, at=at, verb="calendar.off", subject=record.private(by, by.email))
