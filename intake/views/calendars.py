"""The calendar somebody subscribes to, and the page on which its address is made."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from intake.actions.calendars import make_address, reader_of, switch_off_address
from intake.agenda import agenda_of
from intake.forms.once import OnceForm
from intake.models import CalendarAddress
from intake.views.answers import new_token, posted, refusals_explained


@require_safe
def calendar(request: HttpRequest, secret: str) -> HttpResponse:
    """The calendar at a private address. Needs no session; a wrong address looks like any other."""
    reader = reader_of(secret)
    if reader is None:
        raise Http404
    return HttpResponse(
        agenda_of(reader, request.at),
        content_type="text/calendar; charset=utf-8",
        headers={
            "Cache-Control": "no-store",
            "Content-Disposition": 'inline; filename="labqueue.ics"',
            "X-Robots-Tag": "noindex",
        },
    )


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@login_required
@refusals_explained
def calendar_address(request: HttpRequest) -> HttpResponse:
    """Make, renew or switch off one's address. It is shown once, right after it was made."""
    form = OnceForm(posted(request), initial={"token": new_token()})
    address = ""
    if form.is_valid():
        once = form.cleaned_data["token"]
        if request.POST.get("act") == "off":
            switch_off_address(by=request.user, at=request.at, token=once)
            messages.success(request, _("Switched off. Calendars that were subscribed find nothing more."))
            return redirect("intake:calendar_address")
        secret = make_address(by=request.user, at=request.at, token=once)
        address = settings.SITE_ADDRESS + reverse("intake:calendar", args=[secret])
        form = OnceForm(initial={"token": new_token()})
    context = {
        "at": request.at,
        "form": form,
        "address": address,
        "standing": CalendarAddress.objects.filter(user=request.user).first(),
    }
    return render(request, "intake/people/calendar.html", context)
