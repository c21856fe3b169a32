"""Planning: proposed, looked at, changed by hand, accepted."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from intake import numbers
from intake.errors import Refused
from intake.permissions import require
from intake.views.answers import CANNOT_BE_TAKEN, new_token, posted_version, refusals_explained, status_of
from labqueue.actions import proposing
from labqueue.actions.accepting import accept_plan
from labqueue.drafting import clock_from, plan_of, stale_sentences
from labqueue.forms.plan import PlanForm, TargetForm
from labqueue.models import PlanDraft
from labqueue.planpage import SAVINGS_UNASKED, PlanPage
from labqueue.planwords import say_change, say_cost
from labqueue.priorities import reasons_for


def _draft(request: HttpRequest, key: str) -> PlanDraft:
    require(request.user, "bench.plan")
    found = PlanDraft.objects.select_related("made_by").filter(key=key).first()
    if found is None:
        raise Http404
    return found


@login_required
@require_http_methods(["GET", "POST"])
def plan(request: HttpRequest) -> HttpResponse:
    """Choose units and days; the plan is proposed on a page of its own."""
    require(request.user, "bench.plan")
    form = PlanForm(request.POST if request.method == "POST" else None)
    status = 200
    if request.method == "POST":
        status = CANNOT_BE_TAKEN
        if form.is_valid():
            given = form.cleaned_data
            try:
                draft = proposing.propose_plan(
                    list(given["units"]),
                    given["days"],
                    by=request.user,
                    at=request.at,
                    ready_from=form.wanted_from(),
                )
            except Refused as refusal:
                form.take(refusal)
            else:
                return redirect("labqueue:plan_draft", draft.key)
    context = {"form": form, "at": request.at, "zone": settings.TIME_ZONE}
    return render(request, "labqueue/plan.html", context, status=status)


@login_required
@require_safe
def plan_draft(request: HttpRequest, key: str) -> HttpResponse:
    """The proposed runs, what is lost and why, and whether the plan still holds."""
    draft = _draft(request, key)
    page = PlanPage(draft, plan_of(draft))
    asked = "savings" in request.GET or len(page.plan.problem.bottles) <= SAVINGS_UNASKED
    context = {
        "draft": draft,
        "runs": page.runs(),
        "summary": page.summary(),
        "proof": page.proof(),
        "losses": page.losses(),
        "announced": page.announced(),
        "waits": page.waits(),
        "savings": page.savings() if asked else None,
        "stale": [] if draft.accepted_at else stale_sentences(draft, page.plan, request.at),
        "token": new_token(),
        "zone": settings.TIME_ZONE,
        "at": request.at,
    }
    return render(request, "labqueue/plan_draft.html", context)


@login_required
@require_POST
@refusals_explained
def plan_step(request: HttpRequest, key: str) -> HttpResponse:
    """One place up or down, or the pin off: a button beside each bottle."""
    draft = _draft(request, key)
    common = {"by": request.user, "at": request.at, "version": posted_version(request)}
    number = next((request.POST[name] for name in ("up", "down", "free") if name in request.POST), "")
    if "free" in request.POST:
        proposing.let_go(draft, number, **common)
        messages.success(request, _("The bottle goes where it loses least."))
    else:
        step = -1 if "up" in request.POST else 1
        change = proposing.step_by_hand(draft, number, step, **common)
        _tell(request, draft, number, change)
    return redirect(f"{reverse('labqueue:plan_draft', args=[key])}#b-{number}")


def _tell(request: HttpRequest, draft: PlanDraft, number: str, change: proposing.Change) -> None:
    said = say_change(number, change, clock_from(draft.origin))
    (messages.warning if change.lost else messages.success)(request, said)


@login_required
@require_http_methods(["GET", "POST"])
@refusals_explained
def plan_bottle(request: HttpRequest, key: str, number: str) -> HttpResponse:
    """Why a bottle is where it is, and a form to put it elsewhere."""
    draft = _draft(request, key)
    number = numbers.tidy(number)
    page = PlanPage(draft, plan_of(draft))
    bottle = page.bottles.get(number)
    if bottle is None:
        raise Http404
    runs = [run for run in page.plan.runs if run.samples and _line(page, run.unit) == bottle.line]
    choices = [(f"{run.start} {run.unit}", f"{run.unit}, {page.clock(run.start)}") for run in runs]
    slot = page.plan.places.get(number)
    initial = {"version": draft.version}
    if slot is not None:
        initial |= {"run": f"{slot.start} {slot.unit}", "sample": slot.sample + 1}
    form = TargetForm(request.POST if request.method == "POST" else None, runs=choices, initial=initial)
    status, cost = 200, []
    if request.method == "POST":
        status = CANNOT_BE_TAKEN
        if form.is_valid():
            try:
                if "look" in request.POST:
                    change = proposing.cost_of_move(draft, number, form.target())
                    cost, status = say_cost(change, page.clock), 200
                else:
                    change = proposing.move_by_hand(
                        draft,
                        number,
                        form.target(),
                        by=request.user,
                        at=request.at,
                        version=form.read_version(),
                    )
                    _tell(request, draft, number, change)
                    return redirect(f"{reverse('labqueue:plan_draft', args=[key])}#b-{number}")
            except Refused as refusal:
                form.take(refusal)
                status = status_of(refusal)
    context = {
        "draft": draft,
        "bottle": bottle,
        "sentences": page.reader.sentences(number, page.clock),
        "form": form,
        "cost": cost,
        "priorities": reasons_for(bottle),
        "movable": bool(choices) and draft.accepted_at is None,
        "zone": settings.TIME_ZONE,
        "at": request.at,
    }
    return render(request, "labqueue/plan_bottle.html", context, status=status)


def _moved(request: HttpRequest, draft: PlanDraft, number: str, form: TargetForm) -> HttpResponse:
    version = form.read_version()
    change = proposing.move_by_hand(
        draft, number, form.target(), by=request.user, at=request.at, version=version
    )
    _tell(request, draft, number, change)
    return redirect(f"{reverse('labqueue:plan_draft', args=[draft.key])}#b-{number}")


@login_required
@require_safe
def plan_cost(request: HttpRequest, key: str, number: str) -> HttpResponse:
    """What putting a bottle on a place (``run``, ``sample`` from 0) would cost, as the page's script asks."""
    draft = _draft(request, key)
    form = TargetForm(request.GET, runs=[(request.GET.get("run", ""), "")])
    if draft.accepted_at or not form.is_valid():
        return JsonResponse({"sentences": [str(_("This place is not in the plan."))], "possible": False})
    try:
        change = proposing.cost_of_move(draft, numbers.tidy(number), form.target())
    except Refused as refusal:
        return JsonResponse({"sentences": [refusal.sentence], "possible": False})
    said = say_cost(change, clock_from(draft.origin))
    return JsonResponse({"sentences": said, "possible": True, "costs": bool(change.lost)})


def _line(page: PlanPage, unit_name: str) -> str:
    return next(unit.kind for unit in page.plan.problem.units if unit.id == unit_name)


@login_required
@require_POST
@refusals_explained
def plan_accept(request: HttpRequest, key: str) -> HttpResponse:
    draft = _draft(request, key)
    runs = accept_plan(
        draft,
        by=request.user,
        at=request.at,
        version=posted_version(request),
        token=request.POST.get("token", "")[:64],
    )
    said = ngettext("%(count)d run is planned.", "%(count)d runs are planned.", len(runs))
    messages.success(request, said % {"count": len(runs)})
    return redirect("labqueue:bench")
