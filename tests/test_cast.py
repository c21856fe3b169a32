"""That the cast and the test database are what other tests take them for."""

from __future__ import annotations

import socket
from datetime import UTC, datetime

import pytest
from django.db import DatabaseError, connection, transaction

from intake import record
from intake.models import Group, RecordEntry

AT = datetime(2026, 3, 18, 9, 0, tzinfo=UTC)


def test_submitter_and_stranger_share_no_group(submitter, stranger):
    mine = set(Group.objects.visible_to(submitter))
    theirs = set(Group.objects.visible_to(stranger))
    assert mine and theirs and not mine & theirs


def test_laboratory_sees_every_group(manager, reception, group, other_group):
    for person in (manager, reception):
        assert set(Group.objects.visible_to(person)) == {group, other_group}


def test_a_test_cannot_reach_the_network():
    with pytest.raises(RuntimeError, match="stay on this machine"):
        socket.create_connection(("192.0.2.1", 80), timeout=1)


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("time", ["first", "after the tables were emptied"])
def test_record_stays_guarded_when_tests_empty_it(manager, time):
    with transaction.atomic():
        entry = record.write(by=manager, at=AT, verb="test.write", subject="a test")
    assert RecordEntry.objects.count() == 1
    with pytest.raises(DatabaseError, match="append-only"), connection.cursor() as cursor:
        cursor.execute("DELETE FROM intake_recordentry WHERE id = %s", [entry.pk])
