"""Storing many rows at once, where what the ORM does for each costs more than storing it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import TypeVar

from django.db import connections, models, router

#: What a database takes as it is; everything else is prepared by its field.
PLAIN = (str, int, float, type(None))
#: Keys in one statement; SQLite takes 999 in its oldest form (sqlite.org/limits.html, item 9).
KEYS = 900

Key = TypeVar("Key", int, str)


def insert_rows(rows: Sequence[models.Model]) -> None:
    """Insert ``rows`` of one model, which keep no key: one prepared statement for all of them.

    For what judging derives anew each time, tens of thousands of rows for a full consignment;
    ``bulk_create`` writes out a statement for every few dozen of them. Belongs in a transaction.
    """
    if not rows:
        return
    model = type(rows[0])
    connection = connections[router.db_for_write(model)]
    fields = [field for field in model._meta.concrete_fields if not field.primary_key]
    quote = connection.ops.quote_name
    columns = ", ".join(quote(field.column) for field in fields)
    places = ", ".join(["%s"] * len(fields))
    statement = f"INSERT INTO {quote(model._meta.db_table)} ({columns}) VALUES ({places})"  # noqa: S608
    moments: dict[datetime, object] = {}

    def prepared(field: models.Field, value: object) -> object:
        if isinstance(field, models.JSONField):
            return field.get_db_prep_save(value, connection)
        if isinstance(value, datetime):  # the same few moments come again and again
            if value not in moments:
                moments[value] = field.get_db_prep_save(value, connection)
            return moments[value]
        return value if isinstance(value, PLAIN) else field.get_db_prep_save(value, connection)

    with connection.cursor() as cursor:
        cursor.executemany(
            statement,
            [tuple(prepared(field, getattr(row, field.attname)) for field in fields) for row in rows],
        )


def in_parts(keys: Sequence[Key]) -> Iterable[Sequence[Key]]:
    """``keys`` in parts that one statement takes."""
    for start in range(0, len(keys), KEYS):
        yield keys[start : start + KEYS]
