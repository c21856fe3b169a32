"""Moving a bottle along its legal steps, and its clocks with it."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext_lazy as _

from intake.actions.steps import claim, take_turn
from intake.choices import Decision
from intake.errors import MoveNotAllowed, SomebodyWasFaster
from intake.models import Bottle, ClockRow
from intake.states import BOTTLE_MOVES, WAITING, BottleState, may_move

STATE_OF = {
    Decision.ACCEPTED: BottleState.READY,
    Decision.RESERVED: BottleState.READY,
    Decision.HELD: BottleState.ON_HOLD,
    Decision.REFUSED: BottleState.REFUSED,
}


def set_waiting(bottle: Bottle) -> None:
    """Carry the bottle's state over to its clocks, so that the queue finds it or lets it go."""
    clocks = ClockRow.objects.filter(bottle=bottle)
    if bottle.state in WAITING:
        clocks.filter(due_at__isnull=False, stopped_at__isnull=True, void=False).update(waiting=True)
    else:
        clocks.update(waiting=False)


def move_bottle(bottle: Bottle, new: str, **changes: object) -> None:
    """Move a bottle along one legal step, if it still is in the state it was read in."""
    take_turn([bottle.consignment_id])
    move_to_be_judged(bottle, new, **changes)
    set_waiting(bottle)


def move_to_be_judged(bottle: Bottle, new: str, **changes: object) -> None:
    """As ``move_bottle``, by an action that has its turn and judges the bottle anew, its clocks with it."""
    if bottle.state != new and not may_move(BOTTLE_MOVES, bottle.state, new):
        raise MoveNotAllowed(
            _("Bottle %(bottle)s is %(state)s; it cannot become %(new)s.")
            % {"bottle": bottle, "state": bottle.get_state_display(), "new": BottleState(new).label}
        )
    if bottle.discarded_at is not None:
        raise MoveNotAllowed(
            _("Bottle %(bottle)s was discarded; nothing can be done with it any more.") % {"bottle": bottle}
        )
    claim(
        Bottle.objects.filter(pk=bottle.pk, state=bottle.state, discarded_at=None),
        _("Somebody else dealt with bottle %(bottle)s a moment ago. Scan it again to see how it stands.")
        % {"bottle": bottle},
        state=new,
        **changes,
    )
    bottle.state = new
    for name, value in changes.items():
        setattr(bottle, name, value)


def move_bottles(bottles: Sequence[Bottle], new: str) -> None:
    """Move many bottles along one legal step, all or none; two queries for each state they are in.

    Call it inside a transaction: a bottle that is no longer in the state it was read in undoes all.
    """
    for bottle in bottles:
        if not may_move(BOTTLE_MOVES, bottle.state, new):
            raise MoveNotAllowed(
                _("Bottle %(bottle)s is %(state)s; it cannot become %(new)s.")
                % {"bottle": bottle, "state": bottle.get_state_display(), "new": BottleState(new).label}
            )
    take_turn(bottle.consignment_id for bottle in bottles)
    for state in sorted({bottle.state for bottle in bottles}):
        keys = [bottle.pk for bottle in bottles if bottle.state == state]
        if Bottle.objects.filter(pk__in=keys, state=state).update(state=new) != len(keys):
            raise SomebodyWasFaster(
                _(
                    "Somebody else dealt with one of these bottles a moment ago. Load the page anew to see "
                    "them."
                )
            )
        clocks = ClockRow.objects.filter(bottle__in=keys)
        if new in WAITING:
            clocks = clocks.filter(due_at__isnull=False, stopped_at__isnull=True, void=False)
        clocks.update(waiting=new in WAITING)
    for bottle in bottles:
        bottle.state = new
