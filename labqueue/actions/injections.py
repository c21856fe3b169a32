"""Injections back from a run: checked against it, entered, and the run ended with the last."""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext_lazy as _

from intake.actions.injecting import Shot, record_injections, shot_fault, void_injection
from intake.actions.steps import take_token
from intake.errors import EntryProblem, MoveNotAllowed
from intake.models import Injection, User
from intake.permissions import require
from intake.shown import show_list, show_moment
from labqueue.actions.running import claim_version, end_if_nothing_awaits
from labqueue.injectionlist import OURS, Entry, ListRead, RowFault
from labqueue.models import ColumnMatch, Place, Run, StagedInjections
from labqueue.states import RunState

#: How far injections may run behind the plan before a moment counts as outside the run (our choice).
DRIFT = timedelta(hours=2)
#: How long an uploaded list waits for a yes (our choice).
KEPT_FOR = timedelta(hours=2)


@dataclass(frozen=True, slots=True)
class Window:
    """The moments at which an injection of a run can have been."""

    first: datetime
    last: datetime


def window_of(run: Run) -> Window:
    """From the start of a run to the end of its last place, with room for drift."""
    last = run.places.aggregate(last=Max("planned_at"))["last"] or run.planned_start
    return Window(run.started_at or run.planned_start, last + timedelta(minutes=run.unit.inject_min) + DRIFT)


def check_entries(
    entries: Iterable[Entry], window: Window, at: datetime, zone: str
) -> tuple[list[Entry], list[RowFault]]:
    """Entries that can be taken, and what is wrong with the others.

    Their places come with bottle, its arrival and consignment.
    """
    entries = list(entries)
    good: list[Entry] = []
    faults: list[RowFault] = []
    rows: dict[int, list[Entry]] = {}
    for entry in entries:
        rows.setdefault(entry.place.pk, []).append(entry)
    for entry in entries:
        fault = _twice(entry, rows[entry.place.pk]) or _fault(entry, window, at, zone)
        if fault:
            faults.append(RowFault(entry.row, fault))
        else:
            good.append(entry)
    return good, faults


def _twice(entry: Entry, rows: Sequence[Entry]) -> str:
    """Two moments for one place: neither is taken. The same moment again: the first row is."""
    others = [row for row in rows if row is not entry]
    if any(row.at != entry.at for row in others):
        told = show_list(str(row.row) for row in others)
        return _(
            "Place %(position)s has another moment in row %(told)s. Leave the row in the list that is right."
        ) % {"position": entry.place.position, "told": told}
    if others and entry is not rows[0]:
        return _("Place %(position)s is there twice; row %(row)s says the same.") % {
            "position": entry.place.position,
            "row": rows[0].row,
        }
    return ""


def _fault(entry: Entry, window: Window, at: datetime, zone: str) -> str:
    place = entry.place
    if place.injected_at is not None:
        return _("The injection of place %(position)s is entered already.") % {"position": place.position}
    if place.reserved:
        return _(
            "Place %(position)s is reserved for a bottle that was not put on the tray. Scan it into "
            "its place first."
        ) % {"position": place.position}
    if not place.awaiting:
        return _("Place %(position)s failed or was given up; no injection of it is awaited.") % {
            "position": place.position
        }
    if not window.first <= entry.at <= window.last:
        return _("%(at)s lies outside this run, which goes from %(first)s to %(last)s at the latest.") % {
            "at": show_moment(entry.at, zone),
            "first": show_moment(window.first, zone),
            "last": show_moment(window.last, zone),
        }
    return shot_fault(Shot(place.bottle, entry.at), at)


@transaction.atomic
def enter_injections(
    run: Run, entries: Sequence[Entry], *, by: User, at: datetime, version: int, zone: str, token: str = ""
) -> bool:
    """Note the injections of a started run; whether it is over with them.

    All or none: an entry that cannot be refuses the whole list.
    """
    require(by, "bench.run")
    take_token(token, by=by, verb="run.inject", at=at)
    if run.state != RunState.RUNNING:
        raise MoveNotAllowed(
            _("Run %(run)s is %(state)s. Note its start first.")
            % {"run": run, "state": run.get_state_display()}
        )
    if not entries:
        raise EntryProblem(_("There is no injection to enter."))
    _good, faults = check_entries(entries, window_of(run), at, zone)
    if faults:
        raise EntryProblem(faults[0].sentence)
    claim_version(run, version)
    record_injections([_shot(run, entry) for entry in entries], by=by, at=at)
    for entry in entries:
        entry.place.injected_at, entry.place.awaiting = entry.at, False
    Place.objects.bulk_update([entry.place for entry in entries], ["injected_at", "awaiting"], batch_size=200)
    return end_if_nothing_awaits(run, by=by, at=at)


