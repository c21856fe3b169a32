"""Samples by spreadsheet: download the workbook, upload it filled, look at the changes, confirm."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_safe

from intake.actions.amending import require_amendable
from intake.actions.confirming import Unconfirmed, digest_of, new_doubts
from intake.actions.entries import SampleEntry
from intake.actions.registering import enter_samples
from intake.actions.staging import correct_sheet, read_later, save_later, stage_sheet, staged_sheet
from intake.errors import AlreadyDone, SomebodyWasFaster
from intake.forms.once import SamplesForm
from intake.forms.sheets import UploadForm
from intake.models import Consignment, Job, StagedSheet
from intake.permissions import require
from intake.phrasebook import said
from intake.sheets.apart import read_apart
from intake.sheets.columns import COLUMNS
from intake.sheets.comparing import Comparison, compare
from intake.sheets.correcting import corrected, corrections_of, rows_to_correct
from intake.sheets.doubts import causes_of
from intake.sheets.grid import posted_rows
from intake.sheets.gridpage import grid_of_posted
from intake.sheets.guard import MOST_BYTES, guard
from intake.sheets.mark import marked_workbook
from intake.sheets.packed import unpack
from intake.sheets.problems import SheetProblem
from intake.sheets.read import Sheet
from intake.sheets.rowtexts import entry_of
from intake.sheets.table import Reading, read_rows
from intake.sheets.write import consignment_workbook
from intake.standing import standings
from intake.telling import tell
from intake.views.answers import (
    CANNOT_BE_TAKEN,
    changes_since,
    consignment_or_404,
    fresh,
    posted,
    refusals_explained,
    status_of,
    token_with_content,
)
from intake.views.files import XLSX, file_answer

#: Faults and changes beyond this many are counted, not listed, so that the page stays readable.
MOST_SHOWN = 300
#: A larger workbook is read, and more rows are saved, beside the requests: half a second's work or more.
BIG_BYTES = 100_000
BIG_ROWS = 500


def _amendable(request: HttpRequest, number: str) -> Consignment:
    """The consignment, if the person may enter samples of it now."""
    consignment = consignment_or_404(request, number)
    require(request.user, "consignment.amend", consignment)
    require_amendable(consignment)
    return consignment


def _entries(consignment: Consignment) -> list[SampleEntry]:
    stored = standings(consignment.samples.order_by("position", "pk"), consignment)
    return [entry_of(standing.sample, [item.bottle for item in standing.bottles]) for standing in stored]


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
@refusals_explained
def sheet(request: HttpRequest, number: str) -> HttpResponse:
    """Download and upload. A sheet with faults shows them all and saves nothing."""
    at = timezone.now()
    consignment = _amendable(request, number)
    form = UploadForm(posted(request), request.FILES or None)
    context: dict[str, Any] = {"at": at, "zone": consignment.zone, "consignment": consignment, "form": form}
    context["job"] = Job.objects.sheets_of(consignment, request.user).first()
    if request.method != "POST":
        return render(request, "intake/sheet.html", context)
    if form.is_valid():
        upload = form.cleaned_data["sheet"]
        content = upload.read(MOST_BYTES + 1)
        try:
            if len(content) > BIG_BYTES:
                return _read_later(request, consignment, content, upload.name, at)
            cells = read_apart(content, number=consignment.number, zone=consignment.zone)
        except SheetProblem as problem:
            form.add_error("sheet", said(problem.sentence))
        else:
            staged = stage_sheet(
                consignment, by=request.user, at=at, content=content, cells=cells, name=upload.name
            )
            found, reading = _read(staged, consignment)
            if not reading.problems:
                return redirect("intake:sheet_confirm", consignment.number, staged.key)
            return _faults(request, consignment, staged, found, reading, at)
    return render(request, "intake/sheet.html", context, status=CANNOT_BE_TAKEN)


def _read_later(
    request: HttpRequest, consignment: Consignment, content: bytes, name: str, at: datetime
) -> HttpResponse:
    """Have a big upload read beside the requests, and show how far that is."""
    guard(content)
    with transaction.atomic():
        staged = stage_sheet(consignment, by=request.user, at=at, content=content, name=name)
        job = read_later(staged, by=request.user, at=at)
    return redirect("intake:job", job.key)


def _faults(
    request: HttpRequest,
    consignment: Consignment,
    staged: StagedSheet,
    found: Sheet,
    reading: Reading,
    at: datetime,
) -> HttpResponse:
    """The rows with faults as a table in which they can be put right."""
    rows = rows_to_correct(found, reading.problems)
    shown = {row.number for row in rows}
    context = {
        "at": at,
        "zone": consignment.zone,
        "consignment": consignment,
        "staged": staged,
        "grid": grid_of_posted(rows, [problem for problem in reading.problems if problem.row in shown]),
        "width": len(COLUMNS) + 2,
        "fault_count": len(reading.problems),
        "row_count": len({problem.row for problem in reading.problems}),
        "faults": reading.problems[:MOST_SHOWN],
    }
    return render(request, "intake/sheet_correct.html", context, status=CANNOT_BE_TAKEN)


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
@refusals_explained
def sheet_correct(request: HttpRequest, number: str, key: str) -> HttpResponse:
    """Put faulty cells of an upload right on the page; the whole sheet is then checked again."""
    at = timezone.now()
    consignment = _amendable(request, number)
    staged = staged_sheet(consignment, by=request.user, at=at, key=key)
    found, reading = _read(staged, consignment)
    if request.method == "POST":
        cells = corrections_of(found, posted_rows(request.POST))
        staged = correct_sheet(staged, by=request.user, at=at, cells=cells)
        found, reading = _read(staged, consignment)
    if reading.problems:
        return _faults(request, consignment, staged, found, reading, at)
    return redirect("intake:sheet_confirm", consignment.number, staged.key)


@require_safe
@login_required
@refusals_explained
def sheet_file(request: HttpRequest, number: str) -> HttpResponse:
    """The workbook of a consignment, with what is entered already in it."""
    consignment = _amendable(request, number)
    content = consignment_workbook(
        number=consignment.number,
        title=consignment.title,
        zone=consignment.zone,
        entries=_entries(consignment),
    )
    return file_answer(content, f"{consignment.number}.xlsx", XLSX)


def _read(staged: StagedSheet, consignment: Consignment) -> tuple[Sheet, Reading]:
    """The upload with what was put right in it, and what it says."""
    if not staged.cells:
        raise SheetProblem(_("This workbook is still being read. Wait a moment, then load the page anew."))
    found = corrected(unpack(staged.cells), staged.corrections)
    reading = read_rows(found.rows, consignment.zone, found.letters)
    if not reading.entries and not reading.problems:
        raise SheetProblem(
            _(
                "There is no sample in this workbook. Fill one row for each sample under the headings, "
                "save the workbook and upload it again."
            )
        )
    return found, reading


@require_safe
@login_required
@refusals_explained
def sheet_marked(request: HttpRequest, number: str, key: str) -> HttpResponse:
    """The uploaded workbook with its faults marked in the cells."""
    at = timezone.now()
    consignment = _amendable(request, number)
    staged = staged_sheet(consignment, by=request.user, at=at, key=key)
    found, reading = _read(staged, consignment)
    content = marked_workbook(bytes(staged.content), found, reading.problems, staged.corrections, said)
    return file_answer(content, f"{consignment.number}-to-correct.xlsx", XLSX)


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
@refusals_explained
def sheet_confirm(request: HttpRequest, number: str, key: str) -> HttpResponse:
    """Show what an uploaded sheet would change; on a yes, save it whole."""
    at = timezone.now()
    consignment = _amendable(request, number)
    staged = staged_sheet(consignment, by=request.user, at=at, key=key)
    found, reading = _read(staged, consignment)
    if reading.problems:
        return redirect("intake:sheet_correct", consignment.number, staged.key)
    doubts = new_doubts(consignment, reading.entries, at=at)
    told = digest_of(doubts)
    initial = {**fresh(consignment), "told": told}
    once = SamplesForm(posted(request), was_sent=consignment.is_sent, initial=initial)
    more: dict[str, Any] = {"extra": found.extra, "absent": found.absent, "doubted": causes_of(doubts)}
    if request.method == "POST" and once.is_valid():
        if len(reading.entries) > BIG_ROWS:
            return _save_later(request, staged, once, at)
        try:
            _enter(request, consignment, reading, once, at, staged)
        except AlreadyDone:
            messages.info(request, _("This was saved already; sending it again changed nothing."))
        except (SomebodyWasFaster, Unconfirmed) as problem:
            newer = changes_since(consignment, once.cleaned_data["seen"], problem)
            consignment.refresh_from_db()
            more["problem"] = problem
            more["newer"] = [tell(entry, consignment.zone) for entry in newer]
            once.reread(**fresh(consignment), told=told)
            return _show(request, consignment, staged, reading, once, at, status_of(problem), more)
        else:
            messages.success(request, _said(len(reading.entries)))
        return redirect("intake:samples", consignment.number)
    status = CANNOT_BE_TAKEN if once.is_bound else 200
    return _show(request, consignment, staged, reading, once, at, status, more)


def _token(staged: StagedSheet, once: SamplesForm) -> str:
    return token_with_content(once.cleaned_data["token"], [("sheet", staged.key), *once.content()])


def _save_later(request: HttpRequest, staged: StagedSheet, once: SamplesForm, at: datetime) -> HttpResponse:
    """Have the samples of a big upload saved beside the requests, and show how far that is."""
    job = save_later(
        staged,
        by=request.user,
        at=at,
        version=once.read_version(),
        reason=once.why(),
        told=once.cleaned_data["told"],
        token=_token(staged, once),
    )
    return redirect("intake:job", job.key)


def _enter(
    request: HttpRequest,
    consignment: Consignment,
    reading: Reading,
    once: SamplesForm,
    at: datetime,
    staged: StagedSheet,
) -> None:
    enter_samples(
        consignment,
        reading.entries,
        by=request.user,
        at=at,
        version=once.read_version(),
        reason=once.why(),
        told=once.cleaned_data["told"],
        token=_token(staged, once),
    )


def _said(count: int) -> str:
    return ngettext(
        "Saved: %(count)s sample from the sheet, judged anew.",
        "Saved: %(count)s samples from the sheet, judged anew.",
        count,
    ) % {"count": count}


def _show(
    request: HttpRequest,
    consignment: Consignment,
    staged: StagedSheet,
    reading: Reading,
    once: SamplesForm,
    at: datetime,
    status: int,
    more: dict[str, Any],
) -> HttpResponse:
    comparison: Comparison = compare(_entries(consignment), reading.entries, consignment.zone)
    context = {
        "at": at,
        "zone": consignment.zone,
        "consignment": consignment,
        "staged": staged,
        "comparison": comparison,
        "changed": comparison.changed[:MOST_SHOWN],
        "unlisted": max(0, len(comparison.changed) - MOST_SHOWN),
        "once": once,
        **more,
    }
    return render(request, "intake/sheet_confirm.html", context, status=status)
