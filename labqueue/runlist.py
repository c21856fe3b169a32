"""The run list as a file: CSV and workbook, with plain columns of our own.

Columns: place (injection, from 1), kind, planned injection (local, the zone in the heading),
bottle, sample (the group's own id), dilution (5 means five times the volume), volume correction
(times the result gives the water before acid), remarks. No text is ever taken as a formula.
"""

from __future__ import annotations

from collections.abc import Iterable
from zoneinfo import ZoneInfo

from django.conf import settings
from django.utils.translation import gettext as _

from intake.sheets.plaintable import table_csv, table_workbook
from intake.states import BottleState
from labqueue.models import Place, Run

WIDTHS = (8, 16, 20, 12, 18, 10, 18, 40)


def columns() -> tuple[str, ...]:
    return (
        "place",
        "kind",
        f"planned injection ({settings.TIME_ZONE})",
        "bottle",
        "sample",
        "dilution",
        "volume correction",
        "remarks",
    )


def places_of(run: Run) -> list[Place]:
    """The places of a run with bottle and sample, in order: one query."""
    return list(run.places.select_related("bottle__sample__consignment__group").order_by("position"))


def cells(place: Place) -> tuple[int | str | float, ...]:
    """One line of the list; numbers are numbers, everything else is text."""
    there = place.planned_at.astimezone(ZoneInfo(settings.TIME_ZONE))
    bottle = place.bottle
    return (
        place.position,
        place.kind,
        f"{there:%Y-%m-%d %H:%M}",
        bottle.number if bottle else "",
        bottle.sample.own_id if bottle else "",
        place.dilution if bottle else "",
        round(place.volume_factor, 4) if bottle else "",
        remarks(place),
    )


def remarks(place: Place) -> str:
    """What the list says beside a place; a bottle still to come is never passed over in silence."""
    if place.reserved:
        come = place.bottle.state == BottleState.READY
        said = _("reserved, has come") if come else _("reserved, not here yet")
        return f"{said}; {place.remark}" if place.remark else said
    return place.remark


def as_csv(places: Iterable[Place]) -> bytes:
    return table_csv(columns(), map(cells, places))


def as_workbook(run: Run, places: Iterable[Place]) -> bytes:
    headings = list(zip(columns(), WIDTHS, strict=True))
    return table_workbook(f"Run {run.number}", headings, map(cells, places))
