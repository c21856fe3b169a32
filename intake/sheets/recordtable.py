"""The record of one consignment to keep: an entry a row, in the sentences that its page shows."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import datetime
from zoneinfo import ZoneInfo

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from intake.models import Consignment, RecordEntry
from intake.record import readable
from intake.sheets.plaintable import Cell, table_csv, table_workbook
from intake.telling import tell

WIDTHS = (8, 22, 24, 50, 90, 40, 24)


def _headings(zone: str) -> tuple[str, ...]:
    return ("Entry", f"When, {zone}", "Who", "What", "Details", "Why", "Seal (SHA-256)")


def _rows(consignment: Consignment) -> Iterator[list[Cell]]:
    zone = ZoneInfo(consignment.zone)
    entries = RecordEntry.objects.filter(consignment=consignment).select_related("actor")
    for entry in entries.order_by("position").iterator(chunk_size=500):
        told = tell(entry, consignment.zone, most=None)
        yield [
            entry.position,
            _local(entry.at, zone),
            entry.actor_name,
            told.sentence,
            "; ".join(told.details),
            entry.reason,
            entry.digest,
        ]


def _local(at: datetime, zone: ZoneInfo) -> datetime:
    return at.astimezone(zone).replace(tzinfo=None, microsecond=0)


def record_data(consignment: Consignment) -> bytes:
    """Consignment, samples, bottles and every entry with what it says before and after, as JSON.

    An entry's ``digest`` can be made again from what is in the database only: names stand here in
    place of the marks that are digested.
    """
    entries = RecordEntry.objects.filter(consignment=consignment).order_by("position")
    content = {
        "consignment": _values(consignment),
        "samples": [_values(sample) for sample in consignment.samples.order_by("position")],
        "bottles": [_values(bottle) for bottle in consignment.bottles.order_by("pk")],
        "record": [
            {
                "position": entry.position,
                "at": entry.at,
                "who": entry.actor_name,
                "verb": entry.verb,
                "subject": entry.subject,
                "before": entry.before,
                "after": entry.after,
                "reason": entry.reason,
                "digest": entry.digest,
            }
            for entry in entries
        ],
    }
    return json.dumps(readable(content), cls=DjangoJSONEncoder, ensure_ascii=False, indent=1).encode()


def _values(row: models.Model) -> dict[str, object]:
    return {field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields}


def record_csv(consignment: Consignment) -> bytes:
    return table_csv(_headings(consignment.zone), _rows(consignment))


def record_workbook(consignment: Consignment) -> bytes:
    headings = list(zip(_headings(consignment.zone), WIDTHS, strict=True))
    return table_workbook(f"Record {consignment.number}", headings, _rows(consignment), wrapped=(4, 5, 6))
