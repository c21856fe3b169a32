"""Steps that every action shares: claiming a change and taking effect once."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import connection, models
from django.utils.translation import gettext_lazy as _

from intake.actions.storing import insert_once
from intake.errors import AlreadyDone, MoveNotAllowed, SomebodyWasFaster
from intake.models import Arrival, Consignment, RecordEntry, Token, User


def claim(rows: models.QuerySet, sentence: str, **changes: object) -> None:
    """Change exactly one row, named by its key *and* the state it was read in.

    Raises ``SomebodyWasFaster`` with ``sentence`` when the row is no longer in that state.
    """
    if rows.update(**changes) != 1:
        raise SomebodyWasFaster(sentence)


def take_turn(consignments: Iterable[int]) -> None:
    """Wait until nobody else is changing these consignments; ours until the transaction ends.

    Two who check bottles of one sample at once come one after the other, so that the second
    judgement knows both, and neither waits for a row that the other holds. It is the first lock that
    an action takes; the end of the record's chain is the last. SQLite has one writer at a time anyway.
    """
    if connection.features.has_select_for_update:
        held = Consignment.objects.filter(pk__in=set(consignments)).order_by("pk")
        list(held.select_for_update(no_key=True).values_list("pk"))


def take_token(token: str, *, by: User, verb: str, at: datetime) -> None:
    """Note that ``token`` takes effect now; an empty token is not noted.

    Raises ``AlreadyDone`` if the same token took effect before.
    """
    if token and not insert_once(Token(key=token, user=by, verb=verb, at=at)):
        former = Token.objects.get(key=token)
        raise AlreadyDone(_("This was already done; sending it again changed nothing."), former.outcome)


def keep_outcome(token: str, **outcome: object) -> None:
    """Keep what ``token`` brought about, for whoever sends it again."""
    if token:
        Token.objects.filter(key=token).update(outcome=outcome)


def is_spent(token: str) -> bool:
    """Whether ``token`` took effect before."""
    return bool(token) and Token.objects.filter(key=token).exists()


def claim_version(consignment: Consignment, version: int) -> None:
    """Raise the consignment's version by one, if it still is ``version``.

    Raises ``SomebodyWasFaster`` naming who changed it since, or who took it in.
    """
    read = Consignment.objects.filter(pk=consignment.pk, version=version, state=consignment.state)
    if read.update(version=version + 1) != 1:
        raise SomebodyWasFaster(_who_was_faster(consignment))
    consignment.version = version + 1


def _who_was_faster(consignment: Consignment) -> str:
    """Who changed ``consignment`` after it was read; an arrival is named before other changes."""
    entries = RecordEntry.objects.filter(consignment=consignment).order_by("-position")
    arrival = entries.filter(verb="arrival.open").first()
    if arrival is not None:
        return _(
            "%(actor_name)s opened %(subject)s of it after you opened this page. What has arrived can "
            "no longer be changed here; tell the laboratory what is wrong in it."
        ) % {"actor_name": arrival.actor_name, "subject": arrival.subject}
    last = entries.first()
    who = _("%(actor_name)s changed it") % {"actor_name": last.actor_name} if last else _("It was changed")
    return _("%(who)s after you opened it. Load the page anew to see the change, then make yours again.") % {
        "who": who
    }


def require_open(arrival: Arrival) -> None:
    """Raise ``MoveNotAllowed`` for an arrival that is closed."""
    if arrival.closed_at is not None:
        raise MoveNotAllowed(
            _("Arrival %(arrival)s is closed. Open a new one for what comes later.") % {"arrival": arrival}
        )
