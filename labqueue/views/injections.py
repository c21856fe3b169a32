"""Injections back from a run: as planned, by hand, from a list; and a wrong one taken back."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST

from intake.errors import Refused
from intake.views.answers import CANNOT_BE_TAKEN, posted_version, refusals_explained, status_of
from labqueue.actions import injections
from labqueue.forms.runs import HandForm, ListForm, MatchForm, VoidForm
from labqueue.injectionlist import Entry, Matcher, read_list
from labqueue.models import Run, StagedInjections
from labqueue.views.runs import Given, ask, ask_and_act, carried, place_or_404, run_or_404

#: Rows with faults beyond this many are counted, not listed.
MOST_FAULTS_SHOWN = 200


def _tell(request: HttpRequest, count: int, over: bool) -> None:
    said = ngettext("%(count)d injection is entered.", "%(count)d injections are entered.", count)
    more = _("The run is over.") if over else ""
    messages.success(request, f"{said % {'count': count}} {more}".strip())


@login_required
@require_POST
@refusals_explained
def as_planned(request: HttpRequest, number: str) -> HttpResponse:
    """All that was due by now went in as planned from the start."""
    run = run_or_404(request, number)
    count, over = injections.enter_as_planned(
        run,
        by=request.user,
        at=request.at,
        version=posted_version(request),
        zone=settings.TIME_ZONE,
        token=request.POST.get("token", "")[:64],
    )
    _tell(request, count, over)
    return redirect("labqueue:run", run.number)


@login_required
@require_http_methods(["GET", "POST"])
def by_hand(request: HttpRequest, number: str, position: int) -> HttpResponse:
    """The moment of one injection, typed."""
    run = run_or_404(request, number)
    place = place_or_404(run, position)
    form = HandForm(
        request.POST if request.method == "POST" else None,
        initial={**carried(run), "injected_at": place.planned_at},
    )

    def act(given: Given) -> HttpResponse:
        over = injections.enter_injections(
            run,
            [Entry(place.position, place, given["injected_at"])],
            by=request.user,
            at=request.at,
            version=form.read_version(),
            zone=settings.TIME_ZONE,
            token=given["token"],
        )
        _tell(request, 1, over)
        return redirect("labqueue:run", run.number)

    heading = _("Injection of place %(place)d, bottle %(bottle)s")
    heading %= {"place": place.position, "bottle": place.bottle}
    return ask_and_act(request, run, form, act, heading, _("Enter the injection"))


@login_required
@require_http_methods(["GET", "POST"])
def void(request: HttpRequest, number: str, position: int) -> HttpResponse:
    """Take a wrong injection back; the clocks run on."""
    run = run_or_404(request, number)
    place = place_or_404(run, position)
    form = VoidForm(request.POST if request.method == "POST" else None, initial=carried(run))

    def act(given: Given) -> HttpResponse:
        injections.void_place(
            place,
            by=request.user,
            at=request.at,
            version=form.read_version(),
            reason=given["reason"],
            token=given["token"],
        )
        messages.success(request, _("The injection is taken back; the bottle is in the queue again."))
        return redirect("labqueue:run", run.number)

    heading = _("Take back the injection of bottle %(bottle)s") % {"bottle": place.bottle}
    return ask_and_act(request, run, form, act, heading, _("Take it back"))


@login_required
@require_http_methods(["GET", "POST"])
def upload(request: HttpRequest, number: str) -> HttpResponse:
    """Upload a list; its columns are matched on the next page."""
    run = run_or_404(request, number)
    form = ListForm(
        request.POST if request.method == "POST" else None, request.FILES or None, initial=carried(run)
    )
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["file"]
        try:
            staged = injections.stage_injections(
                run, read_list(file.read()), by=request.user, at=request.at, name=file.name
            )
        except Refused as refusal:
            form.take(refusal)
        else:
            return redirect("labqueue:injections_match", run.number, staged.key)
    return ask(request, run, form, _("Import injections"), _("Read the list"), upload=True)


def _staged(request: HttpRequest, run: Run, key: str) -> StagedInjections:
    found = StagedInjections.objects.filter(
        key=key, run=run, user=request.user, staged_at__gt=request.at - injections.KEPT_FOR
    ).first()
    if found is None:
        raise Http404
    return found


@login_required
@require_http_methods(["GET", "POST"])
@refusals_explained
def match(request: HttpRequest, number: str, key: str) -> HttpResponse:
    """Match the columns, look at what would be entered and what is refused, then enter it."""
    run = run_or_404(request, number)
    staged = _staged(request, run, key)
    remembered = injections.remembered_for(staged.headings)
    initial: dict[str, object] = carried(run)
    if remembered is not None:
        initial |= {**remembered.headings, "moments_of": remembered.zone, "name": remembered.name}
    bound = request.POST if request.method == "POST" else None
    if bound is None and remembered is not None:
        bound = {"place": "", "bottle": "", **{name: str(value) for name, value in initial.items()}}
    form = MatchForm(bound, headings=staged.headings, initial=initial)
    context: dict[str, object] = {
        "run": run,
        "staged": staged,
        "form": form,
        "zone": settings.TIME_ZONE,
        "at": request.at,
    }
    status = 200
    if form.is_bound and form.is_valid():
        zone = form.cleaned_data["moments_of"]
        read, faults = Matcher(staged.headings, form.matching(), zone).read(
            staged.rows, injections.all_places(run)
        )
        good, refused = injections.check_entries(read, injections.window_of(run), request.at, zone)
        if "enter" in request.POST:
            try:
                return _enter(request, run, form, good)
            except Refused as refusal:
                form.take(refusal)
                status = status_of(refusal)
        faults = sorted([*faults, *refused], key=lambda fault: fault.row)
        context |= {
            "good": good,
            "faults": faults[:MOST_FAULTS_SHOWN],
            "further": max(0, len(faults) - MOST_FAULTS_SHOWN),
            "looked": True,
        }
        form.reread(**carried(run))
    elif form.is_bound:
        status = CANNOT_BE_TAKEN
    return render(request, "labqueue/injections_match.html", context, status=status)


def _enter(request: HttpRequest, run: Run, form: MatchForm, good: list[Entry]) -> HttpResponse:
    given = form.cleaned_data
    over = injections.enter_injections(
        run,
        good,
        by=request.user,
        at=request.at,
        version=form.read_version(),
        zone=given["moments_of"],
        token=given["token"],
    )
    if given["name"].strip():
        injections.remember_columns(
            given["name"], form.matching(), given["moments_of"], by=request.user, at=request.at
        )
    _tell(request, len(good), over)
    return redirect("labqueue:run", run.number)
