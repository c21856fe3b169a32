"""Steps shared by the tests of the bench: received bottles, made through the actions."""

from __future__ import annotations

from intake.actions.checking import check_bottle
from intake.models import Bottle
from tests.factories import RECEIVED, anion_bottle, opened, sample, sent

SEEN = {
    "cold": True,
    "headspace": False,
    "leaking": False,
    "broken": False,
    "frozen": False,
    "cloudy": False,
    "label_matches": True,
}


def received(by, reception, group, rulebook, *entries, at=RECEIVED) -> list[Bottle]:
    """Bottles of ``entries``, sent, received and ready, in order of their making."""
    consignment = sent(by, group, rulebook, *entries)
    arrival = opened(reception, consignment)
    for bottle in consignment.bottles.all():
        check_bottle(bottle, arrival, by=reception, at=at, seen=SEEN, in_order=True)
    return again(consignment.bottles.all())


def again(bottles) -> list[Bottle]:
    """``bottles`` as they stand in the database now."""
    keys = [bottle.pk for bottle in bottles]
    found = Bottle.objects.filter(pk__in=keys).select_related("arrival", "consignment", "sample")
    return list(found.order_by("pk"))


def river(count, bottles=None, **changes):
    """Samples named S1, S2 and so on, each with a bottle for anions unless told otherwise."""
    return [
        sample(f"S{number}", bottles=bottles or (anion_bottle(),), **changes)
        for number in range(1, count + 1)
    ]
