"""The submitter's pages about a consignment as a whole: list, make, look, amend, send, withdraw."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe
from django_tables2 import RequestConfig

from intake.actions.amending import require_amendable
from intake.actions.confirming import doubts_of
from intake.actions.copying import Plan, make_like, make_planned
from intake.actions.registering import amend_consignment, make_consignment
from intake.actions.sending import expected_losses, require_draft, send_consignment, withdraw_consignment
from intake.alike import findings_of
from intake.choices import Role
from intake.daycounts import told_unlike
from intake.errors import AlreadyDone, NotPermitted, Refused, SomebodyWasFaster
from intake.forms.consignments import (
    AmendForm,
    ConsignmentFilterForm,
    NewConsignmentForm,
    PlanForm,
    SendForm,
    WithdrawForm,
)
from intake.forms.once import OnceForm
from intake.models import Bottle, Consignment, Group, Question, RecordEntry
from intake.numbers import BOTTLE, is_number, tidy
from intake.permissions import can, require
from intake.querysets import ConsignmentQuerySet
from intake.rules.reading_rules import OUT_OF_RANGE
from intake.searching import Found, search
from intake.sheets.doubts import causes_of
from intake.sheets.recordtable import record_csv, record_data, record_workbook
from intake.standing import next_step, say_over, standings, summary_of
from intake.states import ConsignmentState
from intake.tables.consignments import ConsignmentTable, KeysFirst
from intake.telling import tell
from intake.views.answers import (
    CANNOT_BE_TAKEN,
    add_refusal,
    changes_since,
    consignment_or_404,
    fresh,
    new_token,
    posted,
    refusals_explained,
    status_of,
    token_with_content,
)
from intake.views.files import CSV, XLSX, file_answer
from intake.views.questions import open_questions

PER_PAGE = 50
#: The newest consignments that are put in another order than that of their making; our choice.
PUT_IN_ORDER = 1000
SAMPLES_PER_PAGE = 25
RECORD_SHOWN = 30
#: What the address of a new consignment may fill in, as a trip check does.
PLANNED = ("title", "purpose", "zone", "requested_on", "rulebook")


@require_safe
@login_required
def consignment_list(request: HttpRequest) -> HttpResponse:
    """The consignments the person may know of; search, filters, order and page live in the address."""
    at = timezone.now()
    groups = Group.objects.visible_to(request.user)
    list(groups)  # read once for the filter, the search and the button
    visible = Consignment.objects.visible_to(request.user)
    filters = ConsignmentFilterForm(request.GET or None, groups=groups)
    asked = filters.cleaned_data if filters.is_valid() else {}
    if bottle := _bottle_named(request, asked.get("q", "")):
        return redirect("intake:bottle", bottle.number)
    chosen, found = _chosen(request, visible, asked, groups)
    rows = chosen.select_related("group").with_what_matters(at).with_amendment()
    data = KeysFirst(rows) if found is None else rows
    table = ConsignmentTable(data, at=at, exclude=() if "group" in filters.fields else ("group",))
    RequestConfig(request, paginate={"per_page": PER_PAGE}).configure(table)
    context = {
        "at": at,
        "table": table,
        "filters": filters,
        "filtered": bool(request.GET),
        "found": found,
        "newest": PUT_IN_ORDER if "sort" in request.GET and table.paginator.count == PUT_IN_ORDER else 0,
        "waiting": _questions_of_theirs(request),
        "may_make": not request.user.is_reception and any(group.active for group in groups),
    }
    return render(request, "intake/consignment_list.html", context)


def _chosen(
    request: HttpRequest, visible: ConsignmentQuerySet, asked: dict[str, Any], groups: QuerySet[Group]
) -> tuple[ConsignmentQuerySet, Found | None]:
    """Those of ``visible`` that are asked for, and what a search says; its order is worked out of few."""
    chosen, group = visible, asked.get("group")
    if state := asked.get("state"):
        chosen = chosen.filter(state=state)
    if group:
        chosen = chosen.filter(group=group)
    if text := asked.get("q"):
        found = search(chosen, text, request.user, groups, group)
        return visible.filter(pk__in=found.keys), found
    if "sort" in request.GET:
        newest = chosen.order_by("-created_at", "-pk").values("pk")[:PUT_IN_ORDER]
        return visible.filter(pk__in=newest), None
    return chosen, None


def _questions_of_theirs(request: HttpRequest) -> int:
    """How many questions wait for a submitter's word; the laboratory's people have a list of their own."""
    return 0 if request.user.is_staff else Question.objects.visible_to(request.user).open().count()


def _bottle_named(request: HttpRequest, text: str) -> Bottle | None:
    """The bottle whose whole number was typed or scanned into the search."""
    if not is_number(text, BOTTLE):
        return None
    return Bottle.objects.visible_to(request.user).filter(number=tidy(text)).first()


def _groups_to_send_for(request: HttpRequest) -> Any:
    """Groups for which the person may make a consignment; a question of many groups at once."""
    if request.user.is_reception:
        return Group.objects.none()
    return Group.objects.visible_to(request.user).filter(active=True)


def _token(form: OnceForm) -> str:
    return token_with_content(form.cleaned_data["token"], form.content())


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
@refusals_explained
def consignment_new(request: HttpRequest) -> HttpResponse:
    """Make a consignment, then go on to its samples."""
    at = timezone.now()
    groups = _groups_to_send_for(request)
    if not groups:
        raise NotPermitted("You belong to no group that sends samples.")
    former = consignment_or_404(request, request.GET["like"]) if "like" in request.GET else None
    plan = PlanForm(request.GET).plan() if former is None else None
    planned = {name: request.GET[name] for name in PLANNED if name in request.GET}
    initial = {"token": new_token(), **planned, **(_habits(former) if former else {})}
    form = NewConsignmentForm(posted(request), at=at, groups=groups, initial=initial)
    if form.is_valid():
        head = {"group": form.cleaned_data["group"], **form.head()}
        try:
            made = _make(former, plan, by=request.user, at=at, token=_token(form), **head)
        except AlreadyDone as done:
            return redirect("intake:samples", str(done.outcome["number"]))
        except Refused as problem:
            add_refusal(form, problem)
        else:
            return redirect("intake:samples", made.number)
    context = {"at": at, "form": form, "former": former, "plan": plan}
    status = CANNOT_BE_TAKEN if form.errors else 200
    return render(request, "intake/consignment_new.html", context, status=status)


def _make(former: Consignment | None, plan: Plan | None, **head: Any) -> Consignment:
    if former is not None:
        return make_like(former, **head)
    return make_consignment(**head) if plan is None else make_planned(plan, **head)


def _habits(former: Consignment) -> dict[str, object]:
    """What a new consignment like ``former`` starts from."""
    return {name: getattr(former, name) for name in ("group", "title", "purpose", "zone", "rulebook")}


@require_safe
@login_required
def consignment_detail(request: HttpRequest, number: str) -> HttpResponse:
    """Everything about one consignment; the first line says what to do next."""
    at = timezone.now()
    consignment = consignment_or_404(request, number, "date_request")
    summary = summary_of(consignment, at)
    page = Paginator(consignment.samples.order_by("position", "pk"), SAMPLES_PER_PAGE).get_page(
        request.GET.get("page")
    )
    entries = RecordEntry.objects.filter(consignment=consignment).order_by("-position")
    shown = entries if "record" in request.GET else entries[:RECORD_SHOWN]
    may_amend = consignment.may_be_amended and can(request.user, "consignment.amend", consignment)
    context = {
        "at": at,
        "zone": consignment.zone,
        "consignment": consignment,
        "summary": summary,
        "date_request": getattr(consignment, "date_request", None),
        "step": next_step(consignment, summary),
        "step_label": _("Next") if request.user.role == Role.SUBMITTER else _("The group reads"),
        "over": "" if consignment.state == ConsignmentState.WITHDRAWN else say_over(summary),
        "page": page,
        "places": page.paginator.get_elided_page_range(page.number),
        "arrivals": consignment.arrivals.order_by("received_at"),
        "questions": open_questions(request, consignment),
        "unlike": told_unlike(consignment),
        "findings": findings_of(consignment),
        "samples": standings(page.object_list, consignment),
        "record": [tell(entry, consignment.zone) for entry in shown],
        "record_total": entries.count(),
        "may_amend": may_amend,
        "may_copy": summary.samples and can(request.user, "consignment.make", consignment.group),
        "may_withdraw": consignment.may_be_amended and can(request.user, "consignment.withdraw", consignment),
        "statements": consignment.statements.defer("content"),
        "may_issue": consignment.state == ConsignmentState.RECEIVED
        and can(request.user, "statement.issue", consignment),
    }
    return render(request, "intake/consignment_detail.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
@refusals_explained
def consignment_amend(request: HttpRequest, number: str) -> HttpResponse:
    """Change the head of a consignment of which nothing has arrived."""
    at = timezone.now()
    consignment = consignment_or_404(request, number)
    require(request.user, "consignment.amend", consignment)
    require_amendable(consignment)
    initial = {name: getattr(consignment, name) for name in ("title", "purpose", "rulebook", "zone")}
    initial |= {"requested_on": consignment.requested_on, **fresh(consignment)}
    form = AmendForm(
        posted(request), at=at, standing=consignment, was_sent=consignment.is_sent, initial=initial
    )
    context: dict[str, Any] = {"at": at, "zone": consignment.zone, "consignment": consignment, "form": form}
    status = 200
    if form.is_valid():
        try:
            amend_consignment(
                consignment,
                by=request.user,
                at=at,
                version=form.read_version(),
                changes=form.head(),
                reason=form.why(),
            )
        except Refused as problem:
            status = _explain(form, problem, consignment, context)
        else:
            messages.success(request, _("Saved."))
            return redirect("intake:consignment", consignment.number)
    elif form.is_bound:
        status = CANNOT_BE_TAKEN
    return render(request, "intake/consignment_amend.html", context, status=status)


def _explain(form: OnceForm, problem: Refused, consignment: Consignment, context: dict[str, Any]) -> int:
    """Put ``problem`` into ``form`` and what changed meanwhile into ``context``; the answer's status."""
    newer = changes_since(consignment, form.cleaned_data["seen"], problem)
    context["newer"] = [tell(entry, consignment.zone) for entry in newer]
    if isinstance(problem, SomebodyWasFaster):
        consignment.refresh_from_db()
        form.reread(**fresh(consignment))
    add_refusal(form, problem)
    return status_of(problem)


