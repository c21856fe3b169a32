"""Days of analysis: asked for by a group, answered by the manager, with the room of each day in sight."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from intake.daycounts import bottle_counts, say_bottles, told_unlike
from intake.errors import AlreadyDone, Refused, SomebodyWasFaster
from intake.forms.once import OnceForm
from intake.models import Consignment, DateRequest
from intake.permissions import can, require
from intake.rules.facts import Line
from intake.standing import next_clock_of
from intake.states import ConsignmentState, DateState
from intake.views.answers import (
    CANNOT_BE_TAKEN,
    add_refusal,
    consignment_or_404,
    new_token,
    posted,
    refusals_explained,
    status_of,
    token_with_content,
)
from labqueue.actions import dating
from labqueue.capacity import rooms
from labqueue.daywords import STATES, overfull, room_square
from labqueue.forms.dates import AcceptForm, AskForm, NoteForm, PolicyForm, ProposeForm

#: How many days of room are shown.
SHOWN_DAYS = 28
OPEN_SHOWN = 200


@dataclass(frozen=True, slots=True)
class Act:
    """One thing that can be done to a date: its form, the action, whether it needs a standing one."""

    form: type[OnceForm]
    do: Callable[..., DateRequest]
    done: object


ACTS = {
    "ask": Act(AskForm, dating.ask_for_date, gettext_lazy("Asked for.")),
    "accept": Act(AcceptForm, dating.accept_date, gettext_lazy("Accepted: the day is agreed.")),
    "agree": Act(NoteForm, dating.agree_date, gettext_lazy("Confirmed; the group is told by mail.")),
    "propose": Act(ProposeForm, dating.propose_date, gettext_lazy("Proposed; the group is told by mail.")),
    "decline": Act(NoteForm, dating.decline_date, gettext_lazy("Declined; the other side is told by mail.")),
}


def _initial(
    consignment: Consignment, standing: DateRequest | None, request: HttpRequest
) -> dict[str, object]:
    day = request.GET.get("day") or (standing.day if standing else consignment.requested_on)
    initial: dict[str, object] = {"token": new_token(), "version": standing.version if standing else None}
    counted = bottle_counts(consignment)
    counts = (counted["anion"], counted["cation"])
    if standing is not None and not any(counts):
        counts = (standing.anion_bottles, standing.cation_bottles)
    return initial | {"day": day, "anion_bottles": counts[0], "cation_bottles": counts[1]}


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
@refusals_explained
def consignment_date(request: HttpRequest, number: str) -> HttpResponse:
    """The day of one consignment: how it stands, the room of the next weeks, what each side can do."""
    consignment = consignment_or_404(request, number)
    standing = DateRequest.objects.filter(consignment=consignment).select_related("changed_by").first()
    initial = _initial(consignment, standing, request)
    asked = request.POST.get("act", "") if request.method == "POST" else ""
    forms = {
        name: act.form(
            posted(request) if name == asked else None, initial=initial, prefix=None, auto_id=f"{name}_%s"
        )
        for name, act in ACTS.items()
    }
    status = 200
    if asked in ACTS:
        answer = _done(request, consignment, asked, forms[asked])
        if isinstance(answer, HttpResponse):
            return answer
        status = answer
    context = _page(request, consignment, standing, forms, initial)
    context["form"] = forms.get(asked)
    return render(request, "labqueue/date.html", context, status=status)


def _done(request: HttpRequest, consignment: Consignment, name: str, form: OnceForm) -> HttpResponse | int:
    """Do what was asked for; the way on, or the status of the page that shows what is wrong."""
    if not form.is_valid():
        return CANNOT_BE_TAKEN
    given = {
        key: value for key, value in form.cleaned_data.items() if key not in ("token", "version", "seen")
    }
    try:
        changed = ACTS[name].do(
            consignment,
            by=request.user,
            at=request.at,
            version=form.cleaned_data["version"] if name == "ask" else form.read_version(),
            token=token_with_content(form.cleaned_data["token"], form.content()),
            **given,
        )
    except AlreadyDone:
        messages.info(request, _("This was already done; sending it again changed nothing."))
    except Refused as problem:
        if isinstance(problem, SomebodyWasFaster):
            standing = DateRequest.objects.filter(consignment=consignment).first()
            form.reread(token=new_token(), version=standing.version if standing else "")
        add_refusal(form, problem)
        return status_of(problem)
    else:
        agreed = name == "ask" and changed.state == DateState.AGREED
        messages.success(request, _("There is room: the day is agreed.") if agreed else str(ACTS[name].done))
    return redirect("labqueue:date", consignment.number)


def _first_shown(day: object, today: date) -> date:
    """Monday of this week, or a week before a wanted day that lies further off."""
    try:
        wanted = day if isinstance(day, date) else date.fromisoformat(str(day))
    except ValueError:
        wanted = today
    late = wanted > today + timedelta(days=SHOWN_DAYS - 8) and wanted < today + timedelta(days=800)
    first = wanted - timedelta(days=7) if late else today
    return first - timedelta(days=first.weekday())


def _page(
    request: HttpRequest,
    consignment: Consignment,
    standing: DateRequest | None,
    forms: dict[str, OnceForm],
    initial: dict[str, object],
) -> dict[str, object]:
    today = dating.today(request.at)
    wanted = {Line.ANION: initial["anion_bottles"], Line.CATION: initial["cation_bottles"]}
    shown = rooms(_first_shown(initial["day"], today), SHOWN_DAYS, without=standing)
    chosen = next((room.day for room in shown if room.day.isoformat() == str(initial["day"])), None)
    chosen_room = next((room for room in shown if room.day == chosen), None)
    open_ = consignment.state != ConsignmentState.WITHDRAWN
    state = standing.state if standing else ""
    may_ask = open_ and can(request.user, "date.ask", consignment)
    may_answer = open_ and can(request.user, "date.answer")
    offered = {
        "ask": may_ask,
        "accept": may_ask and state == DateState.PROPOSED,
        "agree": may_answer and state == DateState.ASKED,
        "propose": may_answer and state in (DateState.ASKED, DateState.AGREED, DateState.PROPOSED),
        "decline": may_ask and state in (DateState.ASKED, DateState.PROPOSED, DateState.AGREED),
    }
    return {
        "at": request.at,
        "consignment": consignment,
        "standing": standing,
        "sign": STATES.get(state),
        "bottles": say_bottles(standing.anion_bottles, standing.cation_bottles) if standing else "",
        "days": [room_square(room, wanted, chosen) for room in shown if room.day >= today],
        "unlike": told_unlike(consignment),
        "next_clock": next_clock_of(consignment, request.at),
        "warning": overfull(chosen_room, wanted) if chosen_room and state != DateState.AGREED else "",
        "confirms_itself": dating.policy().confirms_itself,
        "forms": {name: form for name, form in forms.items() if offered[name]},
        "may_answer": may_answer,
        "open": open_,
    }


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
@refusals_explained
def dates(request: HttpRequest) -> HttpResponse:
    """For managers: who waits for an answer, how full the days are, whether days confirm themselves."""
    require(request.user, "date.answer")
    form = PolicyForm(
        posted(request),
        initial={"token": new_token(), "confirms_itself": dating.policy().confirms_itself},
    )
    if form.is_valid():
        try:
            dating.set_policy(
                by=request.user,
                at=request.at,
                confirms_itself=form.cleaned_data["confirms_itself"],
                token=token_with_content(form.cleaned_data["token"], form.content()),
            )
        except AlreadyDone:
            messages.info(request, _("This was already done; sending it again changed nothing."))
        else:
            messages.success(request, _("Saved."))
        return redirect("labqueue:dates")
    today = dating.today(request.at)
    shown = rooms(today - timedelta(days=today.weekday()), SHOWN_DAYS)
    waiting = (
        DateRequest.objects.open().select_related("consignment__group").order_by("day", "pk")[:OPEN_SHOWN]
    )
    by_day = {room.day: room for room in shown}
    context = {
        "at": request.at,
        "form": form,
        "days": [room_square(room, {}, None) for room in shown if room.day >= today],
        "waiting": [_waiting(one, by_day) for one in waiting],
    }
    return render(request, "labqueue/dates.html", context)


def _waiting(asked: DateRequest, by_day: dict[date, object]) -> dict[str, object]:
    wanted = {Line.ANION: asked.anion_bottles, Line.CATION: asked.cation_bottles}
    room = by_day.get(asked.day)
    return {
        "request": asked,
        "bottles": say_bottles(asked.anion_bottles, asked.cation_bottles),
        "warning": overfull(room, wanted) if room is not None else "",
    }
