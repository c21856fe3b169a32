"""`manage.py make_manager`: the first account of a laboratory."""

from __future__ import annotations

import io

import pytest
from django.core.management import CommandError, call_command

from intake.models import RecordEntry, User

PASSWORD = "rain gauge on the roof"


def make(monkeypatch, email="Mara@Lab.example", password=PASSWORD):
    monkeypatch.setattr("builtins.input", lambda *prompt: password)
    call_command("make_manager", email, name="Mara", password_stdin=True, stdout=io.StringIO())


def test_the_manager_can_sign_in_and_stands_in_the_record(db, monkeypatch, client):
    make(monkeypatch)
    user = User.objects.get(email="mara@lab.example")
    assert user.is_manager
    assert client.login(email=user.email, password=PASSWORD)
    assert RecordEntry.objects.get(verb="person.admit").after["role"] == "manager"


@pytest.mark.parametrize(
    ("email", "password", "said"),
    [
        ("mara", PASSWORD, "not a mail address"),
        ("mara@lab.example", "short", "too short"),
        ("mara@lab.example", "mara@lab.example", "too similar"),
    ],
)
def test_what_cannot_be_is_explained_and_nothing_is_made(db, monkeypatch, email, password, said):
    with pytest.raises(CommandError, match=said):
        make(monkeypatch, email, password)
    assert not User.objects.filter(role="manager").exists()


def test_an_account_is_not_made_twice(db, monkeypatch):
    make(monkeypatch)
    with pytest.raises(CommandError, match="already"):
        make(monkeypatch)
