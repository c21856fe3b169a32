"""The demo laboratory with a few more things in it, and walkers through it."""

from __future__ import annotations

from collections.abc import Callable
from io import StringIO

import pytest
from django.core.cache import cache
from django.core.management import call_command
from django.test import Client
from django.utils import timezone

from intake.actions import closing, rulebooks, stowing
from intake.models import Consignment, RulebookVersion, User
from intake.sealing import digest_of
from intake.states import BottleState
from intake.stating import statement_content
from labqueue.actions.proposing import propose_plan
from labqueue.models import Unit


@pytest.fixture
def laboratory(db: None) -> None:
    """The demo laboratory, with a statement, a plan to accept, a rulebook being made and a place."""
    cache.clear()
    call_command("load_demo", stdout=StringIO())
    at, manager = timezone.now(), User.objects.get(email="manager@demo.example")
    propose_plan(list(Unit.objects.filter(line="anion")), 4, by=manager, at=at)
    rulebooks.start_version(RulebookVersion.objects.first(), by=manager, at=at)
    stowing.make_place(by=manager, at=at, name="Fridge 2", kind="fridge")
    measured = Consignment.objects.filter(samples__bottles__state=BottleState.MEASURED).distinct().first()
    seen = digest_of(statement_content(measured))
    closing.issue_statement(measured, by=manager, at=at, seen=seen, early=True)


@pytest.fixture
def walker(laboratory: None) -> Callable[[str], Client]:
    """``walker(address)`` is a client signed in as that person of the demo."""

    def of(email: str) -> Client:
        client = Client(raise_request_exception=False)
        client.force_login(User.objects.get(email=email))
        return client

    return of
