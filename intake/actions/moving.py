"""Moving a bottle along its legal steps, and its clocks with it."""

from __future__ import annotations

from intake.actions.steps import claim
from intake.choices import Decision
from intake.errors import MoveNotAllowed
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
    if bottle.state != new and not may_move(BOTTLE_MOVES, bottle.state, new):
        raise MoveNotAllowed(f"Bottle {bottle} is {bottle.get_state_display()}; it cannot become {new}.")
    claim(
        Bottle.objects.filter(pk=bottle.pk, state=bottle.state),
        f"Somebody else dealt with bottle {bottle} a moment ago. Scan it again to see how it stands.",
        state=new,
        **changes,
    )
    bottle.state = new
    for name, value in changes.items():
        setattr(bottle, name, value)
    set_waiting(bottle)
