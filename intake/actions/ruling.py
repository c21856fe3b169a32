"""Carrying out what was decided about a bottle. Whoever calls has asked permission.

Reception decides with its own permission; a group's answer decides with the group's. Must be
called inside the transaction of the action that decided.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.utils.translation import gettext_lazy as _

from intake import record
from intake.actions.judging import judge_bottles
from intake.actions.moving import STATE_OF, move_bottle
from intake.actions.steps import claim
from intake.choices import Decision
from intake.models import Bottle, User


def carry_out(bottle: Bottle, *, by: User, at: datetime, decision: Decision, reason: str) -> None:
    """Move ``bottle`` as ``decision`` says, and record who decided and why."""
    before = {"state": bottle.state, "decision": bottle.decision, "reason": bottle.decision_reason}
    move_bottle(
        bottle, STATE_OF[decision], decision=decision, decision_reason=reason, decided_by=by, decided_at=at
    )
    record.write(
        by=by,
        at=at,
        verb="bottle.decide",
        subject=f"bottle {bottle.number}",
        consignment=bottle.consignment,
        before=before,
        after={"state": bottle.state, "decision": decision},
        reason=reason,
    )


def change_dropped(
    bottle: Bottle, dropped: Mapping[str, str], *, by: User, at: datetime, verb: str, reason: str
) -> None:
    """Store which ions of ``bottle`` are given up and why; it is judged anew without them."""
    before = dict(bottle.dropped)
    claim(
        Bottle.objects.filter(pk=bottle.pk, state=bottle.state, dropped=before),
        _("Somebody else dealt with bottle %(bottle)s a moment ago. Look at it again.") % {"bottle": bottle},
        dropped=dict(dropped),
    )
    bottle.dropped = dict(dropped)
    judge_bottles([bottle], at=at)
    record.write(
        by=by,
        at=at,
        verb=verb,
        subject=f"bottle {bottle.number}",
        consignment=bottle.consignment,
        before={"given up": before},
        after={"given up": bottle.dropped},
        reason=reason.strip(),
    )


def give_up(bottle: Bottle, ions: Mapping[str, str], *, by: User, at: datetime, reason: str) -> None:
    """Give up ``ions``, each for its reason; those given up before keep theirs."""
    new = {ion: why for ion, why in ions.items() if ion in bottle.ions and ion not in bottle.dropped}
    if new:
        dropped = {**bottle.dropped, **new}
        change_dropped(bottle, dropped, by=by, at=at, verb="ion.give-up", reason=reason)