def _done_already(request: HttpRequest, consignment: Consignment) -> HttpResponseRedirect:
    messages.info(request, _("This was already done; sending it again changed nothing."))
    return redirect("intake:consignment", consignment.number)


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
@refusals_explained
def consignment_send(request: HttpRequest, number: str) -> HttpResponse:
    """Confirm what will be lost if the consignment goes as it is, and send it."""
    at = timezone.now()
    consignment = consignment_or_404(request, number)
    require(request.user, "consignment.send", consignment)
    doubts = doubts_of(consignment, at=at)
    form = SendForm(posted(request), doubted=bool(doubts), initial=fresh(consignment))
    context: dict[str, Any] = {"at": at, "zone": consignment.zone, "consignment": consignment, "form": form}
    context["doubted"] = causes_of(doubts)
    status = 200
    if form.is_valid():
        try:
            send_consignment(
                consignment,
                by=request.user,
                at=at,
                version=form.read_version(),
                reason=form.cleaned_data.get("reason", ""),
                token=_token(form),
            )
        except AlreadyDone:
            return _done_already(request, consignment)
        except SomebodyWasFaster as problem:
            status = _explain(form, problem, consignment, context)
        else:
            messages.success(request, _("Sent. The laboratory now expects your bottles."))
            return redirect("intake:consignment", consignment.number)
    elif form.is_bound:
        status = CANNOT_BE_TAKEN
    require_draft(consignment)
    losses = [loss for loss in expected_losses(consignment, at) if loss.code not in OUT_OF_RANGE]
    context |= {"losses": losses, "summary": summary_of(consignment, at)}
    context["unlike"] = told_unlike(consignment)
    return render(request, "intake/consignment_send.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
@refusals_explained
def consignment_withdraw(request: HttpRequest, number: str) -> HttpResponse:
    """Confirm with a reason, and take the consignment back."""
    at = timezone.now()
    consignment = consignment_or_404(request, number)
    require(request.user, "consignment.withdraw", consignment)
    was_sent = consignment.is_sent
    form = WithdrawForm(posted(request), was_sent=was_sent, initial=fresh(consignment))
    context: dict[str, Any] = {"at": at, "zone": consignment.zone, "consignment": consignment, "form": form}
    status = 200
    if form.is_valid():
        try:
            withdraw_consignment(
                consignment, by=request.user, at=at, reason=form.cleaned_data["reason"], token=_token(form)
            )
        except AlreadyDone:
            return _done_already(request, consignment)
        else:
            messages.success(request, _("Withdrawn. The laboratory no longer expects these bottles."))
            return redirect("intake:consignment", consignment.number)
    elif form.is_bound:
        status = CANNOT_BE_TAKEN
    return render(request, "intake/consignment_withdraw.html", context, status=status)


@login_required
@require_safe
def consignment_record(request: HttpRequest, number: str, kind: str) -> HttpResponse:
    """The record of a consignment as a file, whole and in the order in which it came."""
    consignment = consignment_or_404(request, number)
    if kind == "json":
        return file_answer(record_data(consignment), f"record-{consignment.number}.json", "application/json")
    if kind == "xlsx":
        return file_answer(record_workbook(consignment), f"record-{consignment.number}.xlsx", XLSX)
    return file_answer(record_csv(consignment), f"record-{consignment.number}.csv", CSV)
