"""The record: chained, append-only, guarded by the database itself."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from django.db import DatabaseError, connection, transaction

from intake import record
from intake.models import ChainHead, RecordEntry

pytestmark = pytest.mark.django_db
AT = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)


def write(by, **values):
    return record.write(by=by, at=AT, verb="thing.do", subject="a thing", **values)


def test_each_entry_carries_the_digest_of_the_one_before(manager):
    first, second = write(manager), write(manager, after={"when": AT, "ions": ["nitrate"]})
    assert (first.position, second.position) == (1, 2)
    assert second.previous == first.digest
    assert ChainHead.objects.get(chain=record.LAB_CHAIN).digest == second.digest


def test_a_digest_can_be_made_again_from_what_is_stored(manager):
    entry = write(manager, before={"ph": 7.25}, after={"at": AT, "name": "Übersee 🌊"}, reason="why")
    assert record.digest_of(RecordEntry.objects.get(pk=entry.pk)) == entry.digest


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE intake_recordentry SET reason = 'another'",
        "DELETE FROM intake_recordentry",
    ],
)
def test_the_database_refuses_to_change_or_delete_entries(manager, statement):
    write(manager)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        connection.cursor().execute(statement)


def test_models_and_querysets_refuse_too(manager):
    entry = write(manager)
    for attempt in (
        entry.delete,
        RecordEntry.objects.all().delete,
        lambda: RecordEntry.objects.update(reason="x"),
    ):
        with pytest.raises(TypeError, match="append-only"):
            attempt()
    entry.reason = "another"
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        entry.save()


def test_only_what_differs_is_told():
    assert record.differences({"a": 1, "b": 2}, {"a": 1, "b": 3}) == ({"b": 2}, {"b": 3})


def test_a_moment_in_another_zone_makes_the_same_digest_when_read_back(manager):
    at = datetime(2026, 7, 3, 15, 30, tzinfo=ZoneInfo("Europe/London"))
    record.write(by=manager, at=at, verb="test.write", subject="a test")
    assert not list(record.faults())
