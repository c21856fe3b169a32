"""The page of one bottle: declared beside seen, clocks, and what is to happen to it."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from intake.actions.checking import check_bottle, suggestion_for, undo_check
from intake.actions.deciding import DECIDABLE, agree_with_rules, decide_bottle, give_up_ion, restore_ion
from intake.alike import reasons_of
from intake.forms.checking import BenchCheckForm, DecideForm, IonForm
from intake.forms.once import OnceForm
from intake.hazards import caution, hazards_at_the_desk
from intake.models import Arrival, BenchCheck, Bottle, RecordEntry
from intake.permissions import can
from intake.rules.ions import BY_NAME
from intake.telling import Told, tell
from intake.views.answers import CANNOT_BE_TAKEN, new_token, refusals_explained
from intake.views.bench import LAB_ZONE, bottle_or_404, for_reception, took_effect
from intake.views.comparing import compared
from intake.views.deskwork import RECHECKABLE

#: How many entries of the record, and former checks, stand on the page.
LATEST = 50


def _arrivals(request: HttpRequest, one: Bottle):
    """Arrivals on the bench in which the bottle can have come."""
    visible = Arrival.objects.visible_to(request.user).on_the_bench()
    return visible.filter(parts__consignment=one.consignment_id)


def _check_form(request: HttpRequest, one: Bottle, data: object = None) -> BenchCheckForm:
    return BenchCheckForm(
        data,
        arrivals=_arrivals(request, one),
        acid_allowed=one.line == "cation",
        initial={"token": new_token()},
        prefix="check",
    )


def _decide_form(data: object = None) -> DecideForm:
    return DecideForm(data, initial={"token": new_token()}, prefix="decide")


def _give_up_form(one: Bottle, data: object = None) -> IonForm:
    left = [ion for ion in one.ions if ion not in one.dropped]
    return IonForm(data, ions=left, reason=True, initial={"token": new_token()}, prefix="give-up")


def _restore_form(one: Bottle, data: object = None) -> IonForm:
    return IonForm(
        data, ions=list(one.dropped), reason=False, initial={"token": new_token()}, prefix="restore"
    )


@require_GET
@login_required
@refusals_explained
def bottle(request: HttpRequest, number: str) -> HttpResponse:
    """One bottle: what was declared and seen, its clocks and findings; acts for reception."""
    return _page(request, bottle_or_404(request, number))


def _page(request: HttpRequest, one: Bottle, **bound: BaseForm) -> HttpResponse:
    """The page, with the forms that were sent and refused in place of fresh ones."""
    acting = can(request.user, "bottle.decide", one)
    check = one.checks.filter(undone_at__isnull=True).select_related("checked_by", "arrival").first()
    decidable = acting and one.state in DECIDABLE
    zone = LAB_ZONE if acting else one.consignment.zone
    found = [row for row in one.sample.findings.all() if row.bottle_id in (None, one.pk)]
    context = {
        "at": request.at,
        "zone": zone,
        "bottle": one,
        "check": check,
        "former": BenchCheck.objects.filter(bottle=one, undone_at__isnull=False).select_related(
            "checked_by", "undone_by"
        )[:LATEST],
        "hazards": hazards_at_the_desk(one),
        "caution": caution(),
        "compared": compared(one, check),
        "findings": found,
        "confirmed": reasons_of(one.sample, found),
        "clocks": one.clocks.all(),
        "advice": one.advice.all(),
        "ions": [(ion, BY_NAME.get(ion), one.dropped.get(ion)) for ion in one.ions],
        "record": _record(request, one, zone),
        "suggestion": suggestion_for(one) if decidable else None,
        **_forms(request, one, decidable),
        **bound,
    }
    wrong = [form for form in bound.values() if form.errors]
    context |= {"refused": wrong, "form": wrong[0] if wrong else None}
    return render(request, "intake/bottle.html", context, status=CANNOT_BE_TAKEN if wrong else 200)


def _record(request: HttpRequest, one: Bottle, zone: str) -> list[Told]:
    """What was done to the bottle, the latest first."""
    visible = RecordEntry.objects.visible_to(request.user).filter(consignment=one.consignment)
    return [tell(entry, zone) for entry in visible.filter(subject=f"bottle {one.number}")[:LATEST]]


def _forms(request: HttpRequest, one: Bottle, decidable: bool) -> dict[str, object]:
    checkable = can(request.user, "bottle.check", one) and one.state in RECHECKABLE
    arrivals = _arrivals(request, one) if checkable else Arrival.objects.none()
    return {
        "check_form": _check_form(request, one) if checkable and arrivals else None,
        "without_arrival": checkable and not arrivals,
        "decide_form": _decide_form() if decidable else None,
        "give_up_form": _give_up_form(one) if decidable and set(one.ions) - set(one.dropped) else None,
        "restore_form": _restore_form(one) if decidable and one.dropped else None,
        "once": OnceForm(initial={"token": new_token()}, auto_id=False) if decidable else None,
    }


def _act(
    request: HttpRequest, one: Bottle, name: str, form: BaseForm, act: Callable[[], object], done: str
) -> HttpResponse:
    """Bind, act, and come back to the bottle; a refusal stands in the form."""
    if form.is_valid() and took_effect(request, form, act):
        messages.success(request, done)
        return redirect("intake:bottle", one.number)
    return _page(request, bottle_or_404(request, one.number), **{name: form})


@require_POST
@for_reception
def bottle_check(request: HttpRequest, number: str) -> HttpResponse:
    """Record what was seen on the bottle, field by field."""
    one = bottle_or_404(request, number)
    form = _check_form(request, one, request.POST)

    def act() -> None:
        said = form.cleaned_data
        check_bottle(
            one,
            said["arrival"],
            by=request.user,
            at=request.at,
            seen=form.seen(),
            in_order=said["verdict"] == "in order",
            remark=said["remark"],
            token=said["token"],
        )

    return _act(request, one, "check_form", form, act, _("The check is recorded and the bottle judged anew."))


@require_POST
@for_reception
def bottle_undo(request: HttpRequest, number: str) -> HttpResponse:
    """Take the last check of the bottle back."""
    one = bottle_or_404(request, number)
    form = OnceForm(request.POST)

    def act() -> None:
        undo_check(one, by=request.user, at=request.at, token=form.cleaned_data["token"])

    return _act(request, one, "once", form, act, _("The check is taken back; the bottle is unchecked again."))


@require_POST
@for_reception
def bottle_decide(request: HttpRequest, number: str) -> HttpResponse:
    """Accept, accept with a reservation, hold or refuse the bottle."""
    one = bottle_or_404(request, number)
    form = _decide_form(request.POST)

    def act() -> None:
        said = form.cleaned_data
        decide_bottle(
            one,
            by=request.user,
            at=request.at,
            decision=said["decision"],
            reason=said["reason"],
            token=said["token"],
        )

    return _act(request, one, "decide_form", form, act, _("The decision is recorded."))


@require_POST
@for_reception
def bottle_agree(request: HttpRequest, number: str) -> HttpResponse:
    """Decide what the rules suggest."""
    one = bottle_or_404(request, number)
    form = OnceForm(request.POST)

    def act() -> None:
        agree_with_rules(one, by=request.user, at=request.at, token=form.cleaned_data["token"])

    return _act(request, one, "once", form, act, _("Decided as the rules suggest."))


@require_POST
@for_reception
def bottle_give_up(request: HttpRequest, number: str) -> HttpResponse:
    """Give up one ion of the bottle; the others go on."""
    one = bottle_or_404(request, number)
    form = _give_up_form(one, request.POST)

    def act() -> None:
        said = form.cleaned_data
        give_up_ion(
            one,
            by=request.user,
            at=request.at,
            ion=said["ion"],
            reason=said["reason"],
            token=said["token"],
        )

    return _act(request, one, "give_up_form", form, act, _("The ion is given up; the others go on."))


@require_POST
@for_reception
def bottle_restore(request: HttpRequest, number: str) -> HttpResponse:
    """Take back that an ion was given up."""
    one = bottle_or_404(request, number)
    form = _restore_form(one, request.POST)

    def act() -> None:
        said = form.cleaned_data
        restore_ion(one, by=request.user, at=request.at, ion=said["ion"], token=said["token"])

    return _act(request, one, "restore_form", form, act, _("The ion is wanted again."))
