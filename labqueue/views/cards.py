"""The field card of one consignment, which needs the laboratory's hours and runs."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from intake.actions.judging import rulebook_of
from intake.papers.fieldcard import field_card_pdf
from intake.rules.facts import AcidKind, Line
from intake.views.answers import consignment_or_404
from intake.views.papers import pdf_answer
from labqueue.reaching import send_by


@login_required
@require_safe
def field_card(request: HttpRequest, number: str) -> HttpResponse:
    """The card of one consignment: the doses meant for its bottles, and by when the box has to come."""
    consignment = consignment_or_404(request, number)
    meant = consignment.bottles.filter(line=Line.CATION.value, acid_kind=AcidKind.NITRIC.value)
    doses = meant.filter(acid_ml__gt=0, acid_mol_l__gt=0).values_list("acid_ml", "acid_mol_l")
    content = field_card_pdf(
        rulebook_of(consignment.rulebook),
        consignment,
        send_by(consignment, request.at),
        list(doses.order_by("acid_ml", "acid_mol_l").distinct()),
    )
    return pdf_answer(content, f"field-card-{consignment.number}")
