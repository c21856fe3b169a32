"""A laboratory moved to another database and back is the same to the last key."""

from __future__ import annotations

import inspect
import os
import re
import subprocess
import sys
from pathlib import Path
from urllib.parse import quote

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper

from intake.models import Bottle, Sample
from labqueue.moving import TARGET, MoveFault, digest, move, sequences
from tests.bench.bench import received, river
from tests.labqueue.production import ROOT

DIGEST = re.compile(r"digest of both laboratories is ([0-9a-f]{64})")


@pytest.fixture(autouse=True)
def second_database(transactional_db, monkeypatch):
    """Django's tests refuse databases that the settings do not name; the move makes one."""
    refusing = inspect.getclosurevars(BaseDatabaseWrapper.ensure_connection).nonlocals
    monkeypatch.setattr(BaseDatabaseWrapper, "ensure_connection", refusing["real_ensure_connection"])


@pytest.fixture
def lab(transactional_db, submitter, reception, group, rulebook):
    received(submitter, reception, group, rulebook, *river(3))
    # A key that was given out and is gone must not be given out again.
    last = Sample.objects.order_by("pk").last()
    Sample.objects.filter(
        pk=Sample.objects.create(
            consignment=last.consignment, own_id="gone", position=9, declared_at=last.declared_at
        ).pk
    ).delete()


def test_every_row_and_the_last_keys_arrive(lab, tmp_path):
    before = digest()
    moved = move(f"sqlite:{tmp_path / 'there.sqlite3'}")
    assert moved.digest == before == digest()
    assert moved.rows > Bottle.objects.count()
    assert TARGET not in connections.databases


def test_the_digest_tells_one_changed_cell_and_one_key(lab):
    whole = digest()
    Bottle.objects.filter(pk=Bottle.objects.first().pk).update(volume_ml=49.5)
    changed = digest()
    assert changed != whole
    gone = sequences("default")["intake_sample"]
    assert gone > Sample.objects.order_by("pk").last().pk


def test_a_laboratory_that_is_in_use_is_not_moved_over(lab, tmp_path):
    url = f"sqlite:{tmp_path / 'there.sqlite3'}"
    move(url)
    with pytest.raises(CommandError, match="not empty"):
        call_command("move_lab", to=url)


@pytest.mark.parametrize("url", ["mysql://x/y", "postgresql://h", ""])
def test_an_address_that_is_none_is_explained(lab, url):
    if not url:
        with pytest.raises(CommandError, match="--to"):
            call_command("move_lab")
        return
    with pytest.raises(MoveFault, match="--to"):
        move(url)


def test_a_move_that_breaks_off_leaves_nothing(lab, tmp_path, monkeypatch):
    url = f"sqlite:{tmp_path / 'there.sqlite3'}"
    with monkeypatch.context() as patch:
        patch.setattr("labqueue.moving._set_sequences", lambda alias, last: None)
        patch.setattr("labqueue.moving.digest", lambda alias: alias)
        with pytest.raises(MoveFault, match="Nothing was moved"):
            move(url)
    assert move(url).digest == digest()


@pytest.mark.skipif(
    "postgresql" not in os.environ.get("DATABASE_URL", ""), reason="needs PostgreSQL (.ci/postgres)"
)
def test_the_demo_laboratory_goes_to_postgresql_and_back(transactional_db, tmp_path):
    ours = connection.settings_dict
    name = f"moved_{os.getpid()}"
    there = f"postgresql://{ours['USER']}@/{name}?host={quote(ours['HOST'])}"
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE DATABASE {name}")
    try:
        manage(tmp_path / "here", "", "demo", "--no-server")
        first = DIGEST.search(manage(tmp_path / "here", "", "move_lab", "--to", there))[1]
        assert "nothing altered" in manage(tmp_path / "there", there, "verify_record")
        assert " 0 differ" in manage(tmp_path / "there", there, "rejudge", "--dry-run")
        back = tmp_path / "back"
        back.mkdir()
        told = manage(tmp_path / "there", there, "move_lab", "--to", f"sqlite:{back / 'labqueue.sqlite3'}")
        assert DIGEST.search(told)[1] == first
        assert "nothing altered" in manage(back, "", "verify_record")
    finally:
        with connection.cursor() as cursor:
            cursor.execute(f"DROP DATABASE {name} WITH (FORCE)")


def manage(folder: Path, url: str, *arguments: str) -> str:
    folder.mkdir(exist_ok=True)
    environment = os.environ | {"LABQUEUE_VAR": str(folder), "DATABASE_URL": url}
    done = subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=400,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout
