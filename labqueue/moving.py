"""Moving a whole laboratory into another database, row by row, with its keys, and comparing both.

Rows go by Django's fields, which know how each kind of database writes a value. Source and target each
stand in one transaction, so that the move is one state of the source and the target gets all or nothing.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.apps import apps
from django.core.exceptions import ImproperlyConfigured
from django.core.management import call_command
from django.core.serializers.json import DjangoJSONEncoder
from django.db import DEFAULT_DB_ALIAS, connections, models, transaction
from django.db.models import AutoField

from labqueue import database
from labqueue.safekeeping import BackupFault, refuse_unless_empty

TARGET = "target"
SQLITE = "sqlite:"
BATCH = 2000


class MoveFault(Exception):
    """Why a laboratory was not moved: what is wrong and what to do. Nothing was moved."""


@dataclass(frozen=True, slots=True)
class Moved:
    """How many rows went over, and the digest of all of them, the same on both sides."""

    rows: int
    digest: str


def move(url: str) -> Moved:
    """Move this laboratory to the database at ``url``: postgresql://… or sqlite:FILE, which must be empty."""
    with _target(url):
        call_command("migrate", database=TARGET, interactive=False, verbosity=0)
        try:
            refuse_unless_empty(TARGET)
        except BackupFault as fault:
            raise MoveFault(str(fault)) from fault
        with _one_state(), transaction.atomic(using=TARGET):
            _empty(TARGET)
            rows = sum(_copy(model) for model in _tables())
            _set_sequences(TARGET, sequences(DEFAULT_DB_ALIAS))
            ours, theirs = digest(DEFAULT_DB_ALIAS), digest(TARGET)
            if ours != theirs:
                raise MoveFault("What arrived is not what was there. Nothing was moved; tell the developers.")
    return Moved(rows, ours)


@contextmanager
def _target(url: str) -> Iterator[None]:
    """The database at ``url`` as a second one of this process, for as long as the move takes."""
    try:
        described = (
            database.sqlite(Path(url.removeprefix(SQLITE)).resolve())
            if url.startswith(SQLITE)
            else database.described(url, path=Path(), connections=2)
        )
    except ImproperlyConfigured as fault:
        raise MoveFault(str(fault).replace("DATABASE_URL", "--to")) from fault
    connections.databases[TARGET] = connections.configure_settings({"default": {}, TARGET: described})[TARGET]
    try:
        yield
    finally:
        connections[TARGET].close()
        if described["OPTIONS"].get("pool"):
            connections[TARGET].close_pool()
        del connections[TARGET]
        del connections.databases[TARGET]


@contextmanager
def _one_state() -> Iterator[None]:
    """One state of this laboratory throughout; on SQLite, whose transactions are IMMEDIATE, nobody writes."""
    connection = connections[DEFAULT_DB_ALIAS]
    with transaction.atomic():
        if connection.vendor == "postgresql" and not connection.savepoint_ids:
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        yield


def _tables() -> list[type[models.Model]]:
    """A model for each table; the list of migrations is each database's own."""
    found = {model._meta.db_table: model for model in apps.get_models(include_auto_created=True)}
    return [found[name] for name in sorted(found) if found[name]._meta.managed]


def _empty(alias: str) -> None:
    """Take out what the migrations put in: the same comes from the source."""
    for model in _tables():
        if model._base_manager.using(alias).exists():
            with connections[alias].cursor() as cursor:
                name = connections[alias].ops.quote_name(model._meta.db_table)
                cursor.execute(f"DELETE FROM {name}")  # noqa: S608 (a table of ours)


def _rows(model: type[models.Model], alias: str) -> Iterator[tuple[Any, ...]]:
    names = [field.attname for field in model._meta.concrete_fields]
    rows = model._base_manager.using(alias).order_by("pk").values_list(*names)
    return rows.iterator(chunk_size=BATCH)


def _copy(model: type[models.Model]) -> int:
    connection = connections[TARGET]
    fields = model._meta.concrete_fields
    quote = connection.ops.quote_name
    columns = ", ".join(quote(field.column) for field in fields)
    places = ", ".join(["%s"] * len(fields))
    statement = f"INSERT INTO {quote(model._meta.db_table)} ({columns}) VALUES ({places})"  # noqa: S608
    count, batch = 0, []
    with connection.cursor() as cursor:
        for row in _rows(model, DEFAULT_DB_ALIAS):
            pairs = zip(fields, row, strict=True)
            batch.append(tuple(field.get_db_prep_save(value, connection) for field, value in pairs))
            count += 1
            if len(batch) == BATCH:
                cursor.executemany(statement, batch)
                batch = []
        if batch:
            cursor.executemany(statement, batch)
    return count


def _counted() -> dict[str, str]:
    """The key's column of each table whose keys the database counts up."""
    return {
        model._meta.db_table: model._meta.pk.column
        for model in _tables()
        if isinstance(model._meta.pk, AutoField) or model._meta.pk.get_internal_type().endswith("AutoField")
    }


def sequences(alias: str) -> dict[str, int]:
    """The last key given out in each table; keys of rows that are gone are not given out again."""
    connection = connections[alias]
    found: dict[str, int] = {}
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name, seq FROM sqlite_sequence")
            given = dict(cursor.fetchall())
            return {table: given[table] for table in _counted() if given.get(table)}
        for table, column in _counted().items():
            cursor.execute("SELECT pg_get_serial_sequence(%s, %s)", [f'"{table}"', column])
            (name,) = cursor.fetchone()
            cursor.execute(f"SELECT last_value, is_called FROM {name}")  # noqa: S608 (from the database)
            last, called = cursor.fetchone()
            if called:
                found[table] = last
    return found


def _set_sequences(alias: str, last: dict[str, int]) -> None:
    connection = connections[alias]
    with connection.cursor() as cursor:
        for table, column in _counted().items():
            value = last.get(table)
            if connection.vendor == "sqlite":
                cursor.execute("DELETE FROM sqlite_sequence WHERE name = %s", [table])
                if value:
                    cursor.execute("INSERT INTO sqlite_sequence (name, seq) VALUES (%s, %s)", [table, value])
            else:
                sequence = f"pg_get_serial_sequence('\"{table}\"', '{column}')"
                cursor.execute(f"SELECT setval({sequence}, %s, %s)", [value or 1, bool(value)])


def _written(value: object) -> object:
    """A value as it counts in the digest, whatever database it came from."""
    if isinstance(value, memoryview | bytes):
        return hashlib.sha256(value).hexdigest()
    return value


def digest(alias: str = DEFAULT_DB_ALIAS) -> str:
    """SHA-256 over every row of every table in order of its key, and over the last keys given out."""
    whole = hashlib.sha256()
    for model in _tables():
        whole.update(f"\x1e{model._meta.db_table}\x1e".encode())
        for row in _rows(model, alias):
            text = json.dumps([_written(value) for value in row], sort_keys=True, cls=DjangoJSONEncoder)
            whole.update(text.encode())
    whole.update(json.dumps(sequences(alias), sort_keys=True).encode())
    return whole.hexdigest()