def _shot(run: Run, entry: Entry) -> Shot:
    place = entry.place
    return Shot(
        place.bottle,
        entry.at,
        f"run {run} on {run.unit}, place {place.position}",
        run=run.number,
        place=place.position,
        dilution=place.dilution,
        volume_factor=place.volume_factor,
    )


def awaiting_places(run: Run) -> list[Place]:
    """Places of a run that await their injection, read as ``check_entries`` wants them: one query."""
    return list(
        run.places.filter(awaiting=True)
        .select_related("bottle__arrival", "bottle__consignment", "bottle__sample")
        .order_by("position")
    )


def all_places(run: Run) -> list[Place]:
    """Every place, read as the matcher and ``check_entries`` want them: one query."""
    return list(run.places.select_related("bottle__arrival", "bottle__consignment").order_by("position"))


@transaction.atomic
def enter_as_planned(
    run: Run, *, by: User, at: datetime, version: int, zone: str, token: str = ""
) -> tuple[int, bool]:
    """All that was due by ``at`` went in as planned from the start: how many, and whether it is over."""
    entries = [
        Entry(place.position, place, place.planned_at)
        for place in awaiting_places(run)
        if place.planned_at <= at
    ]
    if not entries:
        raise EntryProblem(_("No injection of this run is due yet. Enter them once they have been made."))
    over = enter_injections(run, entries, by=by, at=at, version=version, zone=zone, token=token)
    return len(entries), over


@transaction.atomic
def void_place(place: Place, *, by: User, at: datetime, version: int, reason: str, token: str = "") -> None:
    """Take a wrong injection of a place back; its bottle goes to the queue and its clocks run on."""
    require(by, "bench.run")
    take_token(token, by=by, verb="run.void", at=at)
    found = Injection.objects.filter(
        bottle=place.bottle, at=place.injected_at, voided_at__isnull=True
    ).select_related("bottle__consignment")
    injection = found.first()
    if place.injected_at is None or injection is None:
        raise MoveNotAllowed(
            _("No injection of place %(position)s is entered.") % {"position": place.position}
        )
    claim_version(place.run, version)
    void_injection(injection, by=by, at=at, reason=reason)
    Place.objects.filter(pk=place.pk).update(injected_at=None, failed=True)


@transaction.atomic
def stage_injections(run: Run, read: ListRead, *, by: User, at: datetime, name: str = "") -> StagedInjections:
    """Keep the texts of an uploaded list until its columns are matched and a person says yes."""
    require(by, "bench.run")
    StagedInjections.objects.filter(staged_at__lt=at - KEPT_FOR).delete()
    StagedInjections.objects.filter(user=by, run=run).delete()
    return StagedInjections.objects.create(
        key=secrets.token_urlsafe(24),
        run=run,
        user=by,
        name=name[:200],
        headings=read.headings,
        rows=[[number, texts] for number, texts in read.rows],
        staged_at=at,
    )


@transaction.atomic
def remember_columns(
    name: str, matching: Mapping[str, str], zone: str, *, by: User, at: datetime
) -> ColumnMatch:
    """Remember a matching of columns by ``name``; the same name takes its place."""
    require(by, "bench.run")
    if not name.strip():
        raise EntryProblem(_("Give the matching a name."), {"name": _("Give it a name, such as the unit's.")})
    headings = {ours: theirs for ours, theirs in matching.items() if ours in OURS and theirs}
    found, _made = ColumnMatch.objects.update_or_create(
        name=name.strip()[:60],
        defaults={"headings": headings, "zone": zone, "made_by": by, "made_at": at},
    )
    return found


def remembered_for(headings: Sequence[str]) -> ColumnMatch | None:
    """The latest matching all of whose columns are among ``headings``."""
    for match in ColumnMatch.objects.order_by("-made_at", "-pk"):
        if match.headings and set(match.headings.values()) <= set(headings):
            return match
    return None
