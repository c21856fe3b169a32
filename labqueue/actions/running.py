"""A run from its plan to its end: dropped, tray checked, started, failed, repeated, ended."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import F, Max, Q
from django.utils.translation import gettext_lazy as _

from intake import numbers, record
from intake.actions.placing import place_bottles, take_back_bottles, want_again
from intake.actions.steps import claim, take_token
from intake.errors import EntryProblem, MoveNotAllowed, SomebodyWasFaster
from intake.models import Bottle, User
from intake.permissions import require
from intake.states import BottleState
from labqueue.actions.reserving import (
    give_up_reserved,
    has_come,
    refuse_absent,
    reserved_places,
    take_reserved,
)
from labqueue.models import Place, Run
from labqueue.planning.sequence import PlaceKind
from labqueue.states import RUN_MOVES, RunState

#: A start is entered when it happens or soon after (our choice): later, the list of injections
#: tells better when it was.
LATEST_START = timedelta(hours=24)


def move_run(run: Run, new: str, version: int, **changes: object) -> None:
    """Move a run along one legal step, if nobody changed it since ``version``."""
    if new not in RUN_MOVES[run.state]:
        raise MoveNotAllowed(
            _("Run %(run)s is %(state)s; it cannot become %(new)s.")
            % {"run": run, "state": run.get_state_display(), "new": RunState(new).label}
        )
    claim(
        Run.objects.filter(pk=run.pk, state=run.state, version=version),
        _("Somebody changed run %(run)s after you opened it. Load the page anew to see how it stands.")
        % {"run": run},
        state=new,
        version=version + 1,
        **changes,
    )
    run.state, run.version = new, version + 1
    for name, value in changes.items():
        setattr(run, name, value)


def _awaiting(run: Run, **narrower: object) -> list[Bottle]:
    places = run.places.filter(awaiting=True, **narrower).select_related("bottle__consignment")
    return [place.bottle for place in places.order_by("position")]


def drop_planned(
    run: Run, *, by: User, at: datetime, reason: str, take_back: Callable[..., None] = take_back_bottles
) -> None:
    """Cancel a planned run inside the caller's transaction; its bottles go back to the queue."""
    bottles = _awaiting(run)
    move_run(run, RunState.CANCELLED, run.version, ended_at=at)
    run.places.filter(awaiting=True).update(awaiting=False)
    run.places.filter(reserved=True).update(reserved=False)
    if bottles:
        take_back(bottles, by=by, at=at, reason=f"run {run}: {reason}")
    record.write(by=by, at=at, verb="run.cancel", subject=f"run {run.number}", reason=reason)


@transaction.atomic
def cancel_run(run: Run, *, by: User, at: datetime, version: int, reason: str, token: str = "") -> Run:
    """Cancel a run that has not started; its bottles go back to the queue."""
    require(by, "bench.run")
    take_token(token, by=by, verb="run.cancel", at=at)
    if not reason.strip():
        raise EntryProblem(
            _("Say why the run is cancelled."), {"reason": _("Say why; it stays in the record.")}
        )
    if run.version != version:
        raise SomebodyWasFaster(
            _("Somebody changed run %(run)s after you opened it. Load the page anew.") % {"run": run}
        )
    drop_planned(run, by=by, at=at, reason=reason.strip())
    return run


