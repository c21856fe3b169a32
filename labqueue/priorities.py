"""Which bottles count more in a plan."""

from __future__ import annotations

from django.db.models import Q, QuerySet

from labqueue.choices import Priority
from labqueue.models import GivenPriority


def priorities_of(bottles: QuerySet) -> dict[int, str]:
    """The priority of each of ``bottles`` that has another than the usual one: two queries."""
    consignments: dict[int, str] = {}
    own: dict[int, str] = {}
    keys = bottles.order_by().values("pk")
    given = GivenPriority.objects.filter(Q(bottle__in=keys) | Q(consignment__bottles__in=keys)).distinct()
    for consignment, bottle, level in given.values_list("consignment_id", "bottle_id", "level"):
        if bottle is None:
            consignments[consignment] = level
        else:
            own[bottle] = level
    if not consignments and not own:
        return {}
    rows = bottles.order_by().values_list("pk", "consignment_id")
    found = {pk: own.get(pk, consignments.get(consignment, Priority.USUAL)) for pk, consignment in rows}
    return {pk: level for pk, level in found.items() if level != Priority.USUAL}


def reasons_for(bottle: object) -> list[GivenPriority]:
    """What was given to a bottle and to its consignment, the one that counts first."""
    rows = GivenPriority.objects.filter(Q(bottle=bottle.pk) | Q(consignment=bottle.consignment_id))
    return sorted(rows.select_related("given_by"), key=lambda row: row.bottle_id is None)
