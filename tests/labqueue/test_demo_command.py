"""`manage.py demo`: a clear sentence when the port is taken, and what it prints."""

from __future__ import annotations

import io
import socket

import pytest
from django.core.management import CommandError, call_command

from intake.models import Consignment, RulebookVersion, User
from labqueue.management.commands.demo import HOST, Command


@pytest.fixture
def taken_port():
    with socket.socket() as taken:
        taken.bind((HOST, 0))
        taken.listen()
        yield taken.getsockname()[1]


def test_a_taken_port_is_named_with_one_that_is_free(db, taken_port):
    with pytest.raises(
        CommandError, match=rf"Port {taken_port} .* is taken .* make demo PORT=(\d+)"
    ) as refusal:
        call_command("demo", port=str(taken_port))
    assert f"PORT={taken_port}" not in str(refusal.value)


@pytest.mark.parametrize("port", ["", "eighty", "80", "70000", "-1", "8000.5", "٨٠٠٠"])
def test_a_port_that_is_none_is_explained(db, port):
    with pytest.raises(CommandError, match="whole number from 1024 to 65535"):
        call_command("demo", port=port)


def test_a_blank_laboratory_has_one_manager_and_the_rulebooks(db):
    for _ in range(2):
        call_command("demo", port="0", empty=True, no_server=True, stdout=io.StringIO())
    assert list(User.objects.exclude(role="system").values_list("email", "role")) == [
        ("manager@demo.example", "manager")
    ]
    assert RulebookVersion.objects.filter(default=True).count() == 1
    assert not Consignment.objects.exists()


def test_the_demo_does_not_run_in_production(db, settings):
    settings.PRODUCTION = True
    with pytest.raises(CommandError, match="does not run in production"):
        call_command("demo")


def test_links_in_mails_lead_to_the_port_it_serves_on(db, settings, monkeypatch):
    monkeypatch.delenv("LABQUEUE_ADDRESS", raising=False)
    settings.SITE_ADDRESS = "http://127.0.0.1:8000"
    served = []
    monkeypatch.setattr(Command, "serve", lambda command, port: served.append(port))
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        port = probe.getsockname()[1]
    said = io.StringIO()
    call_command("demo", port=str(port), empty=True, stdout=said)
    assert served == [port]
    assert f"http://{HOST}:{port}" == settings.SITE_ADDRESS
    assert "mails become files in" in said.getvalue()
