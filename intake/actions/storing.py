"""Storing many rows at once, where what the ORM does for each costs more than storing it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import repeat
from typing import TypeVar

from django.db import connections, models, router
from django.db.backends.base.base import BaseDatabaseWrapper

#: Fields whose values a database takes as they are; those of all others are prepared.
AS_IT_IS = (
    models.CharField,
    models.TextField,
    models.IntegerField,
    models.FloatField,
    models.BooleanField,
    models.ForeignKey,
)
#: Keys in one statement; SQLite takes 999 in its oldest form (sqlite.org/limits.html, item 9).
KEYS = 900

Thing = TypeVar("Thing")


def insert_rows(model: type[models.Model], names: Sequence[str], rows: Sequence[tuple[object, ...]]) -> None:
    """Insert ``rows``, the values of the fields ``names`` of ``model``: one prepared statement for all.

    A field not named holds its default, and the key is the database's to give unless it is named.
    For tens of thousands of rows of a full consignment: ``bulk_create`` makes an object of each and
    writes out a statement for every few dozen of them. Belongs in a transaction.
    """
    if not rows:
        return
    connection = connections[router.db_for_write(model)]
    given = dict(zip(names, zip(*rows, strict=True), strict=True))
    fields = [field for field in model._meta.concrete_fields if not field.primary_key or field.name in given]
    columns = [
        _prepared(field, given.pop(field.attname), connection)
        if field.attname in given
        else repeat(field.get_db_prep_save(field.get_default(), connection), len(rows))
        for field in fields
    ]
    if given:
        raise ValueError(f"not fields of {model.__name__}: {sorted(given)}")
    with connection.cursor() as cursor:
        cursor.executemany(_insertion(model, fields, connection), list(zip(*columns, strict=True)))


def insert_once(row: models.Model) -> bool:
    """Insert ``row`` unless a unique value of it stands there already; whether it was inserted.

    Who inserts the same at the same moment waits for the other's transaction to end. The key that the
    database gives is not read back.
    """
    connection = connections[router.db_for_write(type(row))]
    fields = [field for field in row._meta.concrete_fields if not field.primary_key]
    values = [field.get_db_prep_save(getattr(row, field.attname), connection) for field in fields]
    with connection.cursor() as cursor:
        cursor.execute(f"{_insertion(type(row), fields, connection)} ON CONFLICT DO NOTHING", values)
        return cursor.rowcount == 1


def _insertion(
    model: type[models.Model], fields: Sequence[models.Field], connection: BaseDatabaseWrapper
) -> str:
    quote = connection.ops.quote_name
    into = ", ".join(quote(field.column) for field in fields)
    places = ", ".join(["%s"] * len(fields))
    return f"INSERT INTO {quote(model._meta.db_table)} ({into}) VALUES ({places})"  # noqa: S608


def _prepared(
    field: models.Field, column: Sequence[object], connection: BaseDatabaseWrapper
) -> Iterable[object]:
    """The values of one field as the database takes them."""
    if isinstance(field, AS_IT_IS):
        return column
    if isinstance(field, models.DateTimeField):  # the same few moments come again and again
        return _prepared_once(field, column, column, connection)
    if isinstance(field, models.JSONField):  # and so do lists of ions, which nothing can be looked up by
        return _prepared_once(field, column, list(map(repr, column)), connection)
    return [field.get_db_prep_save(value, connection) for value in column]


def _prepared_once(
    field: models.Field,
    column: Sequence[object],
    names: Sequence[object],
    connection: BaseDatabaseWrapper,
) -> Iterable[object]:
    """As ``_prepared``, each value once; ``names`` are the same where the values are."""
    values = dict(zip(names, column, strict=True))
    told = {name: field.get_db_prep_save(value, connection) for name, value in values.items()}
    return [told[name] for name in names]


def in_parts(things: Sequence[Thing], most: int = KEYS) -> Iterable[Sequence[Thing]]:
    """``things`` in parts of at most ``most``; as many keys as one statement takes unless said otherwise."""
    for start in range(0, len(things), most):
        yield things[start : start + most]
