"""How far a big job is. Whoever asked for it may leave the page and come back."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from intake.choices import JobKind, JobState
from intake.models import Job


@require_safe
@login_required
def job(request: HttpRequest, key: str) -> HttpResponse:
    """The job while it goes on or when it failed; once it is done, the page that comes next."""
    own = Job.objects.filter(user=request.user).select_related("consignment")
    found = get_object_or_404(own, key=key)
    if found.state == JobState.DONE:
        return _onward(request, found)
    reading = found.kind == JobKind.READ_SHEET
    context = {"at": request.at, "job": found, "consignment": found.consignment, "reading": reading}
    return render(request, "intake/job.html", context)


def _onward(request: HttpRequest, found: Job) -> HttpResponse:
    if found.kind == JobKind.READ_SHEET:
        return redirect("intake:sheet_confirm", found.consignment.number, found.content["staged"])
    messages.success(request, found.sentence or _("All samples of the sheet are saved and judged anew."))
    return redirect("intake:samples", found.consignment.number)
