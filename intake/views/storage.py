"""Storage: putting bottles into places by scanning, what stands where, and discarding."""

from __future__ import annotations

from dataclasses import asdict, dataclass

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_safe

from intake import numbers
from intake.actions.stowing import discard_bottle, discardable, make_place, store_bottle
from intake.errors import AlreadyDone, Refused
from intake.forms.scans import Entry, Kind, read
from intake.forms.storage import PlaceForm, StoreScanForm
from intake.hazards import hazards_of
from intake.models import Bottle, StoragePlace, User
from intake.papers.placecard import place_card_pdf
from intake.views.answers import CANNOT_BE_TAKEN, new_token
from intake.views.bench import LAB_ZONE, for_reception, scanned_at, took_effect, wants_data
from intake.views.papers import pdf_answer

GET_OR_POST = ("GET", "HEAD", "POST")
PAGE = 100
PLACES = StoragePlace.objects.select_related("inside__inside__inside")


@dataclass(frozen=True, slots=True)
class Said:
    """What a scan is answered with: tone, word and sentence, as at the desk."""

    tone: str
    word: str
    sentence: str


READY = Said(
    "told", gettext_lazy("Ready"), gettext_lazy("Scan a place, then every bottle that goes into it.")
)


def _place(number: str) -> StoragePlace | None:
    return PLACES.filter(number=numbers.tidy(number)).first() if number else None


def _bottle(user: User, entry: Entry) -> Bottle | None:
    visible = Bottle.objects.visible_to(user).filter(number=entry.value)
    return visible.select_related("sample", "consignment", "stored_in__inside__inside__inside").first()


def _not_a_bottle(entry: Entry) -> Said:
    if entry.kind is Kind.NOTHING:
        return Said("told", _("Nothing scanned"), _("Scan a number."))
    if entry.kind is Kind.MISREAD:
        sentence = _("“%(text)s” looks like a number of ours but was read or typed wrong. Scan it again.")
        return Said("stopped", _("Misread"), sentence % {"text": entry.value})
    if entry.kind is Kind.BOTTLE:
        sentence = _("No bottle that was sent to us has this number.")
        return Said("stopped", _("Unknown bottle"), sentence)
    sentence = _("“%(text)s” is no number of a bottle. Scan our label.") % {"text": entry.value}
    return Said("stopped", _("Not a bottle"), sentence)


def _recorded_already() -> Said:
    return Said("told", _("Recorded already"), _("This was recorded the first time; nothing changed now."))


@require_http_methods(GET_OR_POST)
@scanned_at
def storage(request: HttpRequest) -> HttpResponse:
    """Scan a place, then bottles: each is put there. Beside it every place with what it holds."""
    place, said = _place(request.GET.get("place", "")), READY
    if request.method == "POST":
        place, said = _store(request)
    context = {
        "at": request.at,
        "zone": LAB_ZONE,
        "said": said,
        "place": place,
        "token": new_token(),
        "places": PLACES.annotate(held=Count("bottles")),
        "due": discardable(request.at).count(),
    }
    return _answered(request, context, "intake/storage.html", "intake/_store_places.html")


def _answered(request: HttpRequest, context: dict[str, object], page: str, panel: str) -> HttpResponse:
    """The page; for its script what was said and the part that changes."""
    if not wants_data(request):
        return render(request, page, context)
    place = context.get("place")
    told = {
        **asdict(context["said"]),
        "place": place.number if place else "",
        "panel": render_to_string(panel, context, request),
    }
    return JsonResponse(told)


def _store(request: HttpRequest) -> tuple[StoragePlace | None, Said]:
    """What a scan on the page of storage does: choose a place, or move a bottle."""
    form = StoreScanForm(request.POST)
    if not form.is_valid():
        return None, Said("stopped", _("Not recorded"), _("That could not be read. Scan it again."))
    place, entry = _place(form.cleaned_data["place"]), read(form.cleaned_data["text"])
    if entry.kind is Kind.PLACE:
        chosen = _place(entry.value)
        if chosen is None:
            return place, Said("stopped", _("Unknown place"), _("No place of ours has this number."))
        return chosen, Said("look", chosen.name, _("Now scan the bottles that go in here."))
    bottle = _bottle(request.user, entry) if entry.kind is Kind.BOTTLE else None
    if bottle is None:
        return place, _not_a_bottle(entry)
    if place is None:
        return None, Said("stopped", _("Which place?"), _where(bottle))
    try:
        store_bottle(bottle, place, by=request.user, at=request.at, token=form.cleaned_data["token"])
    except AlreadyDone:
        return place, _recorded_already()
    except Refused as problem:
        return place, Said("stopped", _("Not recorded"), problem.sentence)
    sentence = _("%(bottle)s (%(sample)s) stands in %(place)s.") % {
        "bottle": bottle,
        "sample": bottle.sample.own_id,
        "place": place.where,
    }
    return place, Said("accepted", _("Stored"), sentence)


