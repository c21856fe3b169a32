"""Recording injections, which stop clocks, and taking a wrong one back, which lets them run on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake import record
from intake.actions.judging import judge_bottles
from intake.actions.moving import move_bottles
from intake.actions.placing import by_consignment, said
from intake.actions.steps import claim, take_token
from intake.errors import EntryProblem, MoveNotAllowed
from intake.models import Bottle, Injection, User
from intake.permissions import require
from intake.shown import show_moment
from intake.states import BottleState

BATCH = 500


@dataclass(frozen=True, slots=True)
class Shot:
    """One bottle, the moment its injection began, the run and place in words, and how it was handled."""

    bottle: Bottle
    at: datetime
    label: str = ""
    run: str = ""
    place: int | None = None
    dilution: float | None = None
    volume_factor: float | None = None


def shot_fault(shot: Shot, at: datetime) -> str:
    """What is wrong with a stated injection at ``at``, in a sentence; empty if nothing is."""
    bottle, arrival = shot.bottle, shot.bottle.arrival
    if bottle.state != BottleState.PLACED:
        return _("Bottle %(bottle)s is %(state)s, so no injection is due. Leave it out.") % {
            "bottle": bottle,
            "state": bottle.get_state_display(),
        }
    if shot.at > at:
        return _("Bottle %(bottle)s: %(at)s has not come yet. Check date and time zone.") % {
            "bottle": bottle,
            "at": show_moment(shot.at, "UTC"),
        }
    if arrival is not None and shot.at < arrival.received_at:
        return _(
            "Bottle %(bottle)s: %(at)s lies before the bottle was received, %(received_at)s. Check "
            "date and time zone."
        ) % {
            "bottle": bottle,
            "at": show_moment(shot.at, "UTC"),
            "received_at": show_moment(arrival.received_at, "UTC"),
        }
    return ""


def _refuse_faults(shots: Sequence[Shot], at: datetime) -> None:
    seen: set[int] = set()
    for shot in shots:
        fault = shot_fault(shot, at)
        if not fault and shot.bottle.pk in seen:
            fault = _("Bottle %(bottle)s is there twice. Keep the line that is right.") % {
                "bottle": shot.bottle
            }
        if fault:
            raise EntryProblem(fault)
        seen.add(shot.bottle.pk)


@transaction.atomic
def record_injections(shots: Iterable[Shot], *, by: User, at: datetime, token: str = "") -> list[Injection]:
    """Note that placed bottles were injected; their clocks stop at that moment. All or none.

    The bottles come with ``arrival``, ``consignment`` read. Judged anew in a fixed number of
    queries for each 500 samples; the record has one entry a consignment.
    """
    require(by, "bench.run")
    take_token(token, by=by, verb="bottle.inject", at=at)
    shots = list(shots)
    _refuse_faults(shots, at)
    rows = Injection.objects.bulk_create(
        [
            Injection(
                bottle=shot.bottle,
                at=shot.at,
                label=shot.label[:120],
                run=shot.run,
                place=shot.place,
                dilution=shot.dilution,
                volume_factor=shot.volume_factor,
                entered_at=at,
                entered_by=by,
            )
            for shot in shots
        ],
        batch_size=BATCH,
    )
    bottles = [shot.bottle for shot in shots]
    move_bottles(bottles, BottleState.MEASURED)
    Bottle.objects.filter(pk__in=[bottle.pk for bottle in bottles], next_dilution__isnull=False).update(
        next_dilution=None
    )
    judge_bottles(bottles, at=at)
    told = {shot.bottle.pk: [shot.at, shot.label] for shot in shots}
    for consignment, theirs in by_consignment(bottles):
        record.write(
            by=by,
            at=at,
            verb="bottle.inject",
            subject=said(theirs),
            consignment=consignment,
            before={"state": BottleState.PLACED.value},
            after={
                "state": BottleState.MEASURED.value,
                "injections": {bottle.number: told[bottle.pk] for bottle in theirs},
            },
        )
    return rows


def record_injection(
    bottle: Bottle, *, by: User, at: datetime, injected_at: datetime, label: str = "", token: str = ""
) -> Injection:
    """Note that one placed bottle was injected."""
    (row,) = record_injections([Shot(bottle, injected_at, label)], by=by, at=at, token=token)
    return row


@transaction.atomic
def void_injection(injection: Injection, *, by: User, at: datetime, reason: str, token: str = "") -> Bottle:
    """Take a wrong injection back: the clocks run on as if it had not been.

    The row is kept as voided. A bottle without any other injection goes back into the queue.
    """
    require(by, "bench.run")
    take_token(token, by=by, verb="injection.void", at=at)
    if not reason.strip():
        raise EntryProblem(
            _("Say why the injection is taken back."), {"reason": _("Say why; it stays in the record.")}
        )
    if injection.voided_at is not None:
        raise MoveNotAllowed(_("This injection was taken back before."))
    bottle = injection.bottle
    claim(
        Injection.objects.filter(pk=injection.pk, voided_at__isnull=True),
        _("Somebody else took this injection back a moment ago."),
        voided_at=at,
        voided_by=by,
        void_reason=reason.strip(),
    )
    before = bottle.state
    others = bottle.injections.filter(voided_at__isnull=True).exists()
    if bottle.state == BottleState.MEASURED and not others:
        move_bottles([bottle], BottleState.READY)
    judge_bottles([bottle], at=at)
    record.write(
        by=by,
        at=at,
        verb="injection.void",
        subject=f"bottle {bottle.number}",
        consignment=bottle.consignment,
        before={"state": before, "injected": injection.at, "label": injection.label},
        after={"state": bottle.state},
        reason=reason.strip(),
    )
    return bottle
