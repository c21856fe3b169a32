"""No number is given out twice, however full the store of numbers is."""

from __future__ import annotations

from itertools import islice

import pytest

from intake import numbers
from intake.actions.numbering import free_number, free_numbers
from intake.actions.registering import enter_samples
from intake.models import Bottle
from tests.factories import ENTERED, draft, sample

pytestmark = pytest.mark.django_db


def test_numbers_that_are_taken_or_come_twice_are_drawn_again(submitter, group, rulebook, monkeypatch):
    draft(submitter, group, rulebook, sample("S1"))
    taken = list(Bottle.objects.values_list("number", flat=True))
    drawn = iter([*taken, "B1", "B1", "B2", "B3"])
    monkeypatch.setattr(numbers, "new_numbers", lambda kind, count: list(islice(drawn, count)))
    assert set(free_numbers(Bottle, numbers.BOTTLE, 3)) == {"B1", "B2", "B3"}
    more = iter([taken[0], "B4"])
    monkeypatch.setattr(numbers, "new_numbers", lambda kind, count: list(islice(more, count)))
    assert free_number(Bottle, numbers.BOTTLE) == "B4"


def test_a_sheet_whose_numbers_would_collide_is_entered(submitter, group, rulebook, monkeypatch):
    """At a million bottles a sheet of 10,000 meets some ten numbers that are taken."""
    consignment = draft(submitter, group, rulebook, sample("S1"))
    (first, second) = Bottle.objects.order_by("pk").values_list("number", flat=True)
    fresh = numbers.new_numbers
    drawn = iter([[first, second]])
    monkeypatch.setattr(numbers, "new_numbers", lambda kind, count: next(drawn, None) or fresh(kind, count))
    enter_samples(
        consignment, [sample("S1"), sample("S2")], by=submitter, at=ENTERED, version=consignment.version
    )
    assert Bottle.objects.count() == 4
