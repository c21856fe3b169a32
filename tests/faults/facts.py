"""Tells what stands in a laboratory's database, as JSON: whether it is sound, and what took effect.

Run as ``python -m tests.faults.facts`` with the environment of the laboratory.
"""

# ruff: noqa: E402 - Django must be set up before its models are imported.

from __future__ import annotations

import json
import os

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labqueue.settings")

import django

django.setup()

from django.db import connection
from django.db.models import Count

from intake import record
from intake.actions import rejudging
from intake.models import BenchCheck, Bottle, Job, RecordEntry, Sample, Token
from labqueue.models import Place, PlanDraft


def integrity() -> list[str]:
    """What SQLite finds wrong with its own file; PostgreSQL has no such question."""
    if connection.vendor != "sqlite":
        return []
    with connection.cursor() as cursor:
        found = [row[0] for row in cursor.execute("PRAGMA integrity_check").fetchall()]
        return [row for row in found if row != "ok"] + cursor.execute("PRAGMA foreign_key_check").fetchall()


def facts() -> dict[str, object]:
    standing = BenchCheck.objects.filter(undone_at__isnull=True).values("bottle")
    awaiting = Place.objects.filter(awaiting=True, bottle__isnull=False)
    return {
        "faults": [*integrity(), *map(str, record.faults())],
        "differing": [str(one) for one in rejudging.differences() if one is not None],
        "check_tokens": list(Token.objects.filter(verb="bottle.check").values_list("key", flat=True)),
        "check_entries": RecordEntry.objects.filter(verb="bottle.check").count(),
        "checks": BenchCheck.objects.count(),
        "checked_twice": standing.annotate(count=Count("pk")).filter(count__gt=1).count(),
        "sites": sorted(Sample.objects.filter(site__startswith="Sheet").values_list("site", flat=True)),
        "sheet_entries": RecordEntry.objects.filter(verb="samples.enter").count(),
        "jobs": list(Job.objects.filter(kind__contains="sheet").values_list("kind", "state", "sentence")),
        "accepted": list(PlanDraft.objects.exclude(accepted_at=None).values_list("key", flat=True)),
        "accept_entries": RecordEntry.objects.filter(verb="plan.accept").count(),
        "placed": sorted(Bottle.objects.filter(state="placed").values_list("number", flat=True)),
        "awaiting": sorted(awaiting.values_list("bottle__number", flat=True)),
    }


if __name__ == "__main__":
    print(json.dumps(facts(), default=str))
