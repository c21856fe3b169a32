"""Papers to print: labels, packing list, field card."""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from intake import numbers
from intake.actions.judging import rulebook_of
from intake.forms.papers import LabelForm
from intake.models import Bottle, Consignment, RulebookVersion
from intake.papers.fieldcard import field_card_pdf
from intake.papers.formats import default_format, formats
from intake.papers.labels import labels_pdf
from intake.papers.packing import packing_list_pdf
from intake.papers.slip import Slip, arrival_slip_pdf
from intake.views.answers import CANNOT_BE_TAKEN, consignment_or_404


def pdf_answer(content: bytes, name: str) -> HttpResponse:
    """``content`` to be shown by the browser, under ``name`` when it is kept."""
    return HttpResponse(
        content,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}.pdf"'},
    )


def _bottles(consignment: Consignment) -> list[Bottle]:
    bottles = consignment.bottles.select_related("sample").order_by("sample__position", "line", "pk")
    for bottle in bottles:
        bottle.consignment = consignment
    return list(bottles)


@login_required
@require_safe
def labels(request: HttpRequest, number: str) -> HttpResponse:
    """Choose a sheet, then get the labels of every bottle as PDF."""
    consignment = consignment_or_404(request, number)
    asked = "form" in request.GET
    known = formats()
    form = LabelForm(
        request.GET if asked else None,
        choices=[(code, size.name) for code, size in known.items()],
        first_choice=default_format().code,
    )
    if asked and form.is_valid():
        chosen = known[form.cleaned_data["form"]]
        content = labels_pdf(_bottles(consignment), chosen, form.cleaned_data["first"])
        return pdf_answer(content, f"labels-{consignment.number}")
    context = {"consignment": consignment, "form": form, "at": timezone.now()}
    return render(request, "intake/labels.html", context, status=CANNOT_BE_TAKEN if asked else 200)


@login_required
@require_safe
def packing_list(request: HttpRequest, number: str) -> HttpResponse:
    consignment = consignment_or_404(request, number)
    content = packing_list_pdf(consignment, _bottles(consignment))
    return pdf_answer(content, f"packing-list-{consignment.number}")


@login_required
@require_safe
def arrival_slip(request: HttpRequest, number: str, arrival: str) -> HttpResponse:
    """What an arrival brought of this consignment. Of others in the same box it says nothing."""
    consignment = consignment_or_404(request, number)
    came = consignment.arrivals.select_related("received_by").filter(number=numbers.tidy(arrival)).first()
    if came is None:
        raise Http404
    bottles = consignment.bottles.with_next_due(request.at).with_scanned(came).select_related("sample")
    slip = Slip(
        consignment,
        came,
        list(bottles.order_by("sample__position", "line", "pk")),
        list(consignment.questions.open().filter(arrival=came).prefetch_related("asked").most_urgent_first()),
    )
    content = arrival_slip_pdf(slip, settings.SITE_ADDRESS)
    return pdf_answer(content, f"arrival-{consignment.number}-{came.number}")


@require_safe
def blank_field_card(request: HttpRequest) -> HttpResponse:
    """The card of the default rulebook. Open to everybody: it tells only how to sample."""
    version = get_object_or_404(RulebookVersion, default=True)
    return pdf_answer(field_card_pdf(rulebook_of(version), None, None), "field-card")
