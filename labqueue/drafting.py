"""A stored draft read as the plan that it is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from django.conf import settings
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from intake.models import Bottle
from intake.rules.moments import local
from intake.shown import show_weekday
from intake.states import BottleState
from labqueue.announced import still_to_come
from labqueue.hours import minute_at_or_before, moment_of
from labqueue.models import GivenPriority, Laboratory, Place, PlanDraft, Run, Unit
from labqueue.planning.plain import problem_from_data, with_runs
from labqueue.planning.plan import Plan, make_plan
from labqueue.planning.units import Pin
from labqueue.planning.units import Run as PlannedRun
from labqueue.states import RunState


def plan_of(draft: PlanDraft) -> Plan:
    """The plan of a draft: the same facts, runs and pins give the same places."""
    runs = tuple(PlannedRun(*run) for run in draft.runs)
    pins = tuple(Pin(*pin) for pin in draft.pins)
    plan = make_plan(with_runs(problem_from_data(draft.facts), runs, pins))
    return replace(plan, starts_proven=plan.proven and draft.starts_proven)


def as_chosen(draft: PlanDraft, plan: Plan) -> Plan:
    """``plan`` with its starts free to change again, but for those that hold pinned bottles."""
    problem = problem_from_data(draft.facts)
    held = {(run.unit, run.start): run for run in problem.runs}
    for pin in plan.problem.pins:
        held.setdefault((pin.unit, pin.start), PlannedRun(pin.unit, pin.start))
    return replace(plan, problem=replace(problem, runs=tuple(held.values()), pins=plan.problem.pins))


def say_clock(moment: datetime, zone: str = "") -> str:
    """``Fri 27 Nov 19:40 CET``: short, with the zone in letters."""
    there = local(moment, zone or settings.TIME_ZONE)
    letters = there.tzname() or ""
    if not letters.isalpha():
        letters = f"UTC{there:%z}"
    return f"{show_weekday(there)} {there:%H:%M} {letters}"


def clock_from(origin: datetime) -> Callable[[int], str]:
    """Writes minutes since ``origin`` as the laboratory's clock shows them."""
    return lambda minute: say_clock(moment_of(minute, origin))


def stale_sentences(draft: PlanDraft, plan: Plan, now: datetime) -> list[str]:
    """What has changed since ``draft`` was made, in sentences; empty while it still holds."""
    found = [*_passed(draft, plan, now), *_changed_equipment(draft), *_changed_bottles(draft, plan)]
    if GivenPriority.objects.filter(given_at__gt=draft.made_at).exists():
        found.append(_("Priorities have changed since this plan was made."))
    if Run.objects.filter(pk__in=draft.replaces).exclude(state=RunState.PLANNED).exists():
        found.append(_("A run that this plan plans anew has been started, ended or cancelled since."))
    return found


def _passed(draft: PlanDraft, plan: Plan, now: datetime) -> list[str]:
    minute = minute_at_or_before(now, draft.origin)
    clock = clock_from(draft.origin)
    found = [
        _("The run on %(unit)s was to start %(start)s, which has passed.")
        % {"unit": run.unit, "start": clock(run.start)}
        for run in plan.runs
        if run.start < minute and run.samples
    ]
    since = plan.problem.now or 0
    passed = sum(
        step.clocks
        for bottle in plan.problem.bottles
        for step in bottle.steps
        if since <= step.deadline < minute
    )
    if passed:
        run_out = ngettext(
            "%(count)s clock has run out since this plan was made.",
            "%(count)s clocks have run out since this plan was made.",
            passed,
        )
        found.append(run_out % {"count": passed})
    return found


def _changed_equipment(draft: PlanDraft) -> list[str]:
    versions = {
        str(pk): version
        for pk, version in Unit.objects.filter(pk__in=[key for key in draft.unit_versions if key != "lab"])
        .filter(retired_at__isnull=True)
        .values_list("pk", "version")
    }
    lab = Laboratory.objects.filter(pk=1).values_list("version", flat=True).first() or 0
    if {**versions, "lab": lab} != draft.unit_versions:
        return [_("Units or hours have changed since this plan was made.")]
    return []


def _changed_bottles(draft: PlanDraft, plan: Plan) -> list[str]:
    known = {bottle.id for bottle in plan.problem.bottles}
    lines = {unit.kind for unit in plan.problem.units}
    ready = set(
        Bottle.objects.filter(line__in=lines, state=BottleState.READY).values_list("number", flat=True)
    )
    ours = set(
        Bottle.objects.filter(places__run__in=draft.replaces, places__awaiting=True).values_list(
            "number", flat=True
        )
    )
    found = []
    to_come = set(draft.announced.get("bottles", ()))
    expected = set(still_to_come(lines).filter(number__in=to_come).values_list("number", flat=True))
    elsewhere = set(
        Place.objects.filter(reserved=True)
        .exclude(run__in=draft.replaces)
        .values_list("bottle__number", flat=True)
    )
    new, gone = len(ready - known - elsewhere), len(known - ready - ours - expected)
    if new:
        ready_now = ngettext(
            "%(count)s bottle has become ready since.", "%(count)s bottles have become ready since.", new
        )
        found.append(ready_now % {"count": new})
    if gone:
        not_ready = ngettext(
            "%(count)s bottle is not ready any more.", "%(count)s bottles are not ready any more.", gone
        )
        found.append(not_ready % {"count": gone})
    return found
