"""Giving out numbers that no other thing has or had."""

from __future__ import annotations

from collections.abc import Iterable

from django.db import models

from intake import numbers
from intake.actions.storing import in_parts
from intake.models import SpentNumber


def free_numbers(model: type[models.Model], kind: str, count: int) -> list[str]:
    """``count`` fresh numbers of ``kind`` that no row of ``model`` has or had.

    Of about 950 million possible numbers chance alone would soon meet one that is taken: at a
    million bottles, one in a thousand draws does. The database's unique constraint guards the
    moment between this look and the insertion.
    """
    found: dict[str, None] = {}
    while len(found) < count:
        drawn = list(set(numbers.new_numbers(kind, count - len(found))) - found.keys())
        taken: set[str] = set()
        for part in in_parts(drawn):
            for rows in (model._default_manager, SpentNumber.objects):
                taken.update(rows.filter(number__in=part).values_list("number", flat=True))
        found.update(dict.fromkeys(number for number in drawn if number not in taken))
    return list(found)


def free_number(model: type[models.Model], kind: str) -> str:
    """One fresh number of ``kind`` that no row of ``model`` has."""
    (number,) = free_numbers(model, kind, 1)
    return number


def spend_numbers(numbers_gone: Iterable[str]) -> None:
    """Note numbers whose rows are about to go: a label with one may be stuck on a bottle somewhere."""
    SpentNumber.objects.bulk_create(
        [SpentNumber(number=number) for number in numbers_gone], ignore_conflicts=True
    )
