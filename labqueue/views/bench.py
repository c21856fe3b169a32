"""The bench at a glance: which runs stand, on which unit, and what waits."""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.db.models import Count, Max, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from intake.models import Bottle
from intake.permissions import require
from intake.states import BottleState
from labqueue.models import Run, Unit
from labqueue.states import STANDING

#: Runs shown that are over.
LATEST = 10


@login_required
@require_safe
def bench(request: HttpRequest) -> HttpResponse:
    """Runs that stand and the latest that are over, with how many bottles wait."""
    require(request.user, "bench.run")
    runs = Run.objects.select_related("unit").annotate(
        bottles=Count("places", filter=Q(places__bottle__isnull=False)),
        awaiting=Count("places", filter=Q(places__awaiting=True)),
        last_at=Max("places__planned_at"),
    )
    context = {
        "standing": runs.filter(state__in=STANDING),
        "over": runs.exclude(state__in=STANDING).order_by("-planned_start", "-pk")[:LATEST],
        "ready": Bottle.objects.filter(state=BottleState.READY).count(),
        "units": Unit.objects.filter(retired_at__isnull=True).exists(),
        "zone": settings.TIME_ZONE,
        "at": request.at,
    }
    return render(request, "labqueue/bench.html", context)
