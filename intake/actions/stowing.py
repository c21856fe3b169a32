"""Storage: making places, putting bottles into them, and discarding bottles in the end."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake import numbers, record
from intake.actions.numbering import free_number
from intake.actions.steps import claim, take_token
from intake.errors import EntryProblem, MoveNotAllowed
from intake.models import Bottle, StoragePlace, User
from intake.permissions import require
from intake.querysets import BottleQuerySet
from intake.states import BottleState

#: How deep places stand in one another: a box on a shelf in a fridge in a cold room.
DEEPEST = 4
NOT_HERE = (BottleState.EXPECTED, BottleState.MISSING)


def discardable(at: datetime) -> BottleQuerySet:
    """Bottles that are refused or measured for as long as the laboratory keeps them."""
    return Bottle.objects.to_discard(at - timedelta(days=settings.DISCARD_AFTER_DAYS))


@transaction.atomic
def make_place(
    *, by: User, at: datetime, name: str, kind: str, inside: StoragePlace | None = None, token: str = ""
) -> StoragePlace:
    """Make a storage place with a number of its own; it stands ``inside`` another, or by itself."""
    require(by, "place.make")
    take_token(token, by=by, verb="place.make", at=at)
    depth, above = 1, inside
    while above is not None:
        depth, above = depth + 1, above.inside
    if depth > DEEPEST:
        raise EntryProblem(
            _("Places stand at most %(most)s deep. Put it into one further out.") % {"most": DEEPEST},
            {"inside": _("Choose a place further out.")},
        )
    place = StoragePlace.objects.create(
        number=free_number(StoragePlace, numbers.PLACE),
        name=name.strip(),
        kind=kind,
        inside=inside,
        made_at=at,
        made_by=by,
    )
    record.write(
        by=by,
        at=at,
        verb="place.make",
        subject=f"place {place.number}",
        after={"name": place.where, "kind": kind},
    )
    return place


def _require_here(bottle: Bottle) -> None:
    if bottle.discarded_at is not None:
        raise MoveNotAllowed(
            _("Bottle %(bottle)s was discarded. What you hold is another, or it was kept.")
            % {"bottle": bottle}
        )
    if bottle.state in NOT_HERE:
        raise MoveNotAllowed(
            _("Bottle %(bottle)s is %(state)s: it has not been checked. Check it first.")
            % {"bottle": bottle, "state": bottle.get_state_display()}
        )


@transaction.atomic
def store_bottle(bottle: Bottle, place: StoragePlace, *, by: User, at: datetime, token: str = "") -> Bottle:
    """Put ``bottle`` into ``place``, from wherever it stood."""
    require(by, "bottle.store", bottle)
    take_token(token, by=by, verb="bottle.store", at=at)
    _require_here(bottle)
    before = bottle.stored_in
    claim(
        Bottle.objects.filter(pk=bottle.pk, stored_in=before, discarded_at=None),
        _("Somebody else moved bottle %(bottle)s a moment ago. Scan it again.") % {"bottle": bottle},
        stored_in=place,
        stored_at=at,
    )
    bottle.stored_in, bottle.stored_at = place, at
    record.write(
        by=by,
        at=at,
        verb="bottle.store",
        subject=f"bottle {bottle.number}",
        consignment=bottle.consignment,
        before={"stands in": before.where if before else ""},
        after={"stands in": place.where},
    )
    return bottle


@transaction.atomic
def discard_bottle(bottle: Bottle, *, by: User, at: datetime, token: str = "") -> Bottle:
    """Note that ``bottle`` was discarded. Nothing that is known of it goes; its water does."""
    require(by, "bottle.discard", bottle)
    take_token(token, by=by, verb="bottle.discard", at=at)
    _require_here(bottle)
    if not discardable(at).filter(pk=bottle.pk).exists():
        raise MoveNotAllowed(
            _("Bottle %(bottle)s is %(state)s and not to be discarded yet. Put it back.")
            % {"bottle": bottle, "state": bottle.get_state_display()}
        )
    before = bottle.stored_in
    claim(
        Bottle.objects.filter(pk=bottle.pk, state=bottle.state, discarded_at=None),
        _("Somebody else dealt with bottle %(bottle)s a moment ago. Scan it again.") % {"bottle": bottle},
        stored_in=None,
        stored_at=None,
        discarded_at=at,
        discarded_by=by,
    )
    bottle.stored_in, bottle.stored_at = None, None
    bottle.discarded_at, bottle.discarded_by = at, by
    record.write(
        by=by,
        at=at,
        verb="bottle.discard",
        subject=f"bottle {bottle.number}",
        consignment=bottle.consignment,
        before={"stands in": before.where if before else ""},
        after={"discarded": at},
    )
    return bottle