@transaction.atomic
def check_tray(run: Run, position: int, scanned: str, *, by: User, at: datetime) -> Place:
    """Note that the bottle scanned stands on the tray where the run list has it.

    A bottle in the wrong place is refused with the place it belongs to.
    """
    require(by, "bench.run")
    number = numbers.tidy(scanned)
    if not numbers.is_number(number, numbers.BOTTLE):
        raise EntryProblem(
            _("This is not a bottle number, or it was misread. Scan the label once more."),
            {"scanned": _("Not a bottle number. Scan the label once more.")},
        )
    if run.state not in (RunState.PLANNED, RunState.RUNNING):
        raise MoveNotAllowed(
            _("Run %(run)s is %(state)s; its tray is not checked any more.")
            % {"run": run, "state": run.get_state_display()}
        )
    wanted_here = run.places.filter(Q(awaiting=True) | Q(reserved=True))
    places = {place.position: place for place in wanted_here.select_related("bottle__consignment")}
    belongs = next((place for place in places.values() if place.bottle.number == number), None)
    if belongs is None:
        raise EntryProblem(
            _("Bottle %(number)s is not on this run. Take it off the tray.")
            % {"number": numbers.grouped(number)}
        )
    if belongs.position != position:
        here = places.get(position)
        wanted = (
            _(" Place %(position)s wants %(bottle)s.") % {"position": position, "bottle": here.bottle}
            if here
            else ""
        )
        raise EntryProblem(
            _("Bottle %(number)s belongs on place %(belongs)s, not %(position)s.%(wanted)s")
            % {
                "number": numbers.grouped(number),
                "belongs": belongs.position,
                "position": position,
                "wanted": wanted,
            }
        )
    if belongs.reserved:
        refuse_absent(belongs)
        take_reserved(run, [belongs], by=by, at=at)
    run.places.filter(pk=belongs.pk).update(tray_checked_at=at)
    belongs.tray_checked_at = at
    return belongs


@transaction.atomic
def start_run(
    run: Run, *, by: User, at: datetime, started_at: datetime, version: int, token: str = ""
) -> Run:
    """Note that a run began at ``started_at``; its planned moments move with it.

    Bottles that have come take the places reserved for them; the places of those that have not are
    kept free, and these bottles are planned again when they come. On a tray that can be topped up
    they have until their injection.
    """
    require(by, "bench.run")
    take_token(token, by=by, verb="run.start", at=at)
    if not at - LATEST_START <= started_at <= at:
        sentence = _("A start lies at most 24 hours back and not in the future. Check date and time zone.")
        raise EntryProblem(sentence, {"started_at": sentence})
    if Run.objects.filter(unit=run.unit_id, state=RunState.RUNNING).exclude(pk=run.pk).exists():
        raise EntryProblem(
            _("Another run goes on on %(unit)s. End it first, or note at which place it failed.")
            % {"unit": run.unit}
        )
    reserved = reserved_places(run)
    come = [place for place in reserved if has_come(place)]
    absent = [place for place in reserved if not has_come(place)]
    if not come and not run.places.filter(awaiting=True).exists():
        raise EntryProblem(_("None of its bottles is here, so there is nothing to inject. Cancel the run."))
    shift = started_at - run.planned_start
    move_run(run, RunState.RUNNING, version, started_at=started_at)
    run.places.update(planned_at=F("planned_at") + shift)
    take_reserved(run, come, by=by, at=at)
    if not run.unit.topup:
        give_up_reserved(run, absent, by=by, at=at)
    record.write(
        by=by,
        at=at,
        verb="run.start",
        subject=f"run {run.number}",
        before={"planned start": run.planned_start},
        after={"started": started_at},
    )
    return run


@transaction.atomic
def fail_run(
    run: Run, position: int, *, by: User, at: datetime, version: int, reason: str, token: str = ""
) -> list[Bottle]:
    """Note that a running run failed at place ``position``: that bottle and the rest go back.

    What was injected before may still be entered; it stays on the run, which is not over until
    nothing awaits any more.
    """
    require(by, "bench.run")
    take_token(token, by=by, verb="run.fail", at=at)
    if run.state != RunState.RUNNING:
        raise MoveNotAllowed(
            _("Run %(run)s is %(state)s; only a running run can fail.")
            % {"run": run, "state": run.get_state_display()}
        )
    if not reason.strip():
        raise EntryProblem(_("Say what failed."), {"reason": _("Say what failed; it stays in the record.")})
    last = run.places.aggregate(last=Max("position"))["last"] or 0
    if not 1 <= position <= last:
        sentence = _("The run has places 1 to %(last)s.") % {"last": last}
        raise EntryProblem(sentence, {"position": sentence})
    bottles = _awaiting(run, position__gte=position)
    rest = run.places.filter(position__gte=position)
    if rest.filter(injected_at__isnull=False).exists():
        sentence = _("Injections from this place on are entered already. Take them back first.")
        raise EntryProblem(sentence, {"position": sentence})
    open_before = run.places.filter(awaiting=True, position__lt=position).exists()
    if open_before:
        claim_version(run, version)
    else:
        move_run(run, RunState.DONE, version, ended_at=at)
    give_up_reserved(run, reserved_places(run), by=by, at=at)
    rest.update(failed=True, awaiting=False)
    if bottles:
        take_back_bottles(bottles, by=by, at=at, reason=f"run {run} failed: {reason.strip()}")
    record.write(
        by=by,
        at=at,
        verb="run.fail",
        subject=f"run {run.number}",
        after={"from place": position, "back in the queue": [bottle.number for bottle in bottles]},
        reason=reason.strip(),
    )
    return bottles


