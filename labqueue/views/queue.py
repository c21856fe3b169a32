"""The queue: what runs out next."""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe
from django_tables2 import RequestConfig

from intake.permissions import require
from intake.rules.words import say_moment
from labqueue.foresight import foresee
from labqueue.forms.queue import QueueForm
from labqueue.queue import queued_bottles
from labqueue.tables import QueueTable

ROWS_PER_PAGE = 50


@login_required
@require_safe
def queue(request: HttpRequest) -> HttpResponse:
    """All waiting bottles, the clock that runs out next first. For managers."""
    require(request.user, "queue.see")
    now = timezone.now()
    filters = QueueForm(request.GET, user=request.user)
    wanted = filters.wanted()
    table = QueueTable(queued_bottles(request.user, wanted, now), now=now, foresight=foresee(now))
    RequestConfig(request, paginate={"per_page": ROWS_PER_PAGE, "silent": True}).configure(table)
    return render(
        request,
        "labqueue/queue.html",
        {
            "table": table,
            "filters": filters,
            "filtered": wanted.any(),
            "narrowed": filters.in_words(),
            "at": now,
            "zone": settings.TIME_ZONE,
            "shown_at": say_moment(now, settings.TIME_ZONE),
        },
    )
