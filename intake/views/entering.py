"""Entering samples on one page, a row each, as on a sheet."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from intake.actions.amending import require_amendable
from intake.actions.registering import enter_samples
from intake.errors import AlreadyDone, Refused
from intake.forms.once import SamplesForm
from intake.models import Consignment
from intake.permissions import require
from intake.phrasebook import said
from intake.sheets.columns import COLUMNS
from intake.sheets.grid import MOST_ROWS, PostedRow, posted_rows, refuse_too_many, renamed
from intake.sheets.gridpage import Grid, grid_of_posted, grid_of_standings
from intake.sheets.problems import CellProblem
from intake.sheets.table import Reading, read_rows
from intake.standing import standings
from intake.telling import tell
from intake.views.answers import (
    CANNOT_BE_TAKEN,
    add_refusal,
    changes_since,
    consignment_or_404,
    fresh,
    new_token,
    refusals_explained,
    status_of,
    token_with_content,
)


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
@refusals_explained
def samples(request: HttpRequest, number: str) -> HttpResponse:
    """The page of samples: read it, or save it whole."""
    at = timezone.now()
    consignment = consignment_or_404(request, number)
    require(request.user, "consignment.amend", consignment)
    require_amendable(consignment)
    if request.method == "POST":
        return _save(request, consignment, at)
    if consignment.samples.count() > MOST_ROWS:
        messages.info(request, _("There are too many samples for the page; use the spreadsheet."))
        return redirect("intake:sheet", consignment.number)
    stored = standings(consignment.samples.order_by("position", "pk"), consignment)
    once = SamplesForm(was_sent=consignment.is_sent, initial=fresh(consignment))
    return _page(request, consignment, once, grid_of_standings(stored, consignment.zone), at)


def _save(request: HttpRequest, consignment: Consignment, at: datetime) -> HttpResponse:
    rows = posted_rows(request.POST)
    once = SamplesForm(request.POST, was_sent=consignment.is_sent)
    reading = read_rows((row.raw() for row in rows), consignment.zone)
    once.full_clean()
    if reading.problems or once.errors:
        once.reread(token=new_token())  # what the page was read at stays what it was
        return _again(request, consignment, once, rows, at, CANNOT_BE_TAKEN, reading.problems)
    try:
        refuse_too_many(rows)
        enter_samples(
            consignment,
            reading.entries,
            by=request.user,
            at=at,
            version=once.read_version(),
            renamed=_renamed(consignment, rows, reading),
            reason=once.why(),
            told=once.cleaned_data["told"],
            token=token_with_content(
                once.cleaned_data["token"],
                [
                    *once.content(),
                    *((f"{row.number} {code}", text) for row in rows for code, text in row.texts.items()),
                ],
            ),
        )
    except AlreadyDone:
        messages.info(request, _("This was saved already; sending it again changed nothing."))
    except Refused as problem:
        newer = changes_since(consignment, once.cleaned_data.get("seen"), problem)
        consignment.refresh_from_db()
        once.reread(**fresh(consignment), told=getattr(problem, "told", ""))
        add_refusal(once, problem)
        return _again(
            request,
            consignment,
            once,
            rows,
            at,
            status_of(problem),
            general=once.non_field_errors(),
            newer=[tell(entry, consignment.zone) for entry in newer],
        )
    else:
        messages.success(request, _said(len(reading.entries)))
    return redirect("intake:samples", consignment.number)


def _renamed(consignment: Consignment, rows: list[PostedRow], reading: Reading) -> dict[str, str]:
    return renamed(rows, reading, consignment.samples.values_list("own_id", flat=True))


def _said(count: int) -> str:
    if count == 1:
        return _("Saved: 1 sample, judged anew. What the rules found stands at its cells.")
    return _("Saved: %(count)s samples, judged anew. What the rules found stands at the cells.") % {
        "count": count
    }


def _again(
    request: HttpRequest,
    consignment: Consignment,
    once: SamplesForm,
    rows: list[PostedRow],
    at: datetime,
    status: int,
    problems: tuple[CellProblem, ...] = (),
    **more: object,
) -> HttpResponse:
    """The page with all that was typed and why it is not saved."""
    return _page(request, consignment, once, grid_of_posted(rows, problems), at, status, **more)


def _page(
    request: HttpRequest,
    consignment: Consignment,
    once: SamplesForm,
    grid: Grid,
    at: datetime,
    status: int = 200,
    **more: object,
) -> HttpResponse:
    unsaid = once.errors.get("reason", []) if once.is_bound else []
    wrong = [{"address": "#id_reason", "sentence": sentence} for sentence in unsaid] + [
        {
            "address": f"#r{problem.row}-{problem.column}",
            "sentence": f"{capfirst(said(problem.place))}: {said(problem.sentence)}",
        }
        for problem in grid.problems
    ]
    context: dict[str, Any] = {
        "at": at,
        "zone": consignment.zone,
        "consignment": consignment,
        "grid": grid,
        "once": once,
        "wrong": wrong,
        "most_rows": MOST_ROWS,
        "width": len(COLUMNS) + 2,
        "keeper": f"labqueue:samples:{request.user.pk}:{consignment.number}",
        "sign_in": f"{reverse('account_login')}?next={request.path}",
        **more,
    }
    return render(request, "intake/samples.html", context, status=status)
