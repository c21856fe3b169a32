"""Accepting a plan: its runs are made and its bottles taken out of the queue, in one transaction."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime

from django.db import connection, transaction
from django.utils.translation import gettext_lazy as _

from intake import numbers, record
from intake.actions.numbering import free_number
from intake.actions.placing import place_bottles, take_back_bottles
from intake.actions.steps import claim, take_token
from intake.errors import EntryProblem, SomebodyWasFaster
from intake.models import Bottle, User
from intake.permissions import require
from intake.states import BottleState
from labqueue.actions.running import drop_planned
from labqueue.announced import still_to_come
from labqueue.drafting import plan_of
from labqueue.gathering import floor_minute
from labqueue.hours import moment_of
from labqueue.models import Place, PlanDraft, Run, Unit
from labqueue.planning.plan import Plan
from labqueue.planning.sequence import PlaceKind, run_sequence
from labqueue.planning.units import Run as PlannedRun
from labqueue.states import RunState
from labqueue.strengths import Handling, handling_of

KEPT_FREE = "kept free"

#: The bottles of one run by sample number.
Sitters = dict[int, Bottle]


@transaction.atomic
def accept_plan(draft: PlanDraft, *, by: User, at: datetime, version: int, token: str = "") -> list[Run]:
    """Make the runs of ``draft``, read at ``version``, and place its bottles; all or nothing.

    Planned runs that it replaces are cancelled. Refused where a bottle is no longer ready, a unit
    was taken or a start has passed meanwhile: whoever is slower is told what happened.
    """
    require(by, "bench.plan")
    take_token(token, by=by, verb="plan.accept", at=at)
    claim(
        PlanDraft.objects.filter(pk=draft.pk, version=version, accepted_at__isnull=True),
        _("This plan was changed or accepted after you opened it. Load the page anew to see how it stands."),
        accepted_at=at,
        version=version + 1,
    )
    _take_turn()
    plan = plan_of(draft)
    units = {unit.name: unit for unit in Unit.objects.filter(retired_at__isnull=True)}
    used = _used_runs(plan)
    if not used:
        raise EntryProblem(_("This plan has no run; there is nothing to accept."))
    _refuse_passed(draft, used, units, at)
    _take_back_replaced(draft, by=by, at=at)
    _refuse_taken_units(draft, used, units)
    bottles = _bottles(draft, plan)
    taken_units = {bottles[number].pk: units[slot.unit] for number, slot in plan.places.items()}
    handling = handling_of(bottles.values(), taken_units)
    sitters = _sitters(plan, bottles)
    pinned = {pin.bottle for pin in plan.problem.pins}
    runs = []
    for planned in used:
        run = _make_run(draft, planned, units[planned.unit], by=by, at=at)
        its_sitters = sitters[planned[:2]]
        here = [bottle for bottle in its_sitters.values() if _is_ready(bottle)]
        if here:
            place_bottles(here, by=by, at=at, label=f"run {run} on {run.unit}")
        Place.objects.bulk_create(_places(run, plan, planned, its_sitters, handling, pinned, draft))
        record.write(
            by=by,
            at=at,
            verb="run.plan",
            subject=f"run {run.number}",
            after={
                "unit": run.unit.name,
                "start": run.planned_start,
                "bottles": [bottle.number for _place, bottle in sorted(its_sitters.items())],
                **_said_reserved(its_sitters.values()),
            },
        )
        runs.append(run)
    return runs


def _take_turn() -> None:
    """Wait until nobody else is accepting a plan: the second then sees what the first has done.

    The units are locked before any consignment, which no other action does after one.
    """
    if connection.features.has_select_for_update:
        list(Unit.objects.order_by("pk").select_for_update(no_key=True).values_list("pk"))


def _said_reserved(bottles: Iterable[Bottle]) -> dict[str, list[str]]:
    reserved = [bottle.number for bottle in bottles if bottle.state == BottleState.EXPECTED]
    return {"reserved for bottles to come": sorted(reserved)} if reserved else {}


def _used_runs(plan: Plan) -> list[PlannedRun]:
    used = {slot[2:4] for slot in plan.places.values()}
    return sorted((run for run in plan.runs if run[:2] in used), key=lambda run: (run.start, run.unit))


def _refuse_passed(draft: PlanDraft, used: list[PlannedRun], units: Mapping[str, Unit], at: datetime) -> None:
    for run in used:
        unit = units.get(run.unit)
        if unit is None or draft.unit_versions.get(str(unit.pk)) != unit.version:
            raise SomebodyWasFaster(
                _("%(unit)s was changed or taken out since this was planned. Plan again.")
                % {"unit": run.unit}
            )
        # A minute's grace of whole minutes: a plan may start at once.
        if moment_of(run.start, draft.origin) < floor_minute(at):
            raise SomebodyWasFaster(
                _("The run on %(unit)s was to start already. Plan again.") % {"unit": run.unit}
            )


def _take_back_replaced(draft: PlanDraft, *, by: User, at: datetime) -> None:
    replaced = list(Run.objects.filter(pk__in=draft.replaces).select_related("unit"))
    for run in replaced:
        if run.state != RunState.PLANNED:
            raise SomebodyWasFaster(
                _(
                    "Run %(run)s on %(unit)s is %(state)s now; this plan would have planned it anew. Plan "
                    "again."
                )
                % {"run": run, "unit": run.unit, "state": run.get_state_display()}
            )
        drop_planned(run, by=by, at=at, reason="planned anew", take_back=take_back_bottles)


def _refuse_taken_units(draft: PlanDraft, used: list[PlannedRun], units: Mapping[str, Unit]) -> None:
    """Runs that stand on these units and that the plan did not know of were made meanwhile."""
    others = Run.objects.filter(
        unit__in=[units[run.unit] for run in used],
        created_at__gt=draft.made_at,
        state__in=(RunState.PLANNED, RunState.RUNNING),
    ).select_related("unit", "created_by")
    for run in others:
        raise SomebodyWasFaster(
            _("%(created_by)s planned run %(run)s on %(unit)s while you looked at this plan. Plan again.")
            % {"created_by": run.created_by, "run": run, "unit": run.unit}
        )


def _bottles(draft: PlanDraft, plan: Plan) -> dict[str, Bottle]:
    found = {
        bottle.number: bottle
        for bottle in Bottle.objects.filter(number__in=plan.places).select_related("consignment")
    }
    to_come = set(draft.announced.get("bottles", ()))
    lines = {unit.kind for unit in plan.problem.units}
    expected = set(still_to_come(lines).filter(number__in=to_come).values_list("number", flat=True))
    gone = [
        number
        for number in plan.places
        if number not in found or not (_is_ready(found[number]) or number in expected)
    ]
    if gone:
        raise SomebodyWasFaster(
            _("No longer ready: %(named)s. Plan again without them.") % {"named": _named(gone)}
        )
    held = Place.objects.filter(reserved=True, bottle__number__in=plan.places).select_related("run__unit")
    for place in held:
        raise SomebodyWasFaster(
            _(
                "Bottle %(bottle)s got a place on run %(run)s on %(unit)s while you looked at this plan. "
                "Plan again."
            )
            % {"bottle": place.bottle, "run": place.run, "unit": place.run.unit}
        )
    return found


def _named(gone: list[str]) -> str:
    named = ", ".join(numbers.grouped(number) for number in sorted(gone)[:5])
    return (
        _("%(named)s and %(gone)s more") % {"named": named, "gone": len(gone) - 5} if len(gone) > 5 else named
    )


def _is_ready(bottle: Bottle) -> bool:
    return bottle.state == BottleState.READY


def _sitters(plan: Plan, bottles: Mapping[str, Bottle]) -> dict[tuple[str, int], Sitters]:
    found: dict[tuple[str, int], Sitters] = defaultdict(dict)
    for number, slot in sorted(plan.places.items(), key=lambda item: item[1]):
        found[slot.unit, slot.start][slot.sample] = bottles[number]
    return found


def _make_run(draft: PlanDraft, planned: PlannedRun, unit: Unit, *, by: User, at: datetime) -> Run:
    return Run.objects.create(
        number=free_number(Run, numbers.RUN),
        unit=unit,
        planned_start=moment_of(planned.start, draft.origin),
        created_at=at,
        created_by=by,
    )


def _places(
    run: Run,
    plan: Plan,
    planned: PlannedRun,
    sitters: Sitters,
    handling: Mapping[int, Handling],
    pinned: set[str],
    draft: PlanDraft,
) -> list[Place]:
    unit = next(unit for unit in plan.problem.units if unit.id == planned.unit)
    places = []
    for step in run_sequence(unit, planned.start, max(sitters) + 1):
        bottle = None if step.sample is None else sitters.get(step.sample)
        place = Place(
            run=run,
            position=step.number,
            kind=step.kind.value,
            sample=step.sample,
            planned_at=moment_of(step.moment, draft.origin),
        )
        if bottle is None:
            if step.sample is not None:
                place.kind, place.remark = PlaceKind.BLANK.value, KEPT_FREE
        else:
            place.bottle = bottle
            its = handling.get(bottle.pk, Handling())
            place.dilution, place.volume_factor, place.remark = its.dilution, its.volume_factor, its.remark
            if step.kind is PlaceKind.SAMPLE:
                # Whoever is still to come keeps the place and is not placed: it is on no tray yet.
                place.awaiting = bottle.state == BottleState.PLACED
                place.reserved = not place.awaiting
                place.pinned = bottle.number in pinned
        places.append(place)
    return places
