"""What is done with many chosen bottles at once, for one reason: put on hold, given a priority.

Accepting and refusing are done bottle by bottle: each wants to be looked at.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake.actions.deciding import decide_bottle
from intake.actions.steps import take_token, take_turn
from intake.choices import Decision
from intake.errors import EntryProblem, MoveNotAllowed
from intake.models import Bottle, User
from intake.permissions import require
from intake.states import BottleState
from labqueue.actions.prioritising import give_priority

#: Each is decided, judged and recorded by itself; more take too long for one answer.
MOST_AT_ONCE = 100


def _countable(bottles: Sequence[Bottle]) -> None:
    if not bottles:
        raise EntryProblem(_("Choose at least one bottle."))
    if len(bottles) > MOST_AT_ONCE:
        raise EntryProblem(
            _("Choose at most %(most)s bottles at a time; %(bottles)s are chosen.")
            % {"most": MOST_AT_ONCE, "bottles": len(bottles)}
        )


@transaction.atomic
def prioritise_bottles(
    bottles: Sequence[Bottle], level: str, *, by: User, at: datetime, reason: str, token: str = ""
) -> None:
    """Let the clocks of each of ``bottles`` count as ``level`` says in plans, all or none."""
    require(by, "bench.plan")
    _countable(bottles)
    take_token(token, by=by, verb="priority.give", at=at)
    take_turn(bottle.consignment_id for bottle in bottles)
    for bottle in bottles:
        give_priority(bottle, level, by=by, at=at, reason=reason)


@transaction.atomic
def hold_bottles(
    bottles: Sequence[Bottle], *, by: User, at: datetime, reason: str, token: str = ""
) -> list[Bottle]:
    """Put ready ``bottles`` on hold, all or none; the groups are asked as for a single one."""
    require(by, "bench.plan")
    _countable(bottles)
    if not reason.strip():
        sentence = _("Say why these bottles are put on hold.")
        raise EntryProblem(sentence, {"reason": sentence})
    take_token(token, by=by, verb="bottle.decide", at=at)
    take_turn(bottle.consignment_id for bottle in bottles)
    for bottle in bottles:
        if bottle.state != BottleState.READY:
            raise MoveNotAllowed(
                _(
                    "Bottle %(bottle)s is %(state)s. Only ready bottles are put on hold; nothing was "
                    "changed. Take it out of your choice."
                )
                % {"bottle": bottle, "state": bottle.get_state_display()}
            )
        decide_bottle(bottle, by=by, at=at, decision=Decision.HELD, reason=reason)
    return list(bottles)
