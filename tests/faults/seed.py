"""Fills the empty laboratory named by the environment: people, a box of bottles, a draft, units.

Run as ``python -m tests.faults.seed BOTTLES``; prints what the tests need to know, as JSON.
"""

# ruff: noqa: E402 - Django must be set up before its models are imported.

from __future__ import annotations

import json
import os
import sys
from datetime import timedelta

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labqueue.settings")

import django

django.setup()

from django.core.management import call_command
from django.utils import timezone

from intake.actions.checking import check_bottle
from intake.choices import Role
from intake.models import Bottle, Group, Membership, RulebookVersion, User
from labqueue.actions.equipping import make_usual_units
from tests import factories
from tests.bench.bench import SEEN
from tests.conftest import PASSWORD
from tests.factories import anion_bottle, draft, opened, sample, sent


def person(email: str, role: str) -> User:
    return User.objects.create_user(email, PASSWORD, name=email.partition("@")[0], role=role)


def main(bottles: int) -> dict[str, object]:
    call_command("migrate", verbosity=0, interactive=False)
    call_command("load_rulebooks", stdout=sys.stderr)
    at = timezone.now()
    group = Group.objects.create(name="Reedmoor hydrology", zone="Europe/Berlin")
    submitter = person("sami@lab.example", Role.SUBMITTER)
    Membership.objects.create(user=submitter, group=group)
    reception, _ = person("rolf@lab.example", Role.RECEPTION), person("rita@lab.example", Role.RECEPTION)
    person("mara@lab.example", Role.MANAGER)
    person("max@lab.example", Role.MANAGER)
    book = RulebookVersion.objects.get(code="house", offered=True)
    # The same samples as in other tests, taken this morning: their clocks run while the tests do.
    factories.COLLECTED = at - timedelta(hours=8)
    factories.ENTERED = at - timedelta(hours=6)
    factories.RECEIVED = at - timedelta(hours=2)
    # Bottles for anions: the desk asks nothing about them, so that one scan is one check.
    entries = [sample(f"S{count}", bottles=(anion_bottle(),)) for count in range(bottles)]
    box = sent(submitter, group, book, *entries)
    arrival = opened(reception, box)
    first = sent(submitter, group, book, *(sample(f"R{count}") for count in range(10)))
    there = opened(reception, first)
    for bottle in first.bottles.all():
        check_bottle(bottle, there, by=reception, at=at, seen=SEEN, in_order=True)
    make_usual_units(by=User.objects.system(), at=at)
    return {
        "arrival": arrival.number,
        "bottles": list(Bottle.objects.filter(consignment=box).values_list("number", flat=True)),
        "draft": draft(submitter, group, book, sample("S1")).number,
    }


if __name__ == "__main__":
    print(json.dumps(main(int(sys.argv[1]))))