def _where(bottle: Bottle) -> str:
    """Where a bottle stands, for somebody who scanned it without a place."""
    if bottle.stored_in is None:
        return _("%(bottle)s stands in no place yet. Scan the place first, then the bottle.") % {
            "bottle": bottle
        }
    return _("%(bottle)s stands in %(place)s. To move it, scan the new place first.") % {
        "bottle": bottle,
        "place": bottle.stored_in.where,
    }


@require_safe
@for_reception
def place(request: HttpRequest, number: str) -> HttpResponse:
    """One place and the bottles in it."""
    found = _place(number)
    if found is None:
        raise Http404
    bottles = found.bottles.select_related("sample", "consignment__group").order_by("stored_at", "pk")
    context = {
        "at": request.at,
        "zone": LAB_ZONE,
        "place": found,
        "parts": found.parts.annotate(held=Count("bottles")),
        "page": Paginator(bottles, PAGE).get_page(request.GET.get("page")),
    }
    return render(request, "intake/place.html", context)


@require_safe
@for_reception
def place_card(request: HttpRequest, number: str) -> HttpResponse:
    """The card to stick on a place: its number as a code, and its name."""
    found = _place(number)
    if found is None:
        raise Http404
    return pdf_answer(place_card_pdf(found), f"place-{found.number}")


@require_http_methods(GET_OR_POST)
@for_reception
def place_new(request: HttpRequest) -> HttpResponse:
    form = PlaceForm(request.POST if request.method == "POST" else None, initial={"token": new_token()})
    if form.is_valid():

        def act() -> None:
            make_place(
                by=request.user,
                at=request.at,
                **{name: form.cleaned_data[name] for name in ("name", "kind", "inside", "token")},
            )

        if took_effect(request, form, act):
            messages.success(request, _("The place is made. Print its card and stick it on."))
            return redirect("intake:storage")
    context = {"at": request.at, "zone": LAB_ZONE, "form": form}
    status = CANNOT_BE_TAKEN if form.errors else 200
    return render(request, "intake/place_new.html", context, status=status)


@require_http_methods(GET_OR_POST)
@scanned_at
def discarding(request: HttpRequest) -> HttpResponse:
    """What is to be discarded, with its hazards; each scan confirms one bottle."""
    said = Said("told", _("Ready"), _("Scan each bottle as you discard it."))
    if request.method == "POST":
        said = _discard(request)
    due = discardable(request.at).select_related(
        "sample", "consignment__group", "stored_in__inside__inside__inside"
    )
    page = Paginator(due.order_by("stored_in", "pk"), PAGE).get_page(request.GET.get("page"))
    context = {
        "at": request.at,
        "zone": LAB_ZONE,
        "said": said,
        "token": new_token(),
        "days": settings.DISCARD_AFTER_DAYS,
        "page": page,
        "rows": [(bottle, hazards_of(bottle)) for bottle in page],
    }
    return _answered(request, context, "intake/discarding.html", "intake/_discard_list.html")


def _discard(request: HttpRequest) -> Said:
    form = StoreScanForm(request.POST)
    if not form.is_valid():
        return Said("stopped", _("Not recorded"), _("That could not be read. Scan it again."))
    entry = read(form.cleaned_data["text"])
    bottle = _bottle(request.user, entry) if entry.kind is Kind.BOTTLE else None
    if bottle is None:
        return _not_a_bottle(entry)
    try:
        discard_bottle(bottle, by=request.user, at=request.at, token=form.cleaned_data["token"])
    except AlreadyDone:
        return _recorded_already()
    except Refused as problem:
        return Said("stopped", _("Keep it"), problem.sentence)
    return Said("accepted", _("Discarded"), _("%(bottle)s is noted as discarded.") % {"bottle": bottle})
