"""Entering results: all of a file or nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from intake import record
from intake.actions.placing import by_consignment, said, take_back_bottles
from intake.actions.steps import take_token
from intake.models import AdviceRow, Bottle, Injection, Result, User
from intake.permissions import require
from intake.rules.dilution import dilution_step
from intake.rules.values import Stated
from intake.rules.words import say_number
from intake.states import BottleState

BATCH = 500


@dataclass(frozen=True, slots=True)
class Value:
    """One value to enter. ``acid_factor`` and ``injection`` were looked up from the bottle."""

    bottle: Bottle
    injection: Injection
    stated: Stated
    below: bool = False
    top: float | None = None
    remark: str = ""


def injections_of(bottles: Sequence[Bottle]) -> dict[int, Injection]:
    """The last injection that counts of each of ``bottles``."""
    rows = Injection.objects.filter(bottle__in=bottles, voided_at__isnull=True).order_by("at", "pk")
    return {row.bottle_id: row for row in rows}


def acid_factors(bottles: Sequence[Bottle]) -> dict[int, float]:
    """By how much acid enlarged each of ``bottles``; those without acid are left out."""
    rows = AdviceRow.objects.filter(bottle__in=bottles, code="acid.volume_factor")
    return {row.bottle_id: row.figures["volume_factor"] for row in rows}


@transaction.atomic
def enter_results(
    values: Sequence[Value], *, by: User, at: datetime, file_name: str, requeue: bool = False, token: str = ""
) -> list[Result]:
    """Enter ``values``; one of an injection and ion entered before is withdrawn and kept.

    With ``requeue`` bottles with a value above the calibrated range go back into the queue, with
    the next dilution as the reason. The record has one entry a consignment.
    """
    require(by, "results.enter")
    take_token(token, by=by, verb="results.enter", at=at)
    replaced = Result.objects.filter(
        injection__in={value.injection.pk for value in values}, withdrawn_at__isnull=True
    )
    wanted = {(value.injection.pk, value.stated.ion) for value in values}
    old = [row.pk for row in replaced if (row.injection_id, row.ion) in wanted]
    for start in range(0, len(old), BATCH):
        Result.objects.filter(pk__in=old[start : start + BATCH]).update(withdrawn_at=at)
    rows = Result.objects.bulk_create(
        [_row(value, by=by, at=at, file_name=file_name) for value in values], batch_size=BATCH
    )
    bottles = {value.bottle.pk: value.bottle for value in values}
    counts: dict[int, int] = {}
    for row in rows:
        counts[row.bottle_id] = counts.get(row.bottle_id, 0) + 1
    for consignment, theirs in by_consignment(bottles.values()):
        record.write(
            by=by,
            at=at,
            verb="results.enter",
            subject=said(theirs),
            consignment=consignment,
            after={
                "results": sum(counts[bottle.pk] for bottle in theirs),
                "file": file_name[:200],
                "values": _said_values(rows, theirs),
            },
        )
    if requeue:
        _requeue(values, by=by, at=at)
    return rows


def _row(value: Value, *, by: User, at: datetime, file_name: str) -> Result:
    stated = value.stated
    return Result(
        bottle=value.bottle,
        injection=value.injection,
        ion=stated.ion,
        value_mg_l=stated.in_sample_mg_l(),
        below=value.below,
        stated_value=stated.value,
        unit=stated.unit,
        as_element=stated.as_element,
        dilution=stated.dilution,
        dilution_applied=stated.dilution_applied,
        acid_factor=stated.acid_factor,
        acid_applied=stated.acid_applied,
        above_range=stated.above(value.top),
        remark=value.remark,
        file_name=file_name[:200],
        entered_at=at,
        entered_by=by,
    )


def _said_values(rows: Sequence[Result], bottles: Sequence[Bottle]) -> Mapping[str, str]:
    """The values themselves, by bottle, as the record keeps them."""
    told: dict[int, list[str]] = {bottle.pk: [] for bottle in bottles}
    for row in rows:
        if row.bottle_id in told:
            less = "<" if row.below else ""
            told[row.bottle_id].append(f"{row.ion} {less}{say_number(row.value_mg_l)} mg/L")
    return {bottle.number: ", ".join(told[bottle.pk]) for bottle in bottles}


def _requeue(values: Sequence[Value], *, by: User, at: datetime) -> None:
    needs: dict[int, float] = {}
    bottles = {value.bottle.pk: value.bottle for value in values}
    for value in values:
        stated = value.stated
        if value.top and stated.above(value.top):
            total = stated.value if stated.dilution_applied else stated.value * stated.dilution
            needs[value.bottle.pk] = max(needs.get(value.bottle.pk, 1.0), total / value.top)
    for pk, need in needs.items():
        if bottles[pk].state == BottleState.MEASURED:
            step = dilution_step(need) or need
            reason = f"above the calibrated range; next dilution 1:{say_number(step)}"
            take_back_bottles([bottles[pk]], by=by, at=at, reason=reason)
