"""The template of what awaits results: a row for each ion that was injected and has no value yet."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from intake.models import Injection, Result
from intake.sheets.plaintable import Cell, table_csv, table_workbook
from intake.sheets.results import HEADINGS, MOST_ROWS

#: How far back injections are looked for whose values may still come. Our choice.
LOOKED_BACK = timedelta(days=60)
WIDTHS = {"bottle": 12, "run": 12, "place": 8, "injected": 24, "ion": 14, "value": 12, "unit": 8, "as": 6,
          "dilution": 10, "top": 11, "remark": 40}  # fmt: skip


def awaited(at: datetime, zone: str, run: str = "") -> Iterator[list[Cell]]:
    """Rows under ``HEADINGS`` of the injections before ``at``, of one run if it is named.

    By moment of injection; at most as many as one file may hold.
    """
    shots = Injection.objects.filter(at__gte=at - LOOKED_BACK, voided_at__isnull=True)
    if run:
        shots = shots.filter(run=run)
    shots = list(shots.select_related("bottle").order_by("at", "pk")[:MOST_ROWS])
    first = shots[0].at if shots else at
    known = set(
        Result.objects.filter(injection__at__gte=first, withdrawn_at__isnull=True).values_list(
            "injection_id", "ion"
        )
    )
    given = 0
    for shot in shots:
        for ion in shot.bottle.ions:
            if (shot.pk, ion) in known or ion in shot.bottle.dropped:
                continue
            if given == MOST_ROWS:
                return
            given += 1
            yield [
                shot.bottle.number,
                shot.run,
                shot.place,
                shot.at.astimezone(ZoneInfo(zone)).replace(tzinfo=None),
                ion,
                None,
                "mg/L",
                "",
                shot.dilution,
                None,
                "",
            ]


def _headings(zone: str) -> list[tuple[str, float]]:
    return [
        (f"{heading}, {zone}" if code == "injected" else heading, WIDTHS[code])
        for code, heading in HEADINGS.items()
    ]


def awaited_workbook(at: datetime, zone: str, run: str = "") -> bytes:
    return table_workbook("Results", _headings(zone), awaited(at, zone, run))


def awaited_csv(at: datetime, zone: str, run: str = "") -> bytes:
    return table_csv([heading for heading, _width in _headings(zone)], awaited(at, zone, run))
