"""Statements: the draft to look at before issuing, the statement itself, and its files."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from intake.actions.closing import issue_statement, latest_statement
from intake.actions.steps import is_spent
from intake.errors import AlreadyDone, MoveNotAllowed, Refused, SomebodyWasFaster
from intake.forms.statements import IssueForm
from intake.models import Consignment, Statement
from intake.papers.statement import statement_pdf
from intake.permissions import can, require
from intake.saying import VOID, about_content, about_release, notes, replaced_words, said_samples
from intake.sealing import digest_of, is_sound
from intake.sheets.statement import statement_csv, statement_workbook
from intake.states import ConsignmentState
from intake.stating import open_bottles, statement_content
from intake.views.answers import (
    CANNOT_BE_TAKEN,
    add_refusal,
    consignment_or_404,
    new_token,
    posted,
    refusals_explained,
    status_of,
    token_with_content,
)
from intake.views.files import CSV, XLSX, file_answer
from intake.views.papers import pdf_answer


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
@refusals_explained
def statement_draft(request: HttpRequest, number: str) -> HttpResponse:
    """What a statement would say now; a manager reads it and issues it."""
    consignment = consignment_or_404(request, number)
    require(request.user, "statement.issue", consignment)
    _require_received(consignment)
    former = latest_statement(consignment)
    waiting = open_bottles(consignment)
    content = statement_content(consignment)
    seen = {"token": new_token(), "content": digest_of(content)}
    form = IssueForm(posted(request), correction=former is not None, waiting=waiting > 0, initial=seen)
    status = 200
    if form.is_bound and is_spent(_token(form)):
        return _issued_already(request, consignment)
    if form.is_valid():
        try:
            made = _issue(request, consignment, form)
        except AlreadyDone:
            return _issued_already(request, consignment)
        except Refused as problem:
            if isinstance(problem, SomebodyWasFaster):
                form.reread(**seen)
            add_refusal(form, problem)
            status = status_of(problem)
        else:
            messages.success(request, _("Issued. The group was told by mail."))
            return redirect("intake:statement", made.number)
    elif form.is_bound:
        status = CANNOT_BE_TAKEN
    context = {
        "at": request.at,
        "zone": consignment.zone,
        "consignment": consignment,
        "former": former,
        "facts": about_content(content),
        "samples": said_samples(content),
        "notes": notes(content),
        "waiting": waiting,
        "form": form,
    }
    return render(request, "intake/statement_draft.html", context, status=status)


def _token(form: IssueForm) -> str:
    """The same page sent again is the same statement, whatever is asked for beside it by then."""
    return token_with_content(form.data.get("token", ""), [("content", form.data.get("content", ""))])


def _issued_already(request: HttpRequest, consignment: Consignment) -> HttpResponse:
    messages.info(request, _("This was already issued; sending it again changed nothing."))
    return redirect("intake:consignment", consignment.number)


def _require_received(consignment: Consignment) -> None:
    if consignment.state != ConsignmentState.RECEIVED:
        raise MoveNotAllowed(
            f"This consignment is {consignment.get_state_display()}. A statement closes what was received."
        )


def _issue(request: HttpRequest, consignment: Consignment, form: IssueForm) -> Statement:
    said = form.cleaned_data
    return issue_statement(
        consignment,
        by=request.user,
        at=request.at,
        seen=said["content"],
        reason=said.get("reason", ""),
        early=said.get("early", False),
        token=_token(form),
    )


def _statement_or_404(request: HttpRequest, number: str) -> Statement:
    visible = Statement.objects.visible_to(request.user)
    found = (
        visible.filter(number=number.upper())
        .select_related("consignment__group", "replaces", "replaced_by")
        .first()
    )
    if found is None:
        raise Http404
    return found


@require_safe
@login_required
def statement(request: HttpRequest, number: str) -> HttpResponse:
    """One statement as it was released; void where it is no longer what was released."""
    found = _statement_or_404(request, number)
    replaced_by = getattr(found, "replaced_by", None)
    context = {
        "at": request.at,
        "zone": found.consignment.zone,
        "statement": found,
        "content": found.content,
        "consignment": found.consignment,
        "sound": is_sound(found),
        "void_words": VOID,
        "replaced_by": replaced_by,
        "replaced_words": replaced_words(replaced_by) if replaced_by else "",
        "may_issue": can(request.user, "statement.issue", found.consignment),
        "facts": about_release(found) + about_content(found.content),
        "samples": said_samples(found.content),
        "notes": notes(found.content),
    }
    return render(request, "intake/statement.html", context)


@require_safe
@login_required
def statement_paper(request: HttpRequest, number: str) -> HttpResponse:
    found = _statement_or_404(request, number)
    content = statement_pdf(found, sound=is_sound(found), replaced_by=getattr(found, "replaced_by", None))
    return pdf_answer(content, f"statement-{found.number}")


@require_safe
@login_required
def statement_file(request: HttpRequest, number: str, kind: str) -> HttpResponse:
    """The statement as workbook or CSV."""
    found = _statement_or_404(request, number)
    write = statement_workbook if kind == "xlsx" else statement_csv
    content = write(found, sound=is_sound(found), replaced_by=getattr(found, "replaced_by", None))
    return file_answer(content, f"statement-{found.number}.{kind}", XLSX if kind == "xlsx" else CSV)