def claim_version(run: Run, version: int) -> None:
    """Raise the version of a run that stays in its state."""
    claim(
        Run.objects.filter(pk=run.pk, state=run.state, version=version),
        _("Somebody changed run %(run)s after you opened it. Load the page anew to see how it stands.")
        % {"run": run},
        version=version + 1,
    )
    run.version = version + 1


@transaction.atomic
def repeat_bottle(
    place: Place, *, by: User, at: datetime, dilution: float, version: int, token: str = ""
) -> Place:
    """Give an injected bottle a further place at the end of its running run, diluted differently."""
    require(by, "bench.run")
    take_token(token, by=by, verb="run.repeat", at=at)
    run, bottle = place.run, place.bottle
    if run.state != RunState.RUNNING:
        raise MoveNotAllowed(
            _("Run %(run)s is %(state)s; put the bottle back into the queue.")
            % {"run": run, "state": run.get_state_display()}
        )
    _require_injected(place)
    if dilution < 1:
        raise EntryProblem(_("A dilution is 1 or more."), {"dilution": _("Give 1 or more: 5 for 1 to 5.")})
    claim_version(run, version)
    take_back_bottles([bottle], by=by, at=at, reason=f"run {run}: repeat at 1:{dilution:g}")
    place_bottles([bottle], by=by, at=at, label=f"run {run} on {run.unit}")
    last = run.places.order_by("-position").first()
    further = Place.objects.create(
        run=run,
        position=last.position + 1,
        kind=PlaceKind.SAMPLE.value,
        sample=(run.places.aggregate(last=Max("sample"))["last"] or 0) + 1,
        bottle=bottle,
        planned_at=last.planned_at + timedelta(minutes=run.unit.inject_min),
        dilution=dilution,
        volume_factor=place.volume_factor,
        remark=f"repeat of place {place.position}",
        awaiting=True,
    )
    record.write(
        by=by,
        at=at,
        verb="run.repeat",
        subject=f"run {run.number}",
        after={"bottle": bottle.number, "place": further.position, "dilution": dilution},
    )
    return further


@transaction.atomic
def repeat_later(place: Place, *, by: User, at: datetime, dilution: float, token: str = "") -> Bottle:
    """Put an injected bottle back into the queue, to go on a next run at another dilution."""
    require(by, "bench.run")
    take_token(token, by=by, verb="run.repeat", at=at)
    _require_injected(place)
    if place.bottle.state != BottleState.MEASURED:
        raise MoveNotAllowed(
            _("Bottle %(bottle)s is %(state)s already.")
            % {"bottle": place.bottle, "state": place.bottle.get_state_display()}
        )
    reason = f"run {place.run}, place {place.position}: to be repeated at 1:{dilution:g}"
    want_again(place.bottle, dilution=dilution, by=by, at=at, reason=reason)
    return place.bottle


def _require_injected(place: Place) -> None:
    if place.bottle is None or place.injected_at is None:
        raise MoveNotAllowed(_("Only a bottle that was injected can be repeated."))


def end_if_nothing_awaits(run: Run, *, by: User, at: datetime) -> bool:
    """End a running run once no place of it awaits its injection, inside the caller's transaction."""
    if run.state != RunState.RUNNING or run.places.filter(awaiting=True).exists():
        return False
    give_up_reserved(run, reserved_places(run), by=by, at=at)
    move_run(run, RunState.DONE, run.version, ended_at=at)
    record.write(by=by, at=at, verb="run.end", subject=f"run {run.number}")
    return True
