"""The queue: what runs out next, as a page, as files, and as a picture of the next 72 hours."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.http import (
    FileResponse,
    Http404,
    HttpRequest,
    HttpResponse,
    HttpResponseBase,
    StreamingHttpResponse,
)
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from intake.errors import EntryProblem
from intake.permissions import require
from intake.rules.moments import local
from intake.shown import show_moment
from intake.views.answers import refusals_explained
from intake.views.files import CSV, XLSX
from labqueue import queuefiles
from labqueue.ahead import picture_of
from labqueue.around import Around, look_around
from labqueue.foresight import bench_now
from labqueue.forms.queue import QueueForm
from labqueue.queue import all_keys
from labqueue.queuepage import all_rows, page_of
from labqueue.tables import headings, table_of
from labqueue.today import CHANGES


@login_required
@require_safe
def queue(request: HttpRequest) -> HttpResponse:
    """All waiting bottles, the clock that runs out next first. For managers."""
    require(request.user, "queue.see")
    now = request.at
    around = look_around(request.user, now)
    filters = QueueForm(request.GET, groups=around.groups)
    wanted = filters.wanted()
    found = page_of(request.user, wanted, now, around, request.GET.get("page", ""))
    asked = request.GET.copy()
    asked.pop("page", None)
    context = {
        "table": table_of(
            found.rows, now, found.foresight, headings(asked, wanted.sort), together=found.together
        ),
        "page": found.page,
        "places": found.page.paginator.get_elided_page_range(found.page.number),
        "query": f"{asked.urlencode()}&" if asked else "",
        "asked": asked.urlencode(),
        "filters": filters,
        "filtered": wanted.any(),
        "narrowed": filters.in_words(),
        "views": around.views,
        "changes": _changes(around),
        **_moment(now),
    }
    return render(request, "labqueue/queue.html", context)


def _moment(now: datetime) -> dict[str, object]:
    return {"at": now, "zone": settings.TIME_ZONE, "shown_at": show_moment(now, settings.TIME_ZONE)}


def _changes(around: Around) -> list[tuple[int, object, str]]:
    """What changed since this morning: how many, what, and where they are shown."""
    address = reverse("labqueue:queue")
    return [
        (around.changes[word], CHANGES[word].words, f"{address}?changed={word}")
        for word in CHANGES
        if around.changes.get(word)
    ]


def send_file(kind: str, pks: list[int], now: datetime) -> HttpResponseBase:
    """The bottles of ``pks`` as a file of that kind; refused where they are too many for one."""
    if kind not in ("csv", "xlsx"):
        raise Http404
    if len(pks) > queuefiles.MOST_ROWS:
        raise EntryProblem(
            f"{len(pks)} bottles are too many for one file, which holds {queuefiles.MOST_ROWS}. "
            "Narrow the queue, by line or group for example, and take a file of each part."
        )
    name = f"queue-{local(now, settings.TIME_ZONE):%Y-%m-%d-%H%M}.{kind}"
    rows = all_rows(pks, now)
    if kind == "csv":
        headers = {"Content-Disposition": f'attachment; filename="{name}"'}
        return StreamingHttpResponse(queuefiles.as_csv(rows), content_type=CSV, headers=headers)
    return FileResponse(queuefiles.as_workbook(rows), as_attachment=True, filename=name, content_type=XLSX)


@login_required
@require_safe
@refusals_explained
def queue_file(request: HttpRequest, kind: str) -> HttpResponseBase:
    """All rows that the same address shows as a page, as CSV or workbook."""
    require(request.user, "queue.see")
    groups = look_around(request.user, request.at).groups
    wanted = QueueForm(request.GET, groups=groups).wanted()
    return send_file(kind, all_keys(request.user, wanted, request.at), request.at)


@login_required
@require_safe
def queue_ahead(request: HttpRequest) -> HttpResponse:
    """The next 72 hours: opening hours, runs by unit, what runs out when; and the same as tables."""
    require(request.user, "queue.see")
    now = request.at
    picture = picture_of(now, bench_now(), look_around())
    return render(request, "labqueue/queue_ahead.html", {"picture": picture, **_moment(now)})
