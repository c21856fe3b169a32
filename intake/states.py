"""The legal moves of a bottle and a consignment, as data. Imports nothing of Django's models."""

from __future__ import annotations

from django.db.models import TextChoices
from django.utils.translation import gettext_lazy as _


class ConsignmentState(TextChoices):
    DRAFT = "draft", _("draft")
    SENT = "sent", _("sent")
    RECEIVED = "received", _("received")
    WITHDRAWN = "withdrawn", _("withdrawn")


class DateState(TextChoices):
    ASKED = "asked", _("asked for")
    PROPOSED = "proposed", _("proposed by the laboratory")
    AGREED = "agreed", _("agreed")
    DECLINED = "declined", _("declined")


class BottleState(TextChoices):
    EXPECTED = "expected", _("expected")
    READY = "ready", _("ready")
    ON_HOLD = "on hold", _("on hold")
    REFUSED = "refused", _("refused")
    PLACED = "placed", _("placed")
    MEASURED = "measured", _("measured")
    MISSING = "missing", _("missing")


CONSIGNMENT_MOVES: dict[str, frozenset[str]] = {
    ConsignmentState.DRAFT: frozenset({ConsignmentState.SENT, ConsignmentState.WITHDRAWN}),
    ConsignmentState.SENT: frozenset({ConsignmentState.RECEIVED, ConsignmentState.WITHDRAWN}),
    ConsignmentState.RECEIVED: frozenset(),
    ConsignmentState.WITHDRAWN: frozenset(),
}

BOTTLE_MOVES: dict[str, frozenset[str]] = {
    BottleState.EXPECTED: frozenset(
        {BottleState.READY, BottleState.ON_HOLD, BottleState.REFUSED, BottleState.MISSING}
    ),
    BottleState.READY: frozenset(
        {BottleState.EXPECTED, BottleState.ON_HOLD, BottleState.REFUSED, BottleState.PLACED}
    ),
    BottleState.ON_HOLD: frozenset({BottleState.EXPECTED, BottleState.READY, BottleState.REFUSED}),
    BottleState.REFUSED: frozenset({BottleState.EXPECTED, BottleState.READY, BottleState.ON_HOLD}),
    BottleState.PLACED: frozenset({BottleState.READY, BottleState.MEASURED}),
    BottleState.MEASURED: frozenset({BottleState.READY}),
    BottleState.MISSING: frozenset({BottleState.READY, BottleState.ON_HOLD, BottleState.REFUSED}),
}

DATE_MOVES: dict[str, frozenset[str]] = {
    DateState.ASKED: frozenset(DateState.values),
    DateState.PROPOSED: frozenset(DateState.values),
    DateState.AGREED: frozenset({DateState.ASKED, DateState.PROPOSED, DateState.DECLINED}),
    DateState.DECLINED: frozenset({DateState.ASKED, DateState.PROPOSED}),
}

#: Days that take room at the laboratory.
STANDING_DATES = (DateState.ASKED, DateState.PROPOSED, DateState.AGREED)

#: Consignments of which nothing has arrived: their group may still change them.
AMENDABLE = (ConsignmentState.DRAFT, ConsignmentState.SENT)

#: Bottles that stand in the laboratory and still want an injection.
WAITING = (BottleState.READY, BottleState.ON_HOLD)


def may_move(moves: dict[str, frozenset[str]], old: str, new: str) -> bool:
    """Whether ``moves`` has the step from ``old`` to ``new``; staying put is not a move."""
    return new in moves.get(old, frozenset())
