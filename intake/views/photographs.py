"""Photographs of an arrival: the page, each picture, and removing one."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from intake import numbers
from intake.actions.photographing import MOST, add_photograph, remove_photograph
from intake.forms.photographs import PhotographForm, RemovePhotographForm
from intake.models import Arrival, Photograph
from intake.pictures.photographs import MOST_BYTES
from intake.views.answers import CANNOT_BE_TAKEN, new_token, posted
from intake.views.bench import LAB_ZONE, arrival_or_404, for_reception, took_effect


@require_http_methods(("GET", "HEAD", "POST"))
@for_reception
def photographs(request: HttpRequest, number: str) -> HttpResponse:
    """The photographs of an arrival, and a form for another one."""
    arrival = arrival_or_404(request, number)
    form = PhotographForm(posted(request), request.FILES or None, initial={"token": new_token()})
    if form.is_valid():

        def act() -> None:
            said = form.cleaned_data
            add_photograph(
                arrival,
                by=request.user,
                at=request.at,
                data=said["picture"].read(MOST_BYTES + 1),
                caption=said["caption"],
                token=said["token"],
            )

        if took_effect(request, form, act):
            messages.success(request, _("The photograph is kept."))
            return redirect("intake:photographs", arrival.number)
    all_of_it = arrival.photographs.defer("content").select_related("added_by", "removed_by")
    context = {
        "at": request.at,
        "zone": LAB_ZONE,
        "arrival": arrival,
        "form": form,
        "shown": [one for one in all_of_it if one.removed_at is None],
        "removed": [one for one in all_of_it if one.removed_at is not None],
        "most": MOST,
    }
    status = CANNOT_BE_TAKEN if form.errors else 200
    return render(request, "intake/photographs.html", context, status=status)


def _found(request: HttpRequest, number: str, key: str) -> Photograph:
    """The photograph, for whoever works in the laboratory; else it does not exist.

    A box may hold bottles of several groups, and a picture shows all of them: no group sees it here.
    """
    arrivals = Arrival.objects.visible_to(request.user).filter(number=numbers.tidy(number))
    there: QuerySet[Photograph] = Photograph.objects.filter(arrival__in=arrivals, removed_at__isnull=True)
    found = there.select_related("arrival").filter(key=key).first()
    if found is None:
        raise Http404
    return found


@require_safe
@login_required
def photograph(request: HttpRequest, number: str, key: str) -> HttpResponse:
    """One picture; a page shows it, by itself it is saved and never opened as anything else."""
    found = _found(request, number, key)
    name = f"arrival-{found.arrival.number}-{found.pk}.jpg"
    return HttpResponse(
        bytes(found.content),
        content_type="image/jpeg",
        headers={
            "Content-Disposition": f'attachment; filename="{name}"',
            "X-Content-Type-Options": "nosniff",
            "Cache-Control": "private, no-store",
        },
    )


@require_http_methods(("GET", "HEAD", "POST"))
@for_reception
def photograph_remove(request: HttpRequest, number: str, key: str) -> HttpResponse:
    """Remove one picture, with a reason."""
    found = _found(request, number, key)
    form = RemovePhotographForm(posted(request), initial={"token": new_token()})
    if form.is_valid():
        said = form.cleaned_data

        def act() -> None:
            remove_photograph(
                found, by=request.user, at=request.at, reason=said["reason"], token=said["token"]
            )

        if took_effect(request, form, act):
            messages.success(request, _("The photograph is removed."))
            return redirect("intake:photographs", found.arrival.number)
    context = {
        "at": request.at,
        "zone": LAB_ZONE,
        "arrival": found.arrival,
        "photograph": found,
        "form": form,
    }
    status = CANNOT_BE_TAKEN if form.errors else 200
    return render(request, "intake/photograph_remove.html", context, status=status)
