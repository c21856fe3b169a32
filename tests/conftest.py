"""The cast, a rulebook and a database for every test; nothing here reaches the network."""

from __future__ import annotations

import os
import shutil
import socket
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection
from django.test import Client
from django.utils import translation

from intake.choices import Role
from labqueue.database import SQLITE_JOURNAL
from tests.browser.chromium import is_installed

PASSWORD = "a long enough word for tests"
TAKEN = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)
BROWSER_FOLDER = Path(__file__).parent / "browser"


def pytest_configure(config: pytest.Config) -> None:
    """A quick hasher, and a database in a file: threads and a live server need a real one.

    Durability is switched off; that the lab's own settings keep it on is checked elsewhere.
    """
    config.labqueue_scratch = tempfile.mkdtemp(prefix="labqueue-tests-")
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.EMAIL_FILE_PATH = Path(config.labqueue_scratch) / "mail"
    database = settings.DATABASES["default"]
    if database["ENGINE"].endswith("sqlite3"):
        database.setdefault("TEST", {})["NAME"] = str(Path(config.labqueue_scratch) / "test.sqlite3")
        database["OPTIONS"]["init_command"] = f"PRAGMA journal_mode={SQLITE_JOURNAL}; PRAGMA synchronous=OFF;"


def pytest_unconfigure(config: pytest.Config) -> None:
    shutil.rmtree(config.labqueue_scratch, ignore_errors=True)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--long", action="store_true", help="run the tests that are marked long, too")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """The browser tests of one file share a worker; long tests run when they are asked for."""
    if not config.getoption("--long"):
        left = [item for item in items if "long" in item.keywords]
        config.hook.pytest_deselected(items=left)
        items[:] = [item for item in items if "long" not in item.keywords]
    for item in items:
        if BROWSER_FOLDER in item.path.parents:
            item.add_marker(pytest.mark.browser)
            item.add_marker(pytest.mark.xdist_group(f"browser {item.path.stem}"))


def pytest_terminal_summary(terminalreporter: object) -> None:
    if not is_installed() and not os.environ.get("CI"):
        terminalreporter.write_line(
            "The browser tests were left out: Chromium and its driver are not installed "
            "(Debian: chromium, chromium-driver)."
        )


@pytest.fixture(scope="session", autouse=True)
def no_network() -> Iterator[None]:
    """Refuse every connection that leaves this machine."""
    connect = socket.socket.connect

    def only_here(self: socket.socket, address: object) -> None:
        host = address[0] if isinstance(address, tuple) else "a local socket"
        if isinstance(address, tuple) and host not in ("127.0.0.1", "::1", "localhost"):
            raise RuntimeError(f"A test tried to reach {host}; tests stay on this machine.")
        connect(self, address)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(socket.socket, "connect", only_here)
        yield


@contextmanager
def record_unguarded() -> Iterator[None]:
    """Lift the triggers that refuse to change or delete the record, and put them back."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            # A table with checks still to come cannot be altered: have them made now.
            due = ["SET CONSTRAINTS ALL IMMEDIATE", "SET CONSTRAINTS ALL DEFERRED"]
            cursor.execute("SELECT DISTINCT tgrelid::regclass::text FROM pg_trigger WHERE NOT tgisinternal")
            tables = [table for (table,) in cursor.fetchall()]
            lift = [*due, *(f"ALTER TABLE {table} DISABLE TRIGGER USER" for table in tables)]
            restore = [*due, *(f"ALTER TABLE {table} ENABLE TRIGGER USER" for table in tables)]
        else:
            cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
            triggers = cursor.fetchall()
            lift = [f'DROP TRIGGER "{name}"' for name, _ in triggers]
            restore = [statement for _, statement in triggers]
        for statement in lift:
            cursor.execute(statement)
        try:
            yield
        finally:
            for statement in restore:
                cursor.execute(statement)


@pytest.fixture(autouse=True)
def english_again() -> Iterator[None]:
    """A request leaves its language to the thread until the next one; a test leaves it to nobody."""
    yield
    translation.activate(settings.LANGUAGE_CODE)


@pytest.fixture(scope="session", autouse=True)
def record_can_be_emptied() -> Iterator[None]:
    """Transactional tests empty every table afterwards, which the record's triggers refuse."""
    operations = type(connection.ops)
    flush = operations.execute_sql_flush

    def flush_unguarded(self: object, statements: list[str]) -> None:
        with record_unguarded():
            flush(self, statements)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(operations, "execute_sql_flush", flush_unguarded)
        yield


@pytest.fixture
def group(db: None):
    from intake.models import Group

    return Group.objects.create(name="Reedmoor hydrology", zone="Europe/Berlin")


@pytest.fixture
def other_group(db: None):
    from intake.models import Group

    return Group.objects.create(name="Saltmarsh ecology", zone="America/Halifax")


@pytest.fixture
def person(db: None) -> Callable:
    """``person(name, role, *groups)`` makes somebody who signs in with ``PASSWORD``."""
    from intake.models import Membership, User

    def make(name: str, role: str = Role.SUBMITTER, *groups: object) -> User:
        address = f"{name.lower().replace(' ', '.')}@lab.example"
        user = User.objects.create_user(address, PASSWORD, name=name, role=role)
        for group in groups:
            Membership.objects.create(user=user, group=group)
        return user

    return make


@pytest.fixture
def manager(person: Callable):
    return person("Mara Manager", Role.MANAGER)


@pytest.fixture
def reception(person: Callable):
    return person("Rolf Reception", Role.RECEPTION)


@pytest.fixture
def submitter(person: Callable, group: object):
    """A submitter of ``group``."""
    return person("Sami Submitter", Role.SUBMITTER, group)


@pytest.fixture
def stranger(person: Callable, other_group: object):
    """A submitter of another group, who must never learn of ``group``'s consignments."""
    return person("Stella Stranger", Role.SUBMITTER, other_group)


@pytest.fixture
def system(db: None):
    from intake.models import User

    return User.objects.system()


@pytest.fixture
def signed_in() -> Callable[[object], Client]:
    """``signed_in(user)`` is a test client that has signed in as ``user``."""

    def client_of(user: object) -> Client:
        client = Client()
        client.force_login(user)
        return client

    return client_of


@pytest.fixture
def jobs_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Jobs are done where they are left, since a test's own transaction never ends."""
    monkeypatch.setattr("intake.jobs.transaction.on_commit", lambda do: do())


@pytest.fixture
def rulebook(system: object):
    """The house rulebook as shipped, offered and the default."""
    from intake.actions.rulebooks import take_rulebooks
    from intake.shipped import shipped_data

    (version,) = take_rulebooks([shipped_data("house")], by=system, at=TAKEN)
    return version
