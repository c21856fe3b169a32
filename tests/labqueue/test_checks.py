"""Unsafe production settings are refused, each with a sentence that says what to do."""

from __future__ import annotations

import pytest
from django.db import connection

from labqueue import checks
from tests.labqueue.production import manage


def test_sound_production_settings_pass_without_a_warning(tmp_path):
    result = manage(tmp_path, "check", "--deploy", "--fail-level", "WARNING")
    assert result.returncode == 0, result.stderr


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"LABQUEUE_SECRET_KEY": ""}, "LABQUEUE_SECRET_KEY is empty"),
        ({"LABQUEUE_SECRET_KEY": "short"}, "LABQUEUE_SECRET_KEY can be guessed"),
        ({"LABQUEUE_SECRET_KEY": "ab" * 40}, "LABQUEUE_SECRET_KEY can be guessed"),
        ({"LABQUEUE_HOSTS": ""}, "LABQUEUE_HOSTS does not name this server"),
        ({"LABQUEUE_HOSTS": "*"}, "LABQUEUE_HOSTS does not name this server"),
        ({"LABQUEUE_HOSTS": ".example"}, "LABQUEUE_HOSTS does not name this server"),
        ({"LABQUEUE_MAIL_HOST": ""}, "Nobody would get a mail"),
        ({"LABQUEUE_MAIL_FROM": ""}, "Nobody would get a mail"),
        ({"LABQUEUE_BEHIND_PROXY": ""}, "how HTTPS reaches this server"),
        ({"LABQUEUE_DEBUG": "yes"}, "LABQUEUE_DEBUG shows code and data"),
        ({"LABQUEUE_PRODUCTION": "perhaps"}, "LABQUEUE_PRODUCTION must be yes or no"),
        ({"LABQUEUE_THREADS": "many"}, "LABQUEUE_THREADS must be a whole number"),
        ({"LABQUEUE_PROCESSES": "2"}, "LABQUEUE_PROCESSES must be 1 with SQLite"),
        ({"LABQUEUE_PROCESSES": "0"}, "LABQUEUE_PROCESSES must be 1 with SQLite"),
        ({"LABQUEUE_PRODUCTION": ""}, "These are the settings for trying out"),
    ],
)
def test_serve_refuses_unsafe_settings(tmp_path, changes, said):
    result = manage(tmp_path, "serve", **changes)
    assert result.returncode != 0
    assert said in result.stderr
    assert "Traceback" not in result.stderr
    assert not (tmp_path / "var" / "labqueue.sqlite3").exists() or "Applying" not in result.stdout


def test_gunicorn_started_by_hand_refuses_them_too(tmp_path):
    result = manage(tmp_path, "shell", "-c", "import labqueue.wsgi", LABQUEUE_MAIL_HOST="")
    assert result.returncode != 0
    assert "Nobody would get a mail" in result.stderr


def test_a_certificate_does_instead_of_a_proxy(tmp_path):
    files = {"LABQUEUE_CERTIFICATE": "/etc/lab.crt", "LABQUEUE_CERTIFICATE_KEY": "/etc/lab.key"}
    result = manage(
        tmp_path, "check", "--deploy", "--fail-level", "WARNING", LABQUEUE_BEHIND_PROXY="", **files
    )
    assert result.returncode == 0, result.stderr


SAFE = {"journal_mode": "delete", "synchronous": 2, "foreign_keys": 1}


@pytest.mark.parametrize(
    ("changes", "version", "numbers"),
    [
        ({}, (3, 40, 1), set()),
        ({"journal_mode": "wal"}, (3, 51, 2), {"labqueue.E010"}),
        ({"journal_mode": "wal"}, (3, 51, 3), set()),
        ({"journal_mode": "memory"}, (3, 51, 3), {"labqueue.E011"}),
        ({"journal_mode": "off"}, (3, 51, 3), {"labqueue.E011"}),
        ({"synchronous": 1}, (3, 51, 3), {"labqueue.E012"}),
        ({"synchronous": 0}, (3, 51, 3), {"labqueue.E012"}),
        ({"synchronous": 3}, (3, 51, 3), set()),
        ({"foreign_keys": 0}, (3, 51, 3), {"labqueue.E013"}),
    ],
)
def test_an_sqlite_that_could_lose_something_is_refused(changes, version, numbers):
    assert {fault.id for fault in checks.journal_faults(SAFE | changes, version)} == numbers


@pytest.mark.parametrize(
    ("options", "numbers"),
    [
        ({"timeout": 5, "transaction_mode": "IMMEDIATE"}, set()),
        ({"timeout": 4, "transaction_mode": "IMMEDIATE"}, {"labqueue.E014"}),
        ({"timeout": 5, "transaction_mode": "DEFERRED"}, {"labqueue.E015"}),
        ({}, {"labqueue.E014", "labqueue.E015"}),
    ],
)
def test_writers_that_do_not_wait_for_each_other_are_refused(options, numbers):
    assert {fault.id for fault in checks.waiting_faults(options)} == numbers


@pytest.mark.skipif(connection.vendor != "sqlite", reason="The tests run on another database.")
def test_the_check_reads_the_options_of_the_connection_itself(db):
    """The tests' own database has durability off, and the check says so."""
    assert {fault.id for fault in checks.sqlite_loses_nothing(None, databases=["default"])} == {
        "labqueue.E012"
    }


def test_the_laboratorys_own_sqlite_options_are_sound(tmp_path):
    result = manage(tmp_path, "check", "--database", "default", "--fail-level", "WARNING")
    assert result.returncode == 0, result.stderr


MOUNTS = """\
/dev/vda1 / ext4 rw 0 0
server:/home /home nfs4 rw 0 0
/dev/vdb1 /home/lab ext4 rw 0 0
//files/lab /mnt/lab\\040files cifs rw 0 0
"""


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/var/lib/labqueue.sqlite3", "ext4"),
        ("/home/mara/labqueue.sqlite3", "nfs4"),
        ("/home/lab/labqueue.sqlite3", "ext4"),
        ("/home/laboratory/labqueue.sqlite3", "nfs4"),
        ("/mnt/lab files/labqueue.sqlite3", "cifs"),
    ],
)
def test_the_file_system_of_a_path_is_that_of_the_nearest_mount(path, kind):
    assert checks.file_system_of(path, MOUNTS) == kind


def test_a_database_on_another_machines_disk_is_refused():
    assert [fault.id for fault in checks.disk_faults("/home/mara/lab.sqlite3", MOUNTS)] == ["labqueue.E016"]
    assert not list(checks.disk_faults("/home/lab/lab.sqlite3", MOUNTS))
