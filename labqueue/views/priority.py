"""The priority of a consignment or a bottle, for the lab manager."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from intake import numbers
from intake.errors import Refused
from intake.models import Bottle, Consignment
from intake.permissions import require
from intake.views.answers import CANNOT_BE_TAKEN, new_token, status_of
from labqueue.actions.prioritising import give_priority
from labqueue.choices import Priority
from labqueue.forms.priority import PriorityForm
from labqueue.models import GivenPriority


def _thing(request: HttpRequest, number: str) -> Consignment | Bottle:
    number = numbers.tidy(number)
    found = (
        Bottle.objects.visible_to(request.user)
        .select_related("consignment__group", "sample")
        .filter(number=number)
        .first()
        or Consignment.objects.visible_to(request.user).select_related("group").filter(number=number).first()
    )
    if found is None:
        raise Http404
    return found


@login_required
@require_http_methods(["GET", "POST"])
def priority(request: HttpRequest, number: str) -> HttpResponse:
    """How much the clocks of a bottle or of a whole consignment count in plans, and why."""
    require(request.user, "bench.plan")
    thing = _thing(request, number)
    bottle = thing if isinstance(thing, Bottle) else None
    consignment = thing.consignment if bottle else thing
    own = {"bottle": thing} if bottle else {"consignment": thing}
    given = GivenPriority.objects.filter(**own).select_related("given_by").first()
    above = GivenPriority.objects.filter(consignment=consignment).first() if bottle else None
    known = given or above
    initial = {"level": known.level if known else Priority.USUAL, "token": new_token()}
    form = PriorityForm(request.POST if request.method == "POST" else None, initial=initial)
    status = 200
    if request.method == "POST":
        status = CANNOT_BE_TAKEN
        if form.is_valid():
            said = form.cleaned_data
            try:
                give_priority(
                    thing,
                    said["level"],
                    by=request.user,
                    at=request.at,
                    reason=said["reason"],
                    token=said["token"],
                )
            except Refused as refusal:
                form.take(refusal)
                status = status_of(refusal)
            else:
                messages.success(request, _("The priority is noted. Plan again to reckon with it."))
                return redirect("labqueue:priority", thing.number)
    context = {
        "form": form,
        "bottle": bottle,
        "consignment": consignment,
        "given": given,
        "above": above,
        "own": [] if bottle else _own(consignment),
        "zone": settings.TIME_ZONE,
        "at": request.at,
    }
    return render(request, "labqueue/priority.html", context, status=status)


def _own(consignment: Consignment) -> list[GivenPriority]:
    """Bottles of a consignment that have a priority of their own."""
    rows = GivenPriority.objects.filter(bottle__consignment=consignment)
    return list(rows.select_related("bottle__sample", "given_by").order_by("bottle__number"))
