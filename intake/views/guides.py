"""Help: a guide for each role, and the trade's reasons. Open to everybody, signed in or not."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_safe

from intake.choices import Role
from intake.pictures.drawings import floor_curve, nitrate_bars
from intake.reasons import BY_SLUG, REASONS
from intake.rules.catalogue import ALL

GUIDES = {
    Role.SUBMITTER: (_("Sending samples"), _("From the evening before the field day to the statement.")),
    Role.RECEPTION: (_("At reception"), _("Emptying a box in minutes and missing nothing.")),
    Role.MANAGER: (_("Running the laboratory"), _("The queue, the plan, the runs and the closing document.")),
}

#: The usual dose of the house rulebook, for the drawing: in 50 mL, 0.5 mL of 1 mol/L.
USUAL_DOSE = (50.0, 0.5, 1.0)


def _guides(first: str) -> list[dict[str, object]]:
    """All guides, that of the person's own role first."""
    roles = sorted(GUIDES, key=lambda role: role != first)
    return [{"role": role.value, "title": GUIDES[role][0], "lead": GUIDES[role][1]} for role in roles]


@require_safe
def guides(request: HttpRequest) -> HttpResponse:
    """Where all help begins."""
    first = request.user.role if request.user.is_authenticated else Role.SUBMITTER
    return render(request, "intake/help/index.html", {"guides": _guides(first), "reasons": REASONS})


@require_safe
def guide(request: HttpRequest, role: str) -> HttpResponse:
    """How one role does its work, in the order it comes."""
    if role not in GUIDES:
        raise Http404
    title, lead = GUIDES[Role(role)]
    return render(
        request, f"intake/help/guide_{role}.html", {"title": title, "lead": lead, "reasons": REASONS}
    )


@require_safe
def reason(request: HttpRequest, slug: str) -> HttpResponse:
    """One reason of the trade, with its drawing and the findings it stands behind."""
    if slug not in BY_SLUG:
        raise Http404
    found = BY_SLUG[slug]
    rules = [rule for rule in ALL if rule.code.partition(".")[0] in found.subjects]
    return render(request, found.template, {"reason": found, "rules": rules, **_worked_out(slug)})


def _worked_out(slug: str) -> dict[str, object]:
    """The figures of the two drawings that have any."""
    if slug == "acid":
        return {"bars": nitrate_bars(*USUAL_DOSE)}
    return {"curve": floor_curve()} if slug == "readings" else {}
