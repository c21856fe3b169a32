"""Reception's first page, its search, and arrivals from opening to closing."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from intake import numbers
from intake.actions import receiving
from intake.actions.checking import take_in_unannounced
from intake.actions.naming import is_unnamed, name_group
from intake.actions.steps import require_open
from intake.errors import AlreadyDone
from intake.forms.checking import NameGroupForm, UnannouncedForm
from intake.forms.receiving import AddConsignmentForm, AmendTransportForm, CloseArrivalForm, OpenArrivalForm
from intake.forms.scans import Entry, Kind, read
from intake.models import Arrival, Bottle, Consignment, Group, StoragePlace
from intake.permissions import can
from intake.searching import search
from intake.states import ConsignmentState
from intake.telling import told_after_sending
from intake.views.answers import CANNOT_BE_TAKEN, CONFLICT, new_token, posted
from intake.views.bench import LAB_ZONE, Progress, arrival_or_404, for_reception, took_effect

PAGE = 50
GET_OR_POST = ("GET", "HEAD", "POST")


@require_GET
@for_reception
def reception(request: HttpRequest) -> HttpResponse:
    """What is on the bench and what comes; one box finds all of it."""
    at = request.at
    sought = request.GET.get("q", "").replace("\0", "�").strip()[:100]
    if sought:
        return _search(request, sought, at)
    visible = Arrival.objects.visible_to(request.user)
    expected = Consignment.objects.visible_to(request.user).still_expected(at).with_amendment()
    context = {
        "at": at,
        "zone": LAB_ZONE,
        "on_the_bench": visible.on_the_bench().with_progress().prefetch_related("consignments__group"),
        "page": Paginator(expected.select_related("group"), PAGE).get_page(request.GET.get("page")),
    }
    return render(request, "intake/reception.html", context)


def _search(request: HttpRequest, sought: str, at: object) -> HttpResponse:
    """Go to what a number names; else list the consignments that have the words."""
    entry = read(sought)
    if entry.kind is Kind.ARRIVAL:
        found = Arrival.objects.visible_to(request.user).filter(number=entry.value).first()
        if found is not None:
            return redirect("intake:arrival", found.number)
    if entry.kind is Kind.BOTTLE:
        bottle = Bottle.objects.visible_to(request.user).filter(number=entry.value).first()
        if bottle is not None and bottle.consignment.state != ConsignmentState.WITHDRAWN:
            return _to_bottle(request, bottle)
    if entry.kind is Kind.PLACE and StoragePlace.objects.filter(number=entry.value).exists():
        return redirect("intake:place", entry.value)
    seen = Consignment.objects.visible_to(request.user).announced().select_related("group")
    if entry.kind is Kind.CONSIGNMENT:
        consignment = seen.filter(number=entry.value).first()
        if consignment is not None:
            return _to_consignment(request, consignment)
    keys = search(seen, sought, request.user, Group.objects.visible_to(request.user)).keys
    context = {
        "at": at,
        "zone": LAB_ZONE,
        "sought": sought,
        "entry": entry,
        "withdrawn": _withdrawn(request, entry),
        "found": seen.filter(pk__in=keys).prefetch_related("arrivals").order_by("-sent_at", "pk")[:PAGE],
    }
    return render(request, "intake/reception_search.html", context)


def _withdrawn(request: HttpRequest, entry: Entry) -> Consignment | None:
    """The consignment that its group took back, if ``entry`` is its number or that of a bottle of it."""
    field = {Kind.CONSIGNMENT: "number", Kind.BOTTLE: "bottles__number"}.get(entry.kind)
    if field is None:
        return None
    named = Consignment.objects.visible_to(request.user).filter(**{field: entry.value})
    return named.filter(state=ConsignmentState.WITHDRAWN).select_related("group").first()


def _open_arrival_of(request: HttpRequest, consignment: Consignment) -> Arrival | None:
    visible = Arrival.objects.visible_to(request.user).on_the_bench()
    return visible.filter(parts__consignment=consignment).order_by("-pk").first()


def _to_bottle(request: HttpRequest, bottle: Bottle) -> HttpResponse:
    """A bottle put away shows where it stands; another opens the desk of its arrival.

    One that has not come yet offers to open an arrival; any other shows its page.
    """
    if bottle.stored_in_id is not None or bottle.discarded_at is not None:
        return redirect("intake:bottle", bottle.number)
    arrival = _open_arrival_of(request, bottle.consignment)
    if arrival is not None:
        return redirect(f"{_desk(arrival)}?on={bottle.number}")
    if bottle.state in ("expected", "missing") and can(request.user, "arrival.open"):
        return redirect(f"{_opening()}?consignment={bottle.consignment.number}&bottle={bottle.number}")
    return redirect("intake:bottle", bottle.number)


def _to_consignment(request: HttpRequest, consignment: Consignment) -> HttpResponse:
    arrival = _open_arrival_of(request, consignment)
    if arrival is not None:
        return redirect(_desk(arrival))
    if consignment.bottles.filter(state__in=("expected", "missing")).exists():
        return redirect(f"{_opening()}?consignment={consignment.number}")
    last = consignment.arrivals.order_by("-received_at").first()
    return redirect("intake:arrival", last.number) if last else redirect(_opening())


def _desk(arrival: Arrival) -> str:
    return redirect("intake:desk", arrival.number).url


def _opening() -> str:
    return redirect("intake:arrival_open").url


@require_http_methods(GET_OR_POST)
@for_reception
def arrival_open(request: HttpRequest) -> HttpResponse:
    """Open an arrival of the consignments chosen, now or at an earlier moment."""
    at = request.at
    announced = Consignment.objects.visible_to(request.user).announced().select_related("group")
    chosen = request.POST.getlist("consignments") or request.GET.getlist("consignment")
    chosen = [numbers.tidy(number) for number in chosen][:PAGE]
    begin = {"consignments": chosen, "token": new_token()}
    unannounced = not chosen and request.GET.get("unannounced") == "yes"
    form = OpenArrivalForm(
        posted(request), at=at, announced=announced, chosen=chosen, unannounced=unannounced, initial=begin
    )
    came = Consignment.objects.none() if unannounced else form.fields["consignments"].queryset
    if request.method == "POST" and form.is_valid():
        opened = _open(request, form, at)
        if opened:
            return redirect("intake:desk", opened)
    there = Arrival.objects.visible_to(request.user).on_the_bench().filter(consignments__number__in=chosen)
    context = {
        "at": at,
        "zone": LAB_ZONE,
        "form": form,
        "chosen": came,
        "unannounced": unannounced,
        "bottle": numbers.grouped(numbers.tidy(request.GET.get("bottle", ""))).strip(),
        "on_the_bench": there.distinct(),
        "amended": told_after_sending(came),
    }
    return render(request, "intake/arrival_open.html", context, status=_status(form))


def _open(request: HttpRequest, form: OpenArrivalForm, at: object) -> str:
    """The number of the arrival that the form opened, now or when it was sent before."""
    made: list[str] = []

    def act() -> None:
        try:
            arrival = receiving.open_arrival(
                list(form.cleaned_data.get("consignments", ())),
                by=request.user,
                at=at,
                received_at=form.moment(),
                earlier_reason=form.cleaned_data["earlier_reason"],
                transport=form.transport(),
                token=form.cleaned_data["token"],
            )
        except AlreadyDone as done:
            made.append(str(done.outcome.get("number", "")))
            raise
        made.append(arrival.number)

    return made[-1] if took_effect(request, form, act) and made else ""


def _status(form: object) -> int:
    if getattr(form, "stale", False):
        return CONFLICT
    return CANNOT_BE_TAKEN if form.errors else 200


@require_GET
@for_reception
def arrival(request: HttpRequest, number: str) -> HttpResponse:
    """One arrival: how the box came and how every bottle of it stands."""
    found = arrival_or_404(request, number)
    consignments = found.consignments.select_related("group")
    context = {
        "at": request.at,
        "zone": LAB_ZONE,
        "arrival": found,
        "progress": Progress.of(found),
        "photographs": found.photographs.filter(removed_at__isnull=True).count(),
        "consignments": consignments,
        "unnamed": [one for one in consignments if is_unnamed(one)],
        "amended": told_after_sending(consignments),
    }
    return render(request, "intake/arrival.html", context)


@require_http_methods(GET_OR_POST)
@for_reception
def arrival_transport(request: HttpRequest, number: str) -> HttpResponse:
    """State or correct how the box came; every bottle checked in it is judged anew."""
    at = request.at
    found = arrival_or_404(request, number)
    require_open(found)
    form = AmendTransportForm(request.POST or None, initial=AmendTransportForm.of(found))
    if request.method == "POST" and form.is_valid():

        def act() -> None:
            receiving.amend_transport(found, by=request.user, at=at, transport=form.transport())

        if took_effect(request, form, act):
            messages.success(request, _("The transport is written down; its bottles are judged anew."))
            return redirect("intake:arrival", found.number)
    context = {"at": at, "zone": LAB_ZONE, "form": form, "arrival": found}
    return render(request, "intake/arrival_transport.html", context, status=_status(form))


@require_http_methods(GET_OR_POST)
@for_reception
def arrival_add(request: HttpRequest, number: str) -> HttpResponse:
    """A further consignment was found in the box."""
    at = request.at
    found = arrival_or_404(request, number)
    require_open(found)
    form = AddConsignmentForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        consignment = _named(request, form.cleaned_data["number"])
        if consignment is None:
            form.add_error("number", _("No consignment or bottle sent to us has this number. Scan it again."))
        elif took_effect(
            request, form, lambda: receiving.add_consignment(found, consignment, by=request.user, at=at)
        ):
            messages.success(request, _("%(one)s is part of this arrival.") % {"one": consignment})
            return redirect("intake:arrival", found.number)
    context = {"at": at, "zone": LAB_ZONE, "form": form, "arrival": found}
    return render(request, "intake/arrival_add.html", context, status=_status(form))


def _named(request: HttpRequest, text: str) -> Consignment | None:
    """The consignment that a consignment's or a bottle's number names."""
    entry = read(text)
    seen = Consignment.objects.visible_to(request.user)
    if entry.kind is Kind.BOTTLE:
        return seen.filter(bottles__number=entry.value).first()
    return seen.filter(number=entry.value).first() if entry.kind is Kind.CONSIGNMENT else None


@require_http_methods(GET_OR_POST)
@for_reception
def arrival_close(request: HttpRequest, number: str) -> HttpResponse:
    """Finish an arrival; what is missing is listed before it is said so."""
    at = request.at
    found = arrival_or_404(request, number)
    require_open(found)
    progress = Progress.of(found)
    begin = {"token": new_token()}
    form = CloseArrivalForm(
        posted(request),
        unchecked=bool(progress.unchecked),
        absent=bool(progress.to_come),
        initial=begin,
    )
    if request.method == "POST" and form.is_valid():

        def act() -> None:
            receiving.close_arrival(
                found,
                by=request.user,
                at=at,
                more_to_come=form.more(),
                scanned_are_here=form.scanned_are_here(),
                token=form.cleaned_data["token"],
            )

        if took_effect(request, form, act):
            messages.success(request, _("Arrival %(one)s is closed; the group is told.") % {"one": found})
            return redirect("intake:arrival", found.number)
    beside = Arrival.objects.visible_to(request.user).on_the_bench().exclude(pk=found.pk)
    context = {
        "at": at,
        "zone": LAB_ZONE,
        "form": form,
        "arrival": found,
        "progress": progress,
        "beside": beside.filter(consignments__arrivals=found).distinct(),
    }
    return render(request, "intake/arrival_close.html", context, status=_status(form))


@require_http_methods(GET_OR_POST)
@for_reception
def arrival_unannounced(request: HttpRequest, number: str) -> HttpResponse:
    """Take in a bottle that nobody announced, with a number of ours."""
    at = request.at
    found = arrival_or_404(request, number)
    require_open(found)
    form = UnannouncedForm(
        request.POST or None,
        consignments=found.consignments.all(),
        groups=Group.objects.visible_to(request.user).filter(active=True),
        initial={"token": new_token(), "own_id": request.GET.get("own_id", "")[:60]},
    )
    if request.method == "POST" and form.is_valid():
        taken: list[Bottle] = []

        def act() -> None:
            said = form.cleaned_data
            taken.append(
                take_in_unannounced(
                    found,
                    by=request.user,
                    at=at,
                    entry=form.entry(),
                    consignment=said["consignment"],
                    group=said["group"],
                    token=said["token"],
                )
            )

        if took_effect(request, form, act):
            where = f"{_desk(found)}?on={taken[0].number}" if taken else _desk(found)
            return redirect(where)
    context = {"at": at, "zone": LAB_ZONE, "form": form, "arrival": found}
    return render(request, "intake/arrival_unannounced.html", context, status=_status(form))


@require_http_methods(GET_OR_POST)
@for_reception
def arrival_group(request: HttpRequest, number: str) -> HttpResponse:
    """Say whose bottles came, once it is known; before and after the arrival is closed."""
    found = arrival_or_404(request, number)
    waiting = [one for one in found.consignments.select_related("group") if is_unnamed(one)]
    form = NameGroupForm(
        posted(request),
        consignments=found.consignments.filter(pk__in=[one.pk for one in waiting]),
        groups=Group.objects.visible_to(request.user).filter(active=True),
        initial={"token": new_token()},
    )
    if form.is_valid():
        said = form.cleaned_data

        def act() -> None:
            name_group(
                said["consignment"], by=request.user, at=request.at, group=said["group"], token=said["token"]
            )

        if took_effect(request, form, act):
            messages.success(request, _("The group is named and told."))
            return redirect("intake:arrival", found.number)
    context = {"at": request.at, "zone": LAB_ZONE, "form": form, "arrival": found, "waiting": waiting}
    return render(request, "intake/arrival_group.html", context, status=_status(form))
