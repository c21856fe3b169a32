"""One run: its list on screen, paper and file; tray, start, failure, repeat."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_safe

from intake import numbers
from intake.errors import Refused
from intake.permissions import require
from intake.views.answers import CANNOT_BE_TAKEN, new_token, refusals_explained, status_of
from intake.views.files import CSV, XLSX, file_answer
from labqueue import runlist
from labqueue.actions import reserving, running
from labqueue.actions.reserving import has_come
from labqueue.forms.runs import CancelForm, FailForm, RepeatForm, StartForm, TrayForm
from labqueue.models import Place, Run
from labqueue.states import RunState

#: What a form about a run was filled in with.
Given = dict[str, object]


def run_or_404(request: HttpRequest, number: str) -> Run:
    """The run of that number, for whoever works at the bench."""
    require(request.user, "bench.run")
    found = Run.objects.select_related("unit", "created_by").filter(number=numbers.tidy(number)).first()
    if found is None:
        raise Http404
    return found


def place_or_404(run: Run, position: int) -> Place:
    found = run.places.filter(position=position, bottle__isnull=False).select_related(
        "bottle__consignment", "bottle__sample", "run__unit"
    )
    place = found.first()
    if place is None:
        raise Http404
    return place


def carried(run: Run) -> dict[str, object]:
    """What a form about ``run`` carries that is read now."""
    return {"token": new_token(), "version": run.version}


def ask(
    request: HttpRequest, run: Run, form: object, heading: str, words: str, **more: object
) -> HttpResponse:
    """The page of one form about a run."""
    status = more.pop("status", 200)
    if form.errors and status == 200:
        status = CANNOT_BE_TAKEN
    context = {"run": run, "form": form, "heading": heading, "words": words, "zone": settings.TIME_ZONE}
    return render(request, "labqueue/run_form.html", {**context, "at": request.at, **more}, status=status)


def ask_and_act(
    request: HttpRequest,
    run: Run,
    form: object,
    act: Callable[[Given], HttpResponse],
    heading: str,
    words: str,
    **more: object,
) -> HttpResponse:
    """Ask with ``form``; once it is filled in, ``act`` on it, and ask again where that is refused."""
    status = 200
    if request.method == "POST" and form.is_valid():
        try:
            return act(form.cleaned_data)
        except Refused as refusal:
            form.take(refusal)
            status = status_of(refusal)
    return ask(request, run, form, heading, words, status=status, **more)


@login_required
@require_safe
def run(request: HttpRequest, number: str) -> HttpResponse:
    """The run list, and what can be done with the run as it stands."""
    shown = run_or_404(request, number)
    places = runlist.places_of(shown)
    reserved = [place for place in places if place.reserved]
    context = {
        "run": shown,
        "reserved": len(reserved),
        "come": sum(has_come(place) for place in reserved),
        "over": shown.state == RunState.DONE,
        "places": places,
        "planned": shown.state == RunState.PLANNED,
        "running": shown.state == RunState.RUNNING,
        "awaiting": sum(place.awaiting for place in places),
        "due": sum(place.awaiting and place.planned_at <= request.at for place in places),
        "checked": sum(place.awaiting and place.tray_checked_at is not None for place in places),
        "token": new_token(),
        "zone": settings.TIME_ZONE,
        "at": request.at,
    }
    return render(request, "labqueue/run.html", context)


@login_required
@require_safe
def run_file(request: HttpRequest, number: str, kind: str) -> HttpResponse:
    """The run list as CSV or workbook."""
    shown = run_or_404(request, number)
    places = runlist.places_of(shown)
    if kind == "csv":
        return file_answer(runlist.as_csv(places), f"run-{shown.number}.csv", CSV)
    if kind == "xlsx":
        return file_answer(runlist.as_workbook(shown, places), f"run-{shown.number}.xlsx", XLSX)
    raise Http404


@login_required
@require_http_methods(["GET", "POST"])
def run_start(request: HttpRequest, number: str) -> HttpResponse:
    shown = run_or_404(request, number)
    absent = [place for place in reserving.reserved_places(shown) if not has_come(place)]
    form = StartForm(
        request.POST if request.method == "POST" else None,
        initial={**carried(shown), "started_at": request.at.replace(second=0, microsecond=0)},
    )

    def act(given: Given) -> HttpResponse:
        running.start_run(
            shown,
            by=request.user,
            at=request.at,
            started_at=given["started_at"],
            version=form.read_version(),
            token=given["token"],
        )
        messages.success(request, _("The run goes on. Enter the injections when they have been made."))
        return redirect("labqueue:run", shown.number)

    return ask_and_act(request, shown, form, act, _("Start of run"), _("Note the start"), absent=absent)


@login_required
@require_http_methods(["GET", "POST"])
def run_cancel(request: HttpRequest, number: str) -> HttpResponse:
    shown = run_or_404(request, number)
    form = CancelForm(request.POST if request.method == "POST" else None, initial=carried(shown))

    def act(given: Given) -> HttpResponse:
        running.cancel_run(
            shown,
            by=request.user,
            at=request.at,
            version=form.read_version(),
            reason=given["reason"],
            token=given["token"],
        )
        messages.success(request, _("The run is cancelled; its bottles are back in the queue."))
        return redirect("labqueue:bench")

    return ask_and_act(request, shown, form, act, _("Cancel run"), _("Cancel this run"))


@login_required
@require_http_methods(["GET", "POST"])
def run_fail(request: HttpRequest, number: str) -> HttpResponse:
    """Failed at a place: the rest goes back to the queue."""
    shown = run_or_404(request, number)
    form = FailForm(request.POST if request.method == "POST" else None, initial=carried(shown))

    def act(given: Given) -> HttpResponse:
        bottles = running.fail_run(
            shown,
            given["position"],
            by=request.user,
            at=request.at,
            version=form.read_version(),
            reason=given["reason"],
            token=given["token"],
        )
        said = ngettext(
            "%(count)d bottle is back in the queue. Plan again.",
            "%(count)d bottles are back in the queue. Plan again.",
            len(bottles),
        )
        messages.success(request, said % {"count": len(bottles)})
        return redirect("labqueue:run", shown.number)

    return ask_and_act(request, shown, form, act, _("The run failed"), _("Note the failure"))


@login_required
@require_http_methods(["GET", "POST"])
def run_repeat(request: HttpRequest, number: str, position: int) -> HttpResponse:
    """Once more at another dilution: on a further place of a running run, else by the queue."""
    shown = run_or_404(request, number)
    place = place_or_404(shown, position)
    form = RepeatForm(
        request.POST if request.method == "POST" else None,
        initial={**carried(shown), "dilution": place.dilution},
    )

    def act(given: Given) -> HttpResponse:
        if shown.state != RunState.RUNNING:
            running.repeat_later(
                place, by=request.user, at=request.at, dilution=given["dilution"], token=given["token"]
            )
            said = _(
                "Bottle %(bottle)s is back in the queue. The next plan gives it a place at 1:%(dilution)s."
            )
            values = {"bottle": place.bottle, "dilution": f"{given['dilution']:g}"}
            messages.success(request, said % values)
            return redirect("labqueue:run", shown.number)
        further = running.repeat_bottle(
            place,
            by=request.user,
            at=request.at,
            dilution=given["dilution"],
            version=form.read_version(),
            token=given["token"],
        )
        messages.success(request, _("The bottle has place %(place)d as well.") % {"place": further.position})
        return redirect("labqueue:run", shown.number)

    heading = _("Repeat bottle %(bottle)s") % {"bottle": place.bottle}
    words = (
        _("Give it a further place") if shown.state == RunState.RUNNING else _("Put it back into the queue")
    )
    return ask_and_act(request, shown, form, act, heading, words)


@login_required
@require_http_methods(["GET", "POST"])
@refusals_explained
def run_tray(request: HttpRequest, number: str) -> HttpResponse:
    """Scan each bottle into its place; the next unchecked place is offered."""
    shown = run_or_404(request, number)
    form, status = None, 200
    if request.method == "POST":
        form, status = TrayForm(request.POST), CANNOT_BE_TAKEN
        if form.is_valid():
            given = form.cleaned_data
            try:
                place = running.check_tray(
                    shown, given["position"], given["scanned"], by=request.user, at=request.at
                )
            except Refused as refusal:
                form.take(refusal)
                form.reread(scanned="")  # else the next scan would be added to this one
                status = status_of(refusal)
            else:
                said = _("Place %(place)d: bottle %(bottle)s is right.")
                messages.success(request, said % {"place": place.position, "bottle": place.bottle})
                return redirect("labqueue:run_tray", shown.number)
    of_bottles = shown.places.filter(Q(awaiting=True) | Q(reserved=True)).select_related("bottle__sample")
    wanted = list(of_bottles.order_by("position"))
    absent = [place for place in wanted if place.reserved and not has_come(place)]
    wanted = [place for place in wanted if place not in absent]
    left = [place for place in wanted if place.tray_checked_at is None]
    context = {
        "run": shown,
        "form": form or TrayForm(initial={"position": left[0].position if left else None}),
        "next": left[0] if left else None,
        "left": left,
        "absent": absent,
        "checked": len(wanted) - len(left),
        "wanted": len(wanted),
        "zone": settings.TIME_ZONE,
        "at": request.at,
    }
    return render(request, "labqueue/run_tray.html", context, status=status)
