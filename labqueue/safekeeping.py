"""Taking a copy of the database while it is in use, and putting one back into an empty laboratory.

A backup is a zip archive of two members: the database, and a manifest that tells what is in it. The
end of every chain of the record is in the manifest, so that a record cut short later can be told.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import sqlite3
import subprocess
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.db import DEFAULT_DB_ALIAS, connection, connections, transaction

from intake import record
from intake.choices import Role
from intake.models import ChainHead, Consignment, RecordEntry, User

MANIFEST = "manifest.json"
MEMBER = {"sqlite": "database.sqlite3", "postgresql": "database.dump"}


class BackupFault(Exception):
    """Why a backup could not be made or put back: what is wrong and what to do."""


def make_backup(target: Path, *, at: datetime) -> dict[str, Any]:
    """Write a backup of the database as it stands to the new file ``target``; returns its manifest.

    The file holds personal data: only its owner may read it. It gets its name once it is whole.
    """
    if target.exists():
        raise BackupFault(f"{target} exists already. Name a new file; a backup is never written over.")
    if not target.parent.is_dir():
        raise BackupFault(f"There is no folder {target.parent}. Make it first, or name another.")
    with tempfile.TemporaryDirectory(prefix=".labqueue-backup-", dir=target.parent) as folder:
        copy = Path(folder) / MEMBER[connection.vendor]
        told = _copy_sqlite(copy) if connection.vendor == "sqlite" else _dump_postgresql(copy)
        manifest = {"made_at": at.astimezone(UTC).isoformat(), "database": copy.name, **told}
        manifest["sha256"] = _sha256(copy)
        whole = Path(folder) / "whole.zip"
        whole.touch(mode=0o600)
        with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
            archive.write(copy, copy.name)
            archive.writestr(MANIFEST, json.dumps(manifest, indent=1, sort_keys=True))
        with whole.open("rb") as written:
            os.fsync(written.fileno())
        whole.rename(target)
    return manifest


def put_back(source: Path) -> dict[str, Any]:
    """Put the backup ``source`` in place of the empty laboratory's database; returns its manifest.

    Raises ``BackupFault`` where the laboratory is not empty, or the file is not what was written. What
    stands in the database afterwards has been compared with the manifest.
    """
    refuse_unless_empty()
    with tempfile.TemporaryDirectory(prefix="labqueue-restore-") as folder:
        manifest, copy = _unpack(source, Path(folder))
        if connection.vendor == "sqlite":
            _fill_sqlite(copy)
        else:
            _fill_postgresql(copy)
    with transaction.atomic():
        found = {"counts": _counts(), "heads": _heads()}
    for name, value in found.items():
        if value != manifest[name]:
            raise BackupFault(f"The {name} restored are not those of the manifest. Do not use this database.")
    faults = list(record.faults())
    if faults:
        raise BackupFault(f"The record restored is not whole: {faults[0]}. Do not use this database.")
    return manifest


def refuse_unless_empty(alias: str = DEFAULT_DB_ALIAS) -> None:
    """Raise ``BackupFault`` where somebody or something already is in the laboratory at ``alias``."""
    tables = connections[alias].introspection.table_names()
    for model in (User, Consignment, RecordEntry):
        if model._meta.db_table not in tables:
            continue
        rows = User.objects.exclude(role=Role.SYSTEM) if model is User else model.objects.all()
        if rows.using(alias).exists():
            raise BackupFault(
                "The laboratory to be filled is not empty, and all that is in it would be replaced. Take "
                "a new one: another folder in LABQUEUE_VAR, or a new database in DATABASE_URL."
            )


def _tables() -> list[str]:
    return sorted(connection.introspection.table_names())


def _counts() -> dict[str, int]:
    with connection.cursor() as cursor:
        counts = {}
        for table in _tables():
            cursor.execute(f"SELECT count(*) FROM {connection.ops.quote_name(table)}")  # noqa: S608
            counts[table] = cursor.fetchone()[0]
    return counts


def _heads() -> dict[str, list[Any]]:
    return {head.chain: [head.position, head.digest] for head in ChainHead.objects.order_by("chain")}


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _unpack(source: Path, folder: Path) -> tuple[dict[str, Any], Path]:
    try:
        with zipfile.ZipFile(source) as archive:
            manifest = json.loads(archive.read(MANIFEST))
            name = MEMBER[connection.vendor]
            if manifest["database"] != name:
                raise BackupFault(
                    f"{source} holds another kind of database ({manifest['database']}). Restore it to the "
                    "kind it was made from."
                )
            with archive.open(name) as packed, (folder / name).open("wb") as copy:
                shutil.copyfileobj(packed, copy)
    except (OSError, ValueError, KeyError, zipfile.BadZipFile) as fault:
        raise BackupFault(f"{source} is not a backup that can be read: {fault}.") from fault
    if _sha256(folder / name) != manifest["sha256"]:
        raise BackupFault(f"{source} is not what was written: its SHA-256 differs. Take another backup.")
    return manifest, folder / name


# SQLite


def _copy_sqlite(copy: Path) -> dict[str, Any]:
    """Copy by SQLite's online backup, which gives one consistent state while others write."""
    with closing(sqlite3.connect(connection.settings_dict["NAME"], timeout=60)) as live:
        with closing(sqlite3.connect(copy)) as target:
            # In one step: between steps a write of another process makes SQLite begin anew, which
            # under load never ends. Writers wait for it, readers do not.
            live.backup(target, pages=-1)
        with closing(sqlite3.connect(copy)) as made:
            return _told_of(made)


