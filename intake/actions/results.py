"""Entering results: all of a file or nothing. A value that stood before gives way, with a reason."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext_lazy as _

from intake import record
from intake.actions.placing import by_consignment, said, take_back_bottles
from intake.actions.steps import take_token, take_turn
from intake.actions.storing import in_parts
from intake.errors import EntryProblem, SomebodyWasFaster
from intake.models import AdviceRow, Bottle, Injection, Result, User
from intake.permissions import require
from intake.rules.dilution import dilution_for
from intake.rules.values import Stated
from intake.rules.words import say_number
from intake.states import BottleState

BATCH = 500


@dataclass(frozen=True, slots=True)
class Value:
    """One value to enter, with the injection it was measured in."""

    bottle: Bottle
    injection: Injection
    stated: Stated
    below: bool = False
    top: float | None = None
    remark: str = ""


def acid_factors(bottles: Sequence[Bottle]) -> dict[int, float]:
    """By how much acid enlarged each of ``bottles``; those without acid are left out."""
    rows = AdviceRow.objects.filter(bottle__in=bottles, code="acid.volume_factor")
    return {row.bottle_id: row.figures["volume_factor"] for row in rows}


def dilutions_wanted(bottles: Iterable[int]) -> dict[int, float]:
    """By how much bottles have to be diluted whose values lie above the calibrated range.

    By key; read off the values that stand. Bottles with no such value are left out.
    """
    rows = Result.objects.filter(bottle__in=bottles, above_range=True, withdrawn_at__isnull=True)
    wanted: dict[int, float] = {}
    for row in rows:
        need = _stated_of(row).dilution_wanted(row.range_top)
        if need is not None:
            wanted[row.bottle_id] = max(need, wanted.get(row.bottle_id, 1.0))
    return wanted


def _stated_of(row: Result) -> Stated:
    return Stated(
        row.ion,
        row.stated_value,
        row.unit,
        row.as_element,
        row.dilution,
        row.dilution_applied,
        row.acid_factor,
        row.acid_applied,
    )


@dataclass(frozen=True, slots=True)
class Entered:
    """What came of a file: rows made, how many of them took the place of others, values known already."""

    rows: list[Result]
    corrected: int
    known: int


@transaction.atomic
def enter_results(
    values: Sequence[Value],
    *,
    by: User,
    at: datetime,
    file_name: str,
    reason: str = "",
    requeue: bool = False,
    token: str = "",
) -> Entered:
    """Enter ``values``. What stands already word for word is left alone.

    Another value of the same injection and ion corrects the one that stands: it needs a ``reason``, and
    the old one is withdrawn and kept. With ``requeue`` bottles with a value above the calibrated range
    go back into the queue; ``dilutions_wanted`` tells from then on how they are to be diluted. The
    record has one entry a consignment, with the values that gave way in it.
    """
    require(by, "results.enter")
    take_token(token, by=by, verb="results.enter", at=at)
    take_turn(value.bottle.consignment_id for value in values)
    standing = _standing(values)
    fresh, former = [], []
    for value in values:
        old = standing.get((value.injection.pk, value.stated.ion))
        if old is not None and _says(old, value):
            continue
        fresh.append(value)
        former += [old] if old is not None else []
    reason = reason.strip() if former else ""
    if former and not reason:
        count = "1 value" if len(former) == 1 else f"{len(former)} values"
        raise EntryProblem(
            _("%(count)s of this file would take the place of another that was entered before. Say why.")
            % {"count": count},
            {
                "reason": _("Say why %(count)s changed; it stays in the record beside the old and the new.")
                % {"count": count}
            },
        )
    rows = _write(fresh, former, by=by, at=at, file_name=file_name)
    _record(rows, former, by=by, at=at, file_name=file_name, reason=reason)
    if requeue:
        _requeue(fresh, by=by, at=at)
    return Entered(rows, len(former), len(values) - len(fresh))


def _standing(values: Sequence[Value]) -> dict[tuple[int, str], Result]:
    """The results that stand for the injections of ``values``, by injection and ion."""
    keys = sorted({value.injection.pk for value in values})
    found: dict[tuple[int, str], Result] = {}
    for part in in_parts(keys):
        rows = Result.objects.filter(injection__in=part, withdrawn_at__isnull=True)
        found |= {(row.injection_id, row.ion): row for row in rows.select_related("bottle__consignment")}
    return found


def _says(row: Result, value: Value) -> bool:
    """Whether ``row`` says what ``value`` says."""
    there = (_stated_of(row), row.below, row.range_top, row.remark)
    return there == (value.stated, value.below, value.top, value.remark)


def _write(
    fresh: Sequence[Value], former: Sequence[Result], *, by: User, at: datetime, file_name: str
) -> list[Result]:
    old = [row.pk for row in former]
    for part in in_parts(old):
        Result.objects.filter(pk__in=part).update(withdrawn_at=at)
    try:
        with transaction.atomic():
            return Result.objects.bulk_create(
                [_row(value, by=by, at=at, file_name=file_name) for value in fresh], batch_size=BATCH
            )
    except IntegrityError:
        raise SomebodyWasFaster(
            _("Somebody else entered one of these values a moment ago. Upload the file again.")
        ) from None


def _record(
    rows: Sequence[Result], former: Sequence[Result], *, by: User, at: datetime, file_name: str, reason: str
) -> None:
    bottles = {row.bottle_id: row.bottle for row in rows}
    counts = Counter(row.bottle_id for row in rows)
    for consignment, theirs in by_consignment(bottles.values()):
        corrected = _said_values(former, theirs)
        record.write(
            by=by,
            at=at,
            verb="results.enter",
            subject=said(theirs),
            consignment=consignment,
            before={"values": corrected} if corrected else {},
            after={
                "results": sum(counts[bottle.pk] for bottle in theirs),
                "file": file_name[:200],
                "values": _said_values(rows, theirs),
            },
            reason=reason if corrected else "",
        )


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
        range_top=value.top,
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
    return {bottle.number: ", ".join(told[bottle.pk]) for bottle in bottles if told[bottle.pk]}


def _requeue(values: Sequence[Value], *, by: User, at: datetime) -> None:
    """Put measured bottles with a value above the range back, with the next dilution as the reason."""
    above = [value.bottle for value in values if value.stated.above(value.top)]
    bottles = {bottle.pk: bottle for bottle in above if bottle.state == BottleState.MEASURED}
    for pk, need in dilutions_wanted(bottles).items():
        step = say_number(dilution_for(need).total)
        take_back_bottles(
            [bottles[pk]], by=by, at=at, reason=f"above the calibrated range; next dilution 1:{step}"
        )
