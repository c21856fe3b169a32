"""Is it safe to run on these settings? Asked by `manage.py check --deploy`, `make serve` and wsgi."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import ERROR, CheckMessage, Error, Tags, register, run_checks
from django.core.exceptions import ImproperlyConfigured
from django.db import connections

#: First version without the race that can damage a WAL database when two connections write and
#: checkpoint at once (SQLite release history, 3.51.3).
WAL_SAFE_FROM = (3, 51, 3)
LEAST_TIMEOUT_S = 5
LEAST_KEY_LENGTH = 50
LEAST_KEY_CHARACTERS = 5
PRAGMAS = ("journal_mode", "synchronous", "foreign_keys")
SYNCHRONOUS_FULL = 2
NETWORK_FILE_SYSTEMS = frozenset(
    {"9p", "ceph", "cifs", "fuse.sshfs", "nfs", "nfs4", "smb3", "smbfs", "sshfs"}
)


def fault(number: int, sentence: str, hint: str) -> Error:
    return Error(sentence, hint, id=f"labqueue.E{number:03}")


@register(Tags.security, deploy=True)
def production_is_stated(app_configs: Sequence[AppConfig] | None, **kwargs: object) -> list[CheckMessage]:
    """Everything a laboratory's own server needs and the demo does not."""
    return [*_secrecy(), *_reachability()]


def _secrecy() -> Iterator[Error]:
    if not settings.PRODUCTION:
        yield fault(1, "These are the settings for trying out.", "Set LABQUEUE_PRODUCTION=yes.")
    if settings.DEBUG:
        yield fault(
            2, "LABQUEUE_DEBUG shows code and data to whoever meets an error.", "Leave LABQUEUE_DEBUG unset."
        )
    key = settings.SECRET_KEY
    if key == settings.TRY_OUT_KEY or len(key) < LEAST_KEY_LENGTH or len(set(key)) < LEAST_KEY_CHARACTERS:
        yield fault(
            3,
            "LABQUEUE_SECRET_KEY can be guessed.",
            f"Make it random and at least {LEAST_KEY_LENGTH} characters long: "
            "python3 -c 'import secrets; print(secrets.token_urlsafe(60))'",
        )


def _reachability() -> Iterator[Error]:
    hosts = settings.ALLOWED_HOSTS
    if not hosts or any("*" in host or host.startswith(".") for host in hosts):
        yield fault(
            4,
            "LABQUEUE_HOSTS does not name this server, so that a forged host name could get into mails.",
            "Name every host people use, separated by commas: LABQUEUE_HOSTS=lab.example.org",
        )
    if not settings.EMAIL_HOST or settings.DEFAULT_FROM_EMAIL.endswith("@localhost"):
        yield fault(
            5,
            "Nobody would get a mail: no mail server or no sender is named.",
            "Set LABQUEUE_MAIL_HOST and LABQUEUE_MAIL_FROM.",
        )
    if not settings.BEHIND_PROXY and not (settings.CERTIFICATE and settings.CERTIFICATE_KEY):
        yield fault(
            6,
            "Nothing says how HTTPS reaches this server.",
            "Set LABQUEUE_BEHIND_PROXY=yes if a proxy ends HTTPS, overwrites X-Forwarded-Proto and is the "
            "only way in; else set LABQUEUE_CERTIFICATE and LABQUEUE_CERTIFICATE_KEY to files.",
        )


@register(Tags.database)
def sqlite_loses_nothing(
    app_configs: Sequence[AppConfig] | None, databases: Sequence[str] | None = None, **kwargs: object
) -> list[CheckMessage]:
    """Whether SQLite is opened in the way that keeps what it acknowledged."""
    return [found for alias in databases or () for found in _sqlite_faults(alias)]


def _sqlite_faults(alias: str) -> Iterator[Error]:
    if connections[alias].vendor != "sqlite":
        return
    with connections[alias].cursor() as cursor:
        pragma = {name: cursor.execute(f"PRAGMA {name}").fetchone()[0] for name in PRAGMAS}
    described = connections[alias].settings_dict
    yield from journal_faults(pragma, sqlite3.sqlite_version_info)
    yield from waiting_faults(described["OPTIONS"])
    yield from disk_faults(str(described["NAME"]), _mounts())


def journal_faults(pragma: Mapping[str, Any], version: tuple[int, ...]) -> Iterator[Error]:
    """What is unsafe in the values of ``PRAGMAS`` with an SQLite of ``version``."""
    if pragma["journal_mode"] == "wal" and version < WAL_SAFE_FROM:
        yield fault(
            10,
            f"SQLite {'.'.join(map(str, version))} can damage a database in WAL mode.",
            "Use SQLite 3.51.3 or later, or PRAGMA journal_mode=DELETE.",
        )
    if pragma["journal_mode"] in ("off", "memory"):
        yield fault(11, "SQLite keeps no journal on disk.", "Use PRAGMA journal_mode=DELETE.")
    if pragma["synchronous"] < SYNCHRONOUS_FULL:
        yield fault(12, "A power cut could undo what was acknowledged.", "Use PRAGMA synchronous=FULL.")
    if not pragma["foreign_keys"]:
        yield fault(13, "SQLite does not guard its references.", "Use PRAGMA foreign_keys=ON.")


def waiting_faults(options: Mapping[str, Any]) -> Iterator[Error]:
    """Whether writers wait for each other, by the options of the connection."""
    if options.get("timeout", 0) < LEAST_TIMEOUT_S:
        yield fault(
            14,
            "A writer gives up too soon while another is busy.",
            f"Set the timeout to at least {LEAST_TIMEOUT_S} s.",
        )
    if options.get("transaction_mode") != "IMMEDIATE":
        yield fault(
            15, "Two writers could both read before either writes.", "Set transaction_mode to IMMEDIATE."
        )


def disk_faults(path: str, mounts: str) -> Iterator[Error]:
    kind = file_system_of(path, mounts)
    if kind in NETWORK_FILE_SYSTEMS:
        yield fault(
            16,
            f"The database lies on a network file system ({kind}), whose locks SQLite cannot rely on.",
            "Set LABQUEUE_VAR to a folder on a disk of this machine.",
        )


def _mounts() -> str:
    try:
        return Path("/proc/mounts").read_text(encoding="utf-8")
    except OSError:
        return ""


def file_system_of(path: str, mounts: str) -> str:
    """Kind of the file system that holds ``path``, by the lines of /proc/mounts; empty if unknown."""
    best, kind = "", ""
    for line in mounts.splitlines():
        place, line_kind = line.split(" ")[1:3]
        place = place.replace("\\040", " ")
        inside = path == place or path.startswith(place.rstrip("/") + "/")
        if inside and len(place) >= len(best):
            best, kind = place, line_kind
    return kind


def refuse_unsafe() -> None:
    """Raise ``ImproperlyConfigured`` with every fault that makes production unsafe."""
    found = run_checks(include_deployment_checks=True, databases=list(connections))
    faults = [one for one in found if one.level >= ERROR and not one.is_silenced()]
    if faults:
        lines = "\n".join(f"- {one.msg} {one.hint or ''} ({one.id})" for one in faults)
        raise ImproperlyConfigured(f"labqueue does not start on these settings:\n{lines}")