def _told_of(database: sqlite3.Connection) -> dict[str, Any]:
    counts = {
        table: database.execute(f'SELECT count(*) FROM "{table}"').fetchone()[0]  # noqa: S608
        for (table,) in database.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\' "
            "ORDER BY name"
        ).fetchall()
    }
    heads = database.execute("SELECT chain, position, digest FROM intake_chainhead ORDER BY chain")
    return {"counts": counts, "heads": {chain: [position, digest] for chain, position, digest in heads}}


def _fill_sqlite(copy: Path) -> None:
    with closing(sqlite3.connect(copy)) as made:
        if made.execute("PRAGMA integrity_check").fetchall() != [("ok",)]:
            raise BackupFault("The database in this backup is damaged. Take another backup.")
        if made.execute("PRAGMA foreign_key_check").fetchall():
            raise BackupFault("The database in this backup has broken references. Take another backup.")
        connection.ensure_connection()
        made.backup(connection.connection)


# PostgreSQL


@contextmanager
def _one_snapshot() -> Iterator[str]:
    """A transaction that sees one state throughout; yields the name by which others see the same."""
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        cursor.execute("SELECT pg_export_snapshot()")
        yield cursor.fetchone()[0]


def _dump_postgresql(copy: Path) -> dict[str, Any]:
    with _one_snapshot() as snapshot:
        _run("pg_dump", "--format=custom", "--no-owner", f"--snapshot={snapshot}", f"--file={copy}")
        return {"counts": _counts(), "heads": _heads()}


def _fill_postgresql(copy: Path) -> None:
    name = connection.settings_dict["NAME"]
    connection.close()
    _run(
        "pg_restore",
        "--single-transaction",
        "--exit-on-error",
        "--clean",
        "--if-exists",
        "--no-owner",
        f"--dbname={name}",
        str(copy),
    )


def _run(program: str, *arguments: str) -> None:
    """Run one of PostgreSQL's programs on our database; the password goes by the environment."""
    described = connection.settings_dict
    ours = {
        "PGHOST": described["HOST"],
        "PGPORT": str(described["PORT"]),
        "PGUSER": described["USER"],
        "PGPASSWORD": described["PASSWORD"],
        "PGDATABASE": described["NAME"],
        "PGSSLMODE": described["OPTIONS"].get("sslmode", ""),
        "PGSSLROOTCERT": described["OPTIONS"].get("sslrootcert", ""),
    }
    found = shutil.which(program)
    if found is None:
        raise BackupFault(f"{program} is not installed here. On Debian: apt-get install postgresql-client")
    result = subprocess.run(  # noqa: S603 — a program of PostgreSQL with arguments of ours
        [found, *arguments],
        env=os.environ | {name: value for name, value in ours.items() if value},
        capture_output=True,
        text=True,
        check=False,
    )
    if result.returncode:
        raise BackupFault(f"{program} could not do it: {result.stderr.strip()}")
