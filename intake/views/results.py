"""Entering results from a file: everything, or every fault at once."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from intake.actions.results import Value, enter_results
from intake.errors import AlreadyDone, Refused
from intake.forms.results import ResultsForm
from intake.numbers import tidy
from intake.permissions import require
from intake.sheets.attaching import attach
from intake.sheets.awaited import awaited_csv, awaited_workbook
from intake.sheets.results import HEADINGS, ResultFault, read_results
from intake.views.answers import CANNOT_BE_TAKEN, add_refusal, new_token, refusals_explained, status_of
from intake.views.files import CSV, XLSX, file_answer

FAULTS_SHOWN = 200


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
@refusals_explained
def results(request: HttpRequest) -> HttpResponse:
    """Upload a file of results. Nothing of it is taken while one row is wrong."""
    require(request.user, "results.enter")
    form = ResultsForm(
        request.POST if request.method == "POST" else None,
        request.FILES or None,
        initial={"token": new_token()},
    )
    faults: list[ResultFault] = []
    status = CANNOT_BE_TAKEN if form.is_bound else 200
    if form.is_valid():
        try:
            values, faults = _values(form)
            if not faults:
                return _entered(request, form, values)
        except AlreadyDone:
            messages.info(request, _("This was already entered; sending it again changed nothing."))
            return redirect("intake:results")
        except Refused as problem:
            add_refusal(form, problem)
            status = status_of(problem)
    context = {
        "at": request.at,
        "form": form,
        "faults": faults[:FAULTS_SHOWN],
        "fault_count": len(faults),
    }
    return render(request, "intake/results.html", context, status=status)


def _entered(request: HttpRequest, form: ResultsForm, values: list[Value]) -> HttpResponse:
    said = form.cleaned_data
    made = enter_results(
        values,
        by=request.user,
        at=request.at,
        file_name=said["file"].name,
        reason=said["reason"],
        requeue=said["requeue"],
        token=said["token"],
    )
    above = sum(row.above_range for row in made.rows)
    told = [
        _("%(count)s values entered") % {"count": len(made.rows)},
        _("%(count)s of them correct an older one") % {"count": made.corrected} if made.corrected else "",
        _("%(count)s above the range") % {"count": above},
        _("%(count)s were there already and stay") % {"count": made.known} if made.known else "",
    ]
    messages.success(request, ", ".join(part for part in told if part) + ".")
    return redirect("intake:results")


def _values(form: ResultsForm) -> tuple[list[Value], list[ResultFault]]:
    """The values of the file with their injections, and every fault in order of rows."""
    said = form.cleaned_data
    rows, faults = read_results(said["file"].read(), said["unit"], settings.TIME_ZONE)
    values, further = attach(
        rows,
        dilution_applied=said["dilution_applied"] == "yes",
        acid_applied=said["acid_applied"] == "yes",
        zone=settings.TIME_ZONE,
    )
    faults = sorted([*faults, *further], key=lambda fault: fault.row)
    if not values and not faults:
        faults.append(ResultFault(1, HEADINGS["value"], _("No row under the headings has a value.")))
    return values, faults


@login_required
@require_safe
def results_template(request: HttpRequest, kind: str) -> HttpResponse:
    """The file to fill, with a row for each ion that awaits its value; of one run if it is named."""
    require(request.user, "results.enter")
    run = tidy(request.GET.get("run", "")[:20])
    if kind == "xlsx":
        return file_answer(awaited_workbook(request.at, settings.TIME_ZONE, run), "results.xlsx", XLSX)
    return file_answer(awaited_csv(request.at, settings.TIME_ZONE, run), "results.csv", CSV)
