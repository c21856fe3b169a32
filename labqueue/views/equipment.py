"""Units and hours, for the lab manager."""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from intake.errors import Refused, SomebodyWasFaster
from intake.forms.once import how_it_stands
from intake.permissions import require
from intake.views.answers import CANNOT_BE_TAKEN, new_token, refusals_explained, status_of
from labqueue.actions import equipping
from labqueue.calendar import closed_days
from labqueue.forms.equipment import ClosedDayForm, HoursForm, UnitForm
from labqueue.models import ClosedDay, OpeningHours, Unit

#: How far ahead the page lists the days nobody is there.
DAYS_AHEAD = 366


def _unit(pk: int) -> Unit:
    found = Unit.objects.filter(pk=pk, retired_at__isnull=True).first()
    if found is None:
        raise Http404
    return found


@login_required
@require_safe
def equipment(request: HttpRequest) -> HttpResponse:
    """Every unit, the week, and the days on which nobody is there."""
    require(request.user, "bench.plan")
    return _equipment_page(request, ClosedDayForm())


def _equipment_page(request: HttpRequest, form: ClosedDayForm, status: int = 200) -> HttpResponse:
    lab = equipping.laboratory()
    today = request.at.date()
    own = {closed.day: closed for closed in ClosedDay.objects.filter(day__gte=today)}
    days = closed_days(lab, today, today + timedelta(days=DAYS_AHEAD))
    context = {
        "units": Unit.objects.filter(retired_at__isnull=True),
        "shifts": OpeningHours.objects.all(),
        "lab": lab,
        "closed": [(day, reason, own.get(day)) for day, reason in sorted(days.items())],
        "form": form,
        "zone": settings.TIME_ZONE,
        "at": request.at,
    }
    return render(request, "labqueue/equipment.html", context, status=status)


def _form_page(request: HttpRequest, form: object, status: int = 200, **more: object) -> HttpResponse:
    context = {"form": form, "zone": settings.TIME_ZONE, "at": request.at, **more}
    if form.errors and status == 200:
        status = CANNOT_BE_TAKEN
    return render(request, "labqueue/equipment_form.html", context, status=status)


@login_required
@require_http_methods(["GET", "POST"])
def unit_new(request: HttpRequest) -> HttpResponse:
    require(request.user, "bench.plan")
    form = UnitForm(request.POST if request.method == "POST" else None, initial={"token": new_token()})
    status = 200
    if request.method == "POST" and form.is_valid():
        try:
            unit = equipping.make_unit(
                form.values(), by=request.user, at=request.at, token=form.cleaned_data["token"]
            )
        except Refused as refusal:
            form.take(refusal)
            status = status_of(refusal)
        else:
            messages.success(request, _("%(unit)s is there to be planned.") % {"unit": unit})
            return redirect("labqueue:equipment")
    return _form_page(request, form, status, heading=_("Add a unit"), words=_("Add the unit"))


@login_required
@require_http_methods(["GET", "POST"])
def unit_change(request: HttpRequest, pk: int) -> HttpResponse:
    require(request.user, "bench.plan")
    unit = _unit(pk)
    hidden = {"token": new_token(), "version": unit.version}
    form = UnitForm(
        request.POST if request.method == "POST" else None, instance=Unit(**_copied(unit)), initial=hidden
    )
    status = 200
    if request.method == "POST" and form.is_valid():
        read_at = form.cleaned_data["version"]
        try:
            equipping.change_unit(
                unit,
                form.values(),
                by=request.user,
                at=request.at,
                version=-1 if read_at is None else read_at,
                token=form.cleaned_data["token"],
            )
        except Refused as refusal:
            if isinstance(refusal, SomebodyWasFaster):
                form.add_error(None, how_it_stands(form, _copied(unit)))
            form.take(refusal)
            status = status_of(refusal)
        else:
            messages.success(request, _("%(unit)s is changed. Plan again to use it.") % {"unit": unit})
            return redirect("labqueue:equipment")
    return _form_page(request, form, status, heading=str(unit), words=_("Save"), unit=unit)


def _copied(unit: Unit) -> dict[str, object]:
    """The values of ``unit``: a form writes into its instance even where it is wrong."""
    return {field.attname: getattr(unit, field.attname) for field in Unit._meta.concrete_fields}


@login_required
@require_http_methods(["GET", "POST"])
@refusals_explained
def unit_retire(request: HttpRequest, pk: int) -> HttpResponse:
    require(request.user, "bench.plan")
    unit = _unit(pk)
    if request.method == "POST":
        equipping.retire_unit(unit, by=request.user, at=request.at)
        messages.success(request, _("%(unit)s is taken out. Its runs stay.") % {"unit": unit})
        return redirect("labqueue:equipment")
    return render(request, "labqueue/unit_retire.html", {"unit": unit, "at": request.at})


@login_required
@require_http_methods(["GET", "POST"])
def hours(request: HttpRequest) -> HttpResponse:
    """The week, the public holidays and the margin."""
    require(request.user, "bench.plan")
    lab = equipping.laboratory()
    rows = list(OpeningHours.objects.all())
    initial = {
        **HoursForm.initial_of(rows),
        "country": lab.country,
        "region": lab.region,
        "margin_min": lab.margin_min,
        "version": lab.version,
        "token": new_token(),
    }
    form = HoursForm(request.POST if request.method == "POST" else None, initial=initial)
    status = 200
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            equipping.set_hours(
                form.shifts(),
                by=request.user,
                at=request.at,
                country=given["country"],
                region=given["region"].strip().upper(),
                margin_min=given["margin_min"],
                version=form.read_version(),
                token=given["token"],
            )
        except Refused as refusal:
            if isinstance(refusal, SomebodyWasFaster):
                form.add_error(None, how_it_stands(form, initial))
            form.take(refusal)
            status = status_of(refusal)
        else:
            messages.success(request, _("The hours are changed. Plan again to use them."))
            return redirect("labqueue:equipment")
    return _form_page(request, form, status, heading=_("Opening hours"), words=_("Save"))


@login_required
@require_POST
def day_close(request: HttpRequest) -> HttpResponse:
    require(request.user, "bench.plan")
    form = ClosedDayForm(request.POST)
    if form.is_valid():
        try:
            equipping.close_day(**form.cleaned_data, by=request.user, at=request.at)
        except Refused as refusal:
            form.take(refusal)
        else:
            messages.success(request, _("The day is closed."))
            return redirect("labqueue:equipment")
    return _equipment_page(request, form, CANNOT_BE_TAKEN)


@login_required
@require_POST
@refusals_explained
def day_open(request: HttpRequest, pk: int) -> HttpResponse:
    require(request.user, "bench.plan")
    closed = ClosedDay.objects.filter(pk=pk).first()
    if closed is None:
        raise Http404
    equipping.open_day(closed, by=request.user, at=request.at)
    messages.success(request, _("The day is open again."))
    return redirect("labqueue:equipment")


@login_required
@require_POST
@refusals_explained
def usual_units(request: HttpRequest) -> HttpResponse:
    """Two anion units, one cation unit and a working week, to start from."""
    require(request.user, "bench.plan")
    equipping.make_usual_units(by=request.user, at=request.at)
    messages.success(request, _("Usual units and hours are there. Change them to your own."))
    return redirect("labqueue:equipment")
