"""What is stored is the same, whatever language the people speak who have it stored."""

from __future__ import annotations

import json
import random
from datetime import UTC, datetime
from io import StringIO
from urllib.parse import urlsplit

import pytest
from django.core.cache import cache
from django.core.management import call_command
from django.db import connection, transaction
from django.utils import timezone, translation

from intake import record
from intake.actions import closing, deciding
from intake.choices import Decision, Role
from intake.models import Bottle, Consignment, FindingRow, RecordEntry, Statement, User
from intake.sealing import digest_of
from intake.states import BottleState
from intake.stating import statement_content
from tests.walk.test_forms import WALKERS, forms_of, likely

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(
        connection.vendor != "sqlite", reason="PostgreSQL does not give keys back after a rollback"
    ),
]
NOW = datetime(2026, 11, 24, 13, 5, tzinfo=UTC)
#: When a session ends and what was said to its person are no texts of ours that stay.
PASSING = {"django_session", "usersessions_usersession"}


@pytest.fixture
def same_chance(monkeypatch):
    """``same_chance()`` begins one series of numbers and secrets anew, at one moment."""
    monkeypatch.setattr(timezone, "now", lambda: NOW)

    def begin() -> None:
        chance = random.Random(5)
        monkeypatch.setattr("secrets.choice", chance.choice)
        monkeypatch.setattr("secrets.token_bytes", chance.randbytes)
        for name in ("token_urlsafe", "token_hex"):
            monkeypatch.setattr(f"secrets.{name}", lambda size=32: f"{chance.getrandbits(size * 8):x}")
        cache.clear()

    return begin


def everything() -> dict[str, list[tuple[object, ...]]]:
    """Every row of each table."""
    rows = {}
    with connection.cursor() as cursor:
        for table in sorted(set(connection.introspection.table_names(cursor)) - PASSING):
            cursor.execute(f'SELECT * FROM "{table}" ORDER BY 1')  # noqa: S608 - names of our own tables
            rows[table] = cursor.fetchall()
    return rows


def tell_story() -> dict[str, list[tuple[object, ...]]]:
    """The demo laboratory, from registering to measuring; then one more decision and a statement."""
    with transaction.atomic():
        call_command("load_demo", stdout=StringIO())
        manager = User.objects.get(email="manager@demo.example")
        bottle = Bottle.objects.filter(state=BottleState.ON_HOLD).first()
        deciding.decide_bottle(bottle, by=manager, at=NOW, decision=Decision.REFUSED, reason="too warm")
        measured = Consignment.objects.filter(samples__bottles__state=BottleState.MEASURED).distinct().first()
        seen = digest_of(statement_content(measured))
        closing.issue_statement(measured, by=manager, at=NOW, seen=seen, early=True)
        assert FindingRow.objects.count() > 100
        assert RecordEntry.objects.count() > 100
        assert Statement.objects.count() >= 1
        left = everything()
        transaction.set_rollback(True)
    return left


def differing(one: dict[str, list], other: dict[str, list]) -> list[tuple[str, object, object]]:
    return [
        (table, *both)
        for table in one
        for both in zip(one[table], other[table], strict=False)
        if both[0] != both[1] or len(one[table]) != len(other[table])
    ]


def test_a_story_told_in_german_leaves_what_it_leaves_in_english(same_chance):
    left = {}
    for language in ("en", "de"):
        same_chance()
        with translation.override(language):
            left[language] = tell_story()
    found = differing(left["en"], left["de"])
    assert found == [], found[:3]


@pytest.mark.long
@pytest.mark.parametrize("who", WALKERS[:1])
def test_every_form_leaves_the_same_in_either_language(walker, who, same_chance):
    client = walker(who)
    forms = forms_of(client)
    assert len(forms) > 10
    changed = 0
    before = everything()
    for form in forms:
        if form.kind[0] == "intake:language":
            continue
        filled = {name: value or likely(form, name) for name, value in form.fields.items()}
        left = {}
        for language in ("en", "de"):
            same_chance()
            with transaction.atomic():
                client.post(urlsplit(form.action).path, filled, headers={"accept-language": language})
                left[language] = everything()
                transaction.set_rollback(True)
        assert differing(left["en"], left["de"]) == [], form.action
        changed += left["en"] != before
    assert changed >= 3


def test_words_that_come_lazily_are_written_in_english(manager):
    with translation.override("de"):
        entry = record.write(
            by=manager,
            at=NOW,
            verb="policy.try",
            subject=Role.RECEPTION.label,
            after={"role": Role.MANAGER.label},
        )
    entry.refresh_from_db()
    assert (entry.subject, json.dumps(entry.after)) == ("reception", '{"role": "lab manager"}')
    assert translation.gettext("Language") == "Language"
