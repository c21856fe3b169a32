"""Bottles that somebody chose in the queue: to look at, print, take as a file, plan first, or put on hold."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, HttpResponseBase, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST, require_safe

from intake import numbers
from intake.errors import EntryProblem, Refused
from intake.models import Bottle
from intake.permissions import require
from intake.shown import show_moment
from intake.states import BottleState
from intake.views.answers import CANNOT_BE_TAKEN, new_token, refusals_explained, status_of
from labqueue.actions.choosing import hold_bottles, prioritise_bottles
from labqueue.choices import Priority
from labqueue.forms.priority import PriorityForm
from labqueue.forms.queue import HoldForm
from labqueue.queuepage import chosen_page, named_rows
from labqueue.tables import COLUMNS, Heading, table_of
from labqueue.views.queue import send_file

#: Most bottles chosen at once (our choice): an address has to hold their numbers.
MOST_CHOSEN = 200


def _numbers(given: QueryDict) -> list[str]:
    found = dict.fromkeys(numbers.tidy(text) for text in given.getlist("bottle"))
    return [number for number in found if numbers.is_number(number, numbers.BOTTLE)]


def _chosen(given: QueryDict) -> list[str]:
    found = _numbers(given)
    if len(found) > MOST_CHOSEN:
        raise EntryProblem(f"{len(found)} bottles are chosen; choose at most {MOST_CHOSEN} at a time.")
    return found


def _show(
    request: HttpRequest,
    chosen: list[str],
    hold: HoldForm | None = None,
    first: PriorityForm | None = None,
    status: int = 200,
) -> HttpResponse:
    now = request.at
    rows = named_rows(request.user, chosen, now)
    heads = [Heading(words, kind, "", "") for _sort, words, kind in COLUMNS]
    query = QueryDict(mutable=True)
    query.setlist("bottle", [row.number for row in rows])
    context = {
        "table": table_of(rows, now, chosen_page(rows, now), heads, selectable=False),
        "rows": rows,
        "query": query.urlencode(),
        "hold": hold or HoldForm(auto_id="hold_%s", initial={"token": new_token()}),
        "first": first
        or PriorityForm(auto_id="first_%s", initial={"token": new_token(), "level": Priority.FIRST}),
        "form": hold or first,
        "ready": bool(rows) and all(row.state == BottleState.READY for row in rows),
        "missing": len(chosen) - len(rows),
        "at": now,
        "zone": settings.TIME_ZONE,
        "shown_at": show_moment(now, settings.TIME_ZONE),
    }
    return render(request, "labqueue/queue_selected.html", context, status=status)


def _bottles(request: HttpRequest, chosen: list[str]) -> list[Bottle]:
    found = Bottle.objects.visible_to(request.user).filter(number__in=chosen)
    return list(found.select_related("consignment__rulebook", "sample", "arrival").order_by("pk"))


@login_required
@require_safe
@refusals_explained
def queue_selected(request: HttpRequest) -> HttpResponse:
    """The chosen bottles, and what can be done with all of them."""
    require(request.user, "queue.see")
    return _show(request, _chosen(request.GET))


@login_required
@require_safe
@refusals_explained
def queue_selected_file(request: HttpRequest, kind: str) -> HttpResponseBase:
    """The chosen bottles as CSV or workbook."""
    require(request.user, "queue.see")
    bottles = Bottle.objects.visible_to(request.user).filter(number__in=_chosen(request.GET))
    pks = list(bottles.in_expiry_order(request.at).values_list("pk", flat=True))
    return send_file(kind, pks, request.at)


@login_required
@require_POST
@refusals_explained
def queue_selected_hold(request: HttpRequest) -> HttpResponse:
    """Put the chosen bottles on hold, all or none."""
    require(request.user, "bench.plan")
    chosen = _chosen(request.POST)
    form = HoldForm(request.POST, auto_id="hold_%s")
    if not form.is_valid():
        return _show(request, chosen, hold=form, status=CANNOT_BE_TAKEN)
    bottles, given = _bottles(request, chosen), form.cleaned_data
    try:
        hold_bottles(bottles, by=request.user, at=request.at, reason=given["reason"], token=given["token"])
    except Refused as refusal:
        form.take(refusal)
        return _show(request, chosen, hold=form, status=status_of(refusal))
    said = ngettext("%(count)d bottle is on hold.", "%(count)d bottles are on hold.", len(bottles))
    messages.success(request, said % {"count": len(bottles)})
    return redirect("labqueue:queue")


@login_required
@require_POST
@refusals_explained
def queue_selected_first(request: HttpRequest) -> HttpResponse:
    """Give the chosen bottles a priority, all or none, and go on to planning."""
    require(request.user, "bench.plan")
    chosen = _chosen(request.POST)
    form = PriorityForm(request.POST, auto_id="first_%s")
    if not form.is_valid():
        return _show(request, chosen, first=form, status=CANNOT_BE_TAKEN)
    bottles, given = _bottles(request, chosen), form.cleaned_data
    try:
        prioritise_bottles(
            bottles,
            given["level"],
            by=request.user,
            at=request.at,
            reason=given["reason"],
            token=given["token"],
        )
    except Refused as refusal:
        form.take(refusal)
        return _show(request, chosen, first=form, status=status_of(refusal))
    said = ngettext(
        "The priority of %(count)d bottle is noted. Plan to reckon with it.",
        "The priority of %(count)d bottles is noted. Plan to reckon with it.",
        len(bottles),
    )
    messages.success(request, said % {"count": len(bottles)})
    return redirect("labqueue:plan")
