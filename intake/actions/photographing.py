"""Photographs of how a box came: adding one, and removing one with a reason."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake import record
from intake.actions.steps import claim, take_token
from intake.errors import EntryProblem
from intake.models import Arrival, Photograph, User
from intake.permissions import require
from intake.pictures.photographs import reencoded

#: The most photographs of one arrival (our choice): enough for every side of a box.
MOST = 12


@transaction.atomic
def add_photograph(
    arrival: Arrival, *, by: User, at: datetime, data: bytes, caption: str, token: str = ""
) -> Photograph:
    """Keep the picture in ``data``, encoded anew, with what it shows.

    Also after closing: what was found wrong is often photographed last.
    """
    require(by, "arrival.open")
    take_token(token, by=by, verb="photograph.add", at=at)
    if not caption.strip():
        raise EntryProblem(_("Say what the picture shows."), {"caption": _("Say what the picture shows.")})
    if arrival.photographs.filter(removed_at__isnull=True).count() >= MOST:
        raise EntryProblem(
            _("An arrival holds at most %(most)s photographs. Remove one that shows little.") % {"most": MOST}
        )
    picture = reencoded(data)
    made = Photograph.objects.create(
        arrival=arrival,
        key=secrets.token_urlsafe(24),
        content=picture.content,
        digest=hashlib.sha256(picture.content).hexdigest(),
        width=picture.width,
        height=picture.height,
        caption=caption.strip(),
        added_at=at,
        added_by=by,
    )
    _tell(made, by=by, at=at, verb="photograph.add", reason="")
    return made


@transaction.atomic
def remove_photograph(
    photograph: Photograph, *, by: User, at: datetime, reason: str, token: str = ""
) -> Photograph:
    """Take the picture away for good; that it was there and why it went stays."""
    require(by, "arrival.open")
    take_token(token, by=by, verb="photograph.remove", at=at)
    if not reason.strip():
        raise EntryProblem(
            _("Say why the picture is removed."), {"reason": _("Say why the picture is removed.")}
        )
    claim(
        Photograph.objects.filter(pk=photograph.pk, removed_at__isnull=True),
        _("Somebody removed this photograph a moment ago."),
        content=b"",
        removed_at=at,
        removed_by=by,
        removed_reason=reason.strip(),
    )
    photograph.refresh_from_db()
    _tell(photograph, by=by, at=at, verb="photograph.remove", reason=reason.strip())
    return photograph


def _tell(photograph: Photograph, *, by: User, at: datetime, verb: str, reason: str) -> None:
    arrival = photograph.arrival
    for consignment in arrival.consignments.order_by("pk"):
        record.write(
            by=by,
            at=at,
            verb=verb,
            subject=f"arrival {arrival.number}",
            consignment=consignment,
            after={"what it shows": photograph.caption, "SHA-256": photograph.digest},
            reason=reason,
        )
