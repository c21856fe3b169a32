"""The drill: a backup taken while somebody writes, put back elsewhere, and found whole."""

from __future__ import annotations

import json
import os
import sqlite3
import subprocess
import sys
import threading
import time
import zipfile
from datetime import timedelta
from urllib.parse import quote

import pytest
from django.contrib.auth.hashers import Argon2PasswordHasher
from django.core.management import CommandError, call_command
from django.db import connection

from intake.actions.checking import check_bottle, undo_check
from intake.models import Bottle, RecordEntry, User
from labqueue.safekeeping import BackupFault, put_back
from tests.bench.bench import SEEN
from tests.conftest import PASSWORD
from tests.factories import RECEIVED, opened, sample, sent
from tests.labqueue.production import ROOT

SIGN_IN = f"""
from django.test import Client
client = Client()
answer = client.post("/account/sign-in/", {{"login": "mara.manager@lab.example", "password": "{PASSWORD}"}})
print("signed in" if "_auth_user_id" in client.session else answer.content.decode())
"""


@pytest.fixture
def elsewhere(tmp_path):
    """``elsewhere(*arguments)`` runs manage.py on another, empty place for a laboratory."""
    kept = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    kept |= {"LABQUEUE_VAR": str(tmp_path / "elsewhere"), "LABQUEUE_HOSTS": "testserver"}
    other = f"elsewhere_{os.getpid()}"
    if connection.vendor == "postgresql":
        ours = connection.settings_dict
        kept["DATABASE_URL"] = f"postgresql://{ours['USER']}@/{other}?host={quote(ours['HOST'])}"
        _statement(f"CREATE DATABASE {other}")

    def manage(*arguments: str) -> str:
        result = subprocess.run(
            [sys.executable, "manage.py", *arguments],
            cwd=ROOT,
            env=kept,
            capture_output=True,
            text=True,
            timeout=180,
            check=False,
        )
        return result.stdout + result.stderr

    yield manage
    if connection.vendor == "postgresql":
        _statement(f"DROP DATABASE {other} WITH (FORCE)")


def _statement(statement: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement)


@pytest.fixture
def scanning(transactional_db, manager, reception, submitter, group, rulebook):
    """Somebody who checks bottles and takes the checks back until ``stop`` is set."""
    User.objects.filter(pk=manager.pk).update(password=Argon2PasswordHasher().encode(PASSWORD, "saltsalt"))
    consignment = sent(submitter, group, rulebook, *(sample(f"S{n}") for n in range(4)))
    arrival = opened(reception, consignment)
    stop, faults, done = threading.Event(), [], []

    def scan() -> None:
        at = RECEIVED
        try:
            while not stop.is_set():
                for bottle in Bottle.objects.select_related("consignment", "sample").order_by("pk"):
                    at += timedelta(seconds=1)
                    act = undo_check if bottle.arrival_id else check_bottle
                    extra = {} if bottle.arrival_id else {"arrival": arrival, "seen": SEEN, "in_order": True}
                    act(bottle, by=reception, at=at, **extra)
                    done.append(bottle.pk)
        except Exception as fault:
            faults.append(fault)
        finally:
            connection.close()

    thread = threading.Thread(target=scan)
    thread.start()
    yield done
    stop.set()
    thread.join()
    assert not faults


def test_a_backup_under_load_is_put_back_whole(scanning, elsewhere, tmp_path):
    target = tmp_path / "lab.backup"
    while len(scanning) < 5:
        time.sleep(0.05)
    before = RecordEntry.objects.count()
    call_command("backup", str(target))
    while len(scanning) < 10:
        time.sleep(0.05)
    assert target.stat().st_mode & 0o077 == 0
    with zipfile.ZipFile(target) as archive:
        manifest = json.loads(archive.read("manifest.json"))
        archive.extract(manifest["database"], tmp_path)
    assert before <= manifest["counts"]["intake_recordentry"] <= RecordEntry.objects.count()
    if connection.vendor == "sqlite":
        made = sqlite3.connect(tmp_path / manifest["database"])
        assert made.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert made.execute("PRAGMA foreign_key_check").fetchall() == []
        made.close()
    assert "Restored as of" in elsewhere("restore", str(target))
    told = elsewhere("verify_record")
    assert f"{manifest['counts']['intake_recordentry']} entries in" in told
    assert "nothing altered" in told
    assert "4 samples compared, 0 differ." in elsewhere("rejudge", "--dry-run")
    assert "signed in" in elsewhere("shell", "--no-imports", "-c", SIGN_IN)
    assert "is not empty" in elsewhere("restore", str(target))


def test_a_laboratory_in_use_is_never_written_over(db, manager, tmp_path):
    with pytest.raises(CommandError, match="not empty"):
        call_command("restore", str(tmp_path / "any.backup"))


def test_a_backup_is_never_written_over(db, tmp_path):
    target = tmp_path / "lab.backup"
    target.write_text("kept")
    with pytest.raises(CommandError, match="exists already"):
        call_command("backup", str(target))
    assert target.read_text() == "kept"


@pytest.mark.parametrize("spoil", [b"", b"no archive at all"])
def test_a_file_that_is_no_backup_is_refused(db, tmp_path, spoil):
    source = tmp_path / "lab.backup"
    source.write_bytes(spoil)
    with pytest.raises(BackupFault, match="not a backup that can be read"):
        put_back(source)


def test_a_backup_that_was_altered_is_refused(transactional_db, tmp_path):
    target, altered = tmp_path / "lab.backup", tmp_path / "altered.backup"
    call_command("backup", str(target))
    with zipfile.ZipFile(target) as read, zipfile.ZipFile(altered, "w") as write:
        for name in read.namelist():
            content = read.read(name)
            write.writestr(name, content if name == "manifest.json" else content[:-1] + b"x")
    with pytest.raises(BackupFault, match="SHA-256 differs"):
        put_back(altered)
