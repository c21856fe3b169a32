"""Walking through a whole laboratory: reading changes nothing, and no text becomes markup."""

from __future__ import annotations

import hashlib
import json

import pytest
from django.apps import apps
from django.contrib.sessions.models import Session
from django.db import connection, models
from django.db.models import F, Value
from django.db.models.functions import Concat, Left

from intake.models import RecordEntry, Statement
from tests.conftest import record_unguarded
from tests.walk.walking import pages_of, view_of

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(
        connection.vendor != "sqlite", reason="what pages show does not depend on the database"
    ),
]
WALKERS = ("manager@demo.example", "reception@demo.example", "orrel@demo.example")
#: Rows of sessions change when pages are read, and nothing else does.
OF_SESSIONS = {Session._meta.db_table}


def digest_of_everything() -> dict[str, str]:
    """SHA-256 of every row of each table, but those of sessions."""
    digests = {}
    with connection.cursor() as cursor:
        for table in sorted(set(connection.introspection.table_names(cursor)) - OF_SESSIONS):
            cursor.execute(f'SELECT * FROM "{table}" ORDER BY 1')  # noqa: S608 - names of our own tables
            digests[table] = hashlib.sha256(repr(cursor.fetchall()).encode()).hexdigest()
    return digests


@pytest.mark.parametrize("who", WALKERS)
def test_reading_any_page_changes_nothing(walker, who):
    client = walker(who)
    before = digest_of_everything()
    met = {page.address: page.status for page in pages_of(client)}
    assert len({view_of(address) for address in met}) > 30
    assert {address: status for address, status in met.items() if status not in (200, 403)} == {}
    assert digest_of_everything() == before


# No text becomes markup

TAG = "kanari"
CANARY = f"<{TAG} {TAG}=1>\"'&{{{{{TAG}}}}}<!--"
#: Texts that are not told to people as they stand, or that the database holds to a form.
LEFT_ALONE = {
    "number",
    "digest",
    "token_digest",
    "previous",
    "chain",
    "zone",
    "password",
    "code",
    "verb",
    "facts_digest",
    "role",
    "url",
}


def texts_of(model: type[models.Model]) -> list[models.Field]:
    return [
        field
        for field in model._meta.concrete_fields
        if isinstance(field, models.CharField | models.TextField)
        and not field.choices
        and not field.unique
        and field.name not in LEFT_ALONE
        and not isinstance(field, models.EmailField)
    ]


def plant() -> int:
    """Put the canary into every text of ours; how many columns there were."""
    planted = 0
    for label in ("intake", "labqueue"):
        for model in apps.get_app_config(label).get_models():
            fields = texts_of(model)
            rows = models.QuerySet(model)  # past the querysets that refuse to update
            for field in fields:
                room = (field.max_length or 10_000) - len(CANARY)
                if room < 0:
                    continue
                filled = rows.exclude(**{field.name: ""}).exclude(**{f"{field.name}__isnull": True})
                kept = F(field.name) if room == 0 else Left(F(field.name), max(room, 1))
                filled.update(**{field.name: Concat(kept, Value(CANARY), output_field=field)})
                planted += 1
    for model, names in ((RecordEntry, ("before", "after")), (Statement, ("content",))):
        for row in models.QuerySet(model):
            told = {name: with_canary(getattr(row, name)) for name in names}
            models.QuerySet(model).filter(pk=row.pk).update(**told)
    return planted


def with_canary(value: object) -> object:
    """``value`` with the canary behind each text that is words (not a number, moment or code)."""
    if isinstance(value, dict):
        return {name: with_canary(part) for name, part in value.items()}
    if isinstance(value, list):
        return [with_canary(part) for part in value]
    return f"{value}{CANARY}" if isinstance(value, str) and " " in value else value


@pytest.mark.parametrize("who", WALKERS)
def test_no_text_becomes_markup(walker, who):
    client = walker(who)
    with record_unguarded():
        assert plant() > 25
    shown = 0
    for page in pages_of(client):
        assert page.status in (200, 403), page.address
        if page.reader is None:
            continue
        assert TAG not in page.reader.tags, page.address
        assert TAG not in page.reader.attributes, page.address
        shown += page.content.decode().count(f"&lt;{TAG}")
    assert shown > 100


def test_the_canary_would_be_seen():
    """What the walk looks for is there when a page does not escape."""
    from tests.walk.walking import read

    reader = read("/", f"<p>{CANARY}</p>")
    assert TAG in reader.tags
    assert TAG in reader.attributes
    assert json.dumps(CANARY)
