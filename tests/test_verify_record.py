"""verify_record names what was tampered with, even by somebody who lifted the triggers."""

from datetime import UTC, datetime
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from intake import record
from tests.conftest import record_unguarded

pytestmark = pytest.mark.django_db
AT = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)


@pytest.fixture
def entries(manager):
    return [
        record.write(by=manager, at=AT, verb="thing.do", subject=f"thing {n}", after={"n": n})
        for n in range(1, 6)
    ]


def tamper(statement):
    with record_unguarded():
        for one in statement.split(";"):
            connection.cursor().execute(one)


def test_an_untouched_record_is_said_to_be_whole(entries):
    out = StringIO()
    call_command("verify_record", stdout=out)
    assert "5 entries in 1 chains" in out.getvalue()


@pytest.mark.parametrize(
    ("statement", "named"),
    [
        ("UPDATE intake_recordentry SET reason = 'x' WHERE position = 3", "LAB entry 3"),
        ("UPDATE intake_recordentry SET actor_name = 'x' WHERE position = 1", "LAB entry 1"),
        ("DELETE FROM intake_recordentry WHERE position = 2", "LAB entry 3"),
        ("DELETE FROM intake_recordentry WHERE position = 5", "LAB entry 5"),
        ("DELETE FROM intake_recordentry", "LAB entry 5"),
        (
            "UPDATE intake_recordentry SET position = CASE position WHEN 2 THEN 93 ELSE position END",
            "LAB entry 3",
        ),
        ("UPDATE intake_recordentry SET subject = 'y', digest = 'f' WHERE position = 5", "LAB entry 5"),
        ("DELETE FROM intake_chainhead", "LAB entry 5"),
        # Two entries swapped, by way of a position that none has.
        (
            "UPDATE intake_recordentry SET position = 99 WHERE position = 2;"
            "UPDATE intake_recordentry SET position = 2 WHERE position = 3;"
            "UPDATE intake_recordentry SET position = 3 WHERE position = 99",
            "LAB entry 2",
        ),
        # One slipped in at the end, and the end noted anew without knowing how entries are digested.
        (
            "INSERT INTO intake_recordentry (chain, position, at, actor_id, actor_name, verb, subject,"
            " before, after, reason, previous, digest) SELECT chain, 6, at, actor_id, '', verb, subject,"
            " before, after, reason, digest, 'f00d' FROM intake_recordentry WHERE position = 5;"
            "UPDATE intake_chainhead SET position = 6, digest = 'f00d'",
            "LAB entry 6",
        ),
    ],
)
def test_the_first_entry_touched_is_named(entries, statement, named):
    tamper(statement)
    err = StringIO()
    with pytest.raises(CommandError):
        call_command("verify_record", stderr=err)
    assert err.getvalue().startswith(named)
