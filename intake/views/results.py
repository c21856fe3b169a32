"""Entering results from a file: everything, or every fault at once."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from intake.actions.results import Value, acid_factors, enter_results, injections_of
from intake.errors import AlreadyDone, Refused
from intake.forms.results import ResultsForm
from intake.models import Bottle, Injection
from intake.numbers import tidy
from intake.permissions import require
from intake.rules.values import Stated
from intake.sheets.results import HEADINGS, ResultFault, ResultRow, read_results
from intake.views.answers import CANNOT_BE_TAKEN, add_refusal, new_token, refusals_explained, status_of

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
    rows = enter_results(
        values,
        by=request.user,
        at=request.at,
        file_name=said["file"].name,
        requeue=said["requeue"],
        token=said["token"],
    )
    above = sum(row.above_range for row in rows)
    messages.success(
        request,
        _("%(count)s values entered, %(above)s above the range.") % {"count": len(rows), "above": above},
    )
    return redirect("intake:results")


def _values(form: ResultsForm) -> tuple[list[Value], list[ResultFault]]:
    """The values of the file with their bottles and injections, and every fault in order of rows."""
    said = form.cleaned_data
    rows, faults = read_results(said["file"].read(), said["unit"])
    numbers = {tidy(row.bottle) for row in rows}
    found = Bottle.objects.filter(number__in=numbers).select_related("consignment")
    bottles = {bottle.number: bottle for bottle in found}
    shots, factors = injections_of(list(bottles.values())), acid_factors(list(bottles.values()))
    values: list[Value] = []
    seen: set[tuple[str, str]] = set()
    for row in rows:
        bottle = bottles.get(tidy(row.bottle))
        shot = shots.get(bottle.pk) if bottle else None
        fault = _fault(row, bottle, shot, seen)
        if fault:
            faults.append(fault)
            continue
        seen.add((bottle.number, row.ion))
        stated = Stated(
            row.ion,
            row.value,
            row.unit,
            row.as_element,
            row.dilution,
            said["dilution_applied"] == "yes",
            factors.get(bottle.pk, 1.0),
            said["acid_applied"] == "yes",
        )
        values.append(Value(bottle, shot, stated, row.below, row.top, row.remark))
    if not values and not faults:
        faults.append(ResultFault(1, HEADINGS["value"], _("There is no row under the headings.")))
    return values, sorted(faults, key=lambda fault: fault.row)


def _fault(
    row: ResultRow, bottle: Bottle | None, shot: Injection | None, seen: set[tuple[str, str]]
) -> ResultFault | None:
    if bottle is None:
        sentence = _("No bottle has the number %(number)s. Check it against the label.")
        return ResultFault(row.row, HEADINGS["bottle"], sentence % {"number": row.bottle[:30]})
    if shot is None:
        sentence = _("Bottle %(number)s has no injection. Enter the injection first.")
        return ResultFault(row.row, HEADINGS["bottle"], sentence % {"number": bottle})
    if row.ion not in bottle.ions or row.ion in bottle.dropped:
        sentence = _("%(ion)s was not asked for in bottle %(number)s. Leave the row out.")
        return ResultFault(row.row, HEADINGS["ion"], sentence % {"ion": row.ion, "number": bottle})
    if (bottle.number, row.ion) in seen:
        sentence = _("%(ion)s of bottle %(number)s is there twice. Keep the row that is right.")
        return ResultFault(row.row, HEADINGS["ion"], sentence % {"ion": row.ion, "number": bottle})
    return None
