"""Places kept for announced bottles: taken when they have come, given up when the run starts without.

A bottle needs no word from reception to get its place: whether it has come is read off its state.
It is taken out of the queue when it is scanned onto the tray or when the run starts, whichever is first.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.utils.translation import gettext_lazy as _

from intake import numbers, record
from intake.actions.placing import place_bottles
from intake.errors import EntryProblem, SomebodyWasFaster
from intake.models import User
from intake.states import BottleState
from labqueue.models import Place, Run
from labqueue.planning.sequence import PlaceKind


def reserved_places(run: Run) -> list[Place]:
    """Places of ``run`` kept for announced bottles, in order: one query."""
    places = run.places.filter(reserved=True).select_related("bottle__consignment", "bottle__sample")
    return list(places.order_by("position"))


def has_come(place: Place) -> bool:
    """Whether the bottle of a reserved place was received and may be measured."""
    return place.bottle.state == BottleState.READY


def take_reserved(run: Run, places: Sequence[Place], *, by: User, at: datetime) -> None:
    """Put bottles that have come on the places kept for them, inside the caller's transaction."""
    if not places:
        return
    place_bottles([place.bottle for place in places], by=by, at=at, label=f"run {run} on {run.unit}")
    kept = run.places.filter(pk__in=[place.pk for place in places], reserved=True)
    if kept.update(reserved=False, awaiting=True) != len(places):
        raise SomebodyWasFaster(
            _("Somebody changed run %(run)s a moment ago. Load the page anew.") % {"run": run}
        )
    for place in places:
        place.reserved, place.awaiting = False, True


def refuse_absent(place: Place) -> None:
    """Refuse to put a bottle on the tray that reception has not accepted."""
    if not has_come(place):
        raise EntryProblem(
            _(
                "Bottle %(bottle)s is %(state)s. Reception has to receive and accept it before it goes on "
                "a tray."
            )
            % {"bottle": place.bottle, "state": place.bottle.get_state_display()}
        )


def give_up_reserved(run: Run, places: Sequence[Place], *, by: User, at: datetime) -> None:
    """Keep ``places`` free whose bottles have not come, inside the caller's transaction.

    What was to repeat such a bottle repeats the sample before it instead, where there is one.
    """
    if not places:
        return
    gone = {place.bottle_id for place in places}
    named = [place.bottle.number for place in places]
    before: Place | None = None
    for place in run.places.filter(sample__isnull=False).order_by("position"):
        if place.kind == PlaceKind.SAMPLE and place.bottle_id not in gone:
            before = place
        elif place.bottle_id in gone:
            _leave(place, before)
    record.write(
        by=by,
        at=at,
        verb="run.give-up",
        subject=f"run {run.number}",
        after={"had not come": named},
    )


def _leave(place: Place, before: Place | None) -> None:
    name = numbers.grouped(place.bottle.number) if place.bottle else ""
    place.reserved, place.pinned = False, False
    if place.kind == PlaceKind.SAMPLE or before is None:
        place.kind, place.bottle = PlaceKind.BLANK.value, None
        place.dilution = place.volume_factor = 1
        place.remark = f"kept free: bottle {name} had not come"
    else:
        place.bottle, place.sample = before.bottle, before.sample
        place.dilution, place.volume_factor, place.remark = before.dilution, before.volume_factor, ""
    place.save(
        update_fields=[
            "kind", "bottle", "sample", "dilution", "volume_factor", "remark", "reserved", "pinned",
        ]
    )  # fmt: skip
