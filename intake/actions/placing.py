"""Putting bottles on a run, and taking them back into the queue."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake import record
from intake.actions.moving import move_bottles
from intake.errors import EntryProblem
from intake.models import Bottle, User
from intake.permissions import require
from intake.states import BottleState


@transaction.atomic
def place_bottles(bottles: Iterable[Bottle], *, by: User, at: datetime, label: str) -> None:
    """Take ready ``bottles`` out of the queue for the run named by ``label``; all or none.

    Raises ``SomebodyWasFaster`` where one of them is no longer ready. The record has one entry a
    consignment.
    """
    _move(bottles, BottleState.PLACED, by=by, at=at, verb="bottle.place", reason=label)


@transaction.atomic
def take_back_bottles(bottles: Iterable[Bottle], *, by: User, at: datetime, reason: str) -> None:
    """Put placed or measured ``bottles`` back into the queue; all or none.

    A measured bottle keeps its injections: it is to be measured once more, and its clocks have
    stopped.
    """
    _move(bottles, BottleState.READY, by=by, at=at, verb="bottle.take-back", reason=reason)


@transaction.atomic
def want_again(bottle: Bottle, *, dilution: float, by: User, at: datetime, reason: str) -> None:
    """Put an injected bottle back into the queue, to be injected once more at ``dilution`` (1 to so much)."""
    if dilution < 1:
        raise EntryProblem(_("A dilution is 1 or more."), {"dilution": _("Give 1 or more: 5 for 1 to 5.")})
    take_back_bottles([bottle], by=by, at=at, reason=reason)
    Bottle.objects.filter(pk=bottle.pk).update(next_dilution=dilution)
    bottle.next_dilution = dilution


def place_bottle(bottle: Bottle, *, by: User, at: datetime, label: str) -> None:
    """Take one ready bottle out of the queue for a run."""
    place_bottles([bottle], by=by, at=at, label=label)


def take_back_bottle(bottle: Bottle, *, by: User, at: datetime, reason: str) -> None:
    """Put one bottle back into the queue."""
    take_back_bottles([bottle], by=by, at=at, reason=reason)


def _move(
    bottles: Iterable[Bottle], new: BottleState, *, by: User, at: datetime, verb: str, reason: str
) -> None:
    bottles = list(bottles)
    require(by, "bench.run")
    before = {bottle.pk: bottle.state for bottle in bottles}
    move_bottles(bottles, new)
    for consignment, theirs in by_consignment(bottles):
        record.write(
            by=by,
            at=at,
            verb=verb,
            subject=said(theirs),
            consignment=consignment,
            before={"state": sorted({before[bottle.pk] for bottle in theirs})},
            after={"state": new.value, "bottles": [bottle.number for bottle in theirs]},
            reason=reason,
        )


def by_consignment(bottles: Iterable[Bottle]) -> list[tuple[object, list[Bottle]]]:
    """``bottles`` gathered by consignment, in the order in which they come."""
    gathered: dict[int, list[Bottle]] = {}
    for bottle in bottles:
        gathered.setdefault(bottle.consignment_id, []).append(bottle)
    return [(theirs[0].consignment, theirs) for theirs in gathered.values()]


def said(bottles: list[Bottle]) -> str:
    """``bottles`` as the subject of the record."""
    return f"bottle {bottles[0].number}" if len(bottles) == 1 else f"{len(bottles)} bottles"
