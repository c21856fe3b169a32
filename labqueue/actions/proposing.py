"""Proposing a plan and changing it by hand, before anything is moved at the bench."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake.actions.steps import claim
from intake.errors import EntryProblem
from intake.models import Bottle, User
from intake.permissions import require
from labqueue.actions.equipping import laboratory
from labqueue.drafting import plan_of
from labqueue.gathering import Gathered, floor_minute, gather
from labqueue.models import PlanDraft, Unit
from labqueue.planning.plain import problem_to_data
from labqueue.planning.plan import Plan, make_plan
from labqueue.planning.units import PlanningError, Slot, Step
from labqueue.planning.whatif import preview_move

#: How long a plan nobody accepted is kept (our choice): it is only a proposal.
KEPT_FOR = timedelta(days=2)
MOST_DAYS = 14


@transaction.atomic
def propose_plan(
    units: Sequence[Unit], days: int, *, by: User, at: datetime, ready_from: time | None = None
) -> PlanDraft:
    """Plan all ready bottles onto ``units`` within ``days`` days; nothing is moved yet.

    With ``ready_from`` bottles that are still to come get places too, from that time of their day on.
    """
    require(by, "bench.plan")
    if not units:
        raise EntryProblem(_("Choose at least one unit."), {"units": _("Choose at least one unit.")})
    if not 1 <= days <= MOST_DAYS:
        sentence = _("Plan for 1 to %(most)s days.") % {"most": MOST_DAYS}
        raise EntryProblem(sentence, {"days": sentence})
    lab = laboratory()
    gathered = gather(units, lab, at, days, ready_from)
    plan = _planned(lambda: make_plan(gathered.problem))
    given = {run[:2]: run for run in gathered.problem.runs}
    PlanDraft.objects.filter(made_at__lt=at - KEPT_FOR).delete()
    return PlanDraft.objects.create(
        key=secrets.token_urlsafe(12),
        made_by=by,
        made_at=at,
        origin=floor_minute(at),
        facts=problem_to_data(gathered.problem),
        runs=[list(given.get(run[:2], (*run[:2], None))) for run in plan.runs],
        pins=[list(pin) for pin in gathered.problem.pins],
        starts_proven=plan.starts_proven,
        replaces=list(gathered.replaces),
        announced={} if ready_from is None else _announced(gathered),
        unit_versions={**{str(unit.pk): unit.version for unit in units}, "lab": lab.version},
    )


def _announced(gathered: Gathered) -> dict[str, object]:
    to_come = gathered.announced
    numbers = Bottle.objects.filter(pk__in=list(to_come.comes)).order_by("number")
    return {
        "bottles": list(numbers.values_list("number", flat=True)),
        "undated": to_come.undated,
        "overdue": to_come.overdue,
    }


def _planned(make: object) -> Plan:
    try:
        return make()
    except PlanningError as problem:
        raise EntryProblem(str(problem)) from problem


@dataclass(frozen=True, slots=True)
class Change:
    """What a move by hand costs and saves: bottle numbers with the due moments concerned."""

    lost: tuple[tuple[str, Step], ...]
    gained: tuple[tuple[str, Step], ...]


@transaction.atomic
def move_by_hand(
    draft: PlanDraft, number: str, target: tuple[str, int, int], *, by: User, at: datetime, version: int
) -> Change:
    """Put bottle ``number`` on ``target`` (unit, start, sample) and pin it there.

    All bottles that are not pinned are planned anew around it, so that nothing more is lost than
    the pin costs. A bottle that was pinned there is free again.
    """
    require(by, "bench.plan")
    before = plan_of(draft)
    return _change_pins(draft, before, _pins_with(draft, before, number, target), version)


def cost_of_move(draft: PlanDraft, number: str, target: tuple[str, int, int]) -> Change:
    """What ``move_by_hand`` would cost and save; nothing is changed."""
    before = plan_of(draft)
    return _difference(before, _plan_with(draft, _pins_with(draft, before, number, target)))


Pins = list[list[object]]


def _pins_with(draft: PlanDraft, before: Plan, number: str, target: tuple[str, int, int]) -> Pins:
    slot = _slot(before, target)
    try:
        preview_move(before, number, slot)
    except PlanningError as problem:
        raise EntryProblem(str(problem)) from problem
    pins = [pin for pin in draft.pins if pin[0] != number and tuple(pin[1:]) != target]
    return [*pins, [number, *target]]


def _plan_with(draft: PlanDraft, pins: Pins) -> Plan:
    """The plan of ``draft`` with other ``pins``; the draft in the database stays as it is."""
    kept, draft.pins = draft.pins, pins
    try:
        return _planned(lambda: plan_of(draft))
    finally:
        draft.pins = kept


@transaction.atomic
def step_by_hand(draft: PlanDraft, number: str, step: int, *, by: User, at: datetime, version: int) -> Change:
    """Move a bottle by ``step`` places within its run (-1: one place earlier)."""
    require(by, "bench.plan")
    plan = plan_of(draft)
    slot = plan.places.get(number)
    if slot is None:
        raise EntryProblem(_("Bottle %(number)s has no place in this plan.") % {"number": number})
    last = max(other.sample for other in plan.places.values() if other[2:4] == slot[2:4])
    if not 0 <= slot.sample + step <= last:
        where = "first" if step < 0 else "last"
        raise EntryProblem(
            _("Bottle %(number)s is the %(where)s of its run already.") % {"number": number, "where": where}
        )
    target = (slot.unit, slot.start, slot.sample + step)
    return move_by_hand(draft, number, target, by=by, at=at, version=version)


@transaction.atomic
def let_go(draft: PlanDraft, number: str, *, by: User, at: datetime, version: int) -> Change:
    """Take the pin off a bottle; it goes where it loses least."""
    require(by, "bench.plan")
    pins = [pin for pin in draft.pins if pin[0] != number]
    if len(pins) == len(draft.pins):
        raise EntryProblem(_("Bottle %(number)s is not pinned.") % {"number": number})
    return _change_pins(draft, plan_of(draft), pins, version)


def _slot(plan: Plan, target: tuple[str, int, int]) -> Slot:
    unit_name, start, sample = target
    run = next((run for run in plan.runs if run[:2] == (unit_name, start)), None)
    if run is None or not 0 <= sample < (run.samples or 0):
        raise EntryProblem(_("This place is not in the plan. Choose one of the listed places."))
    unit = next(unit for unit in plan.problem.units if unit.id == unit_name)
    moment = unit.sample_moment(start, sample)
    return Slot(unit.load_moment(start, moment), moment, unit_name, start, sample)


def _change_pins(draft: PlanDraft, before: Plan, pins: Pins, version: int) -> Change:
    claim(
        PlanDraft.objects.filter(pk=draft.pk, version=version, accepted_at__isnull=True),
        _("This plan was changed or accepted after you opened it. Load the page anew to see how it stands."),
        pins=pins,
        version=version + 1,
    )
    draft.pins, draft.version = pins, version + 1
    return _difference(before, _planned(lambda: plan_of(draft)))


def _difference(before: Plan, after: Plan) -> Change:
    old = {(missed.bottle, missed.step) for missed in before.missed}
    new = {(missed.bottle, missed.step) for missed in after.missed}
    return Change(tuple(sorted(new - old)), tuple(sorted(old - new)))
