"""Reading, comparing and making rulebooks."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from intake.actions import comparing, rulebooks
from intake.actions.judging import rulebook_of
from intake.errors import EntryProblem, Refused
from intake.forms.rulebooks import CopyForm, PublishForm, RemoveForm, RowForm, SettingsForm
from intake.models import RulebookVersion
from intake.permissions import can, require
from intake.rules.comparing import compare_rows, compare_settings
from intake.views.answers import CANNOT_BE_TAKEN, CONFLICT, add_refusal, refusals_explained
from intake.views.wording import differing_rows, say_setting, setting_label, setting_rows, shown_rows

CLOCKS_PER_PAGE = 100


def _version(request: HttpRequest, code: str, version: int) -> RulebookVersion:
    """The version asked for; drafts are known to managers only."""
    versions = RulebookVersion.objects.select_related("made_from", "created_by")
    if not can(request.user, "rulebook.manage"):
        versions = versions.filter(published_at__isnull=False)
    found = versions.filter(code=code, version=version).first()
    if found is None:
        raise Http404
    return found


def _draft(request: HttpRequest, code: str, version: int) -> RulebookVersion:
    require(request.user, "rulebook.manage")
    return _version(request, code, version)


@login_required
@require_safe
def rulebooks_list(request: HttpRequest) -> HttpResponse:
    """Every published version; drafts too for managers."""
    versions = RulebookVersion.objects.order_by("-default", "title", "-version")
    manages = can(request.user, "rulebook.manage")
    if not manages:
        versions = versions.filter(published_at__isnull=False)
    context = {"versions": versions, "manages": manages, "at": timezone.now()}
    return render(request, "intake/rulebooks.html", context)


@login_required
@require_safe
def rulebook(request: HttpRequest, code: str, version: int) -> HttpResponse:
    """One version: what holds for every bottle, and every row with its source."""
    shown = _version(request, code, version)
    book = rulebook_of(shown)
    others = RulebookVersion.objects.exclude(pk=shown.pk).filter(published_at__isnull=False)
    context = {
        "version": shown,
        "book": book,
        "rows": shown_rows(book),
        "settings": setting_rows(book),
        "others": others.order_by("title", "-version"),
        "manages": can(request.user, "rulebook.manage"),
        "at": timezone.now(),
    }
    return render(request, "intake/rulebook.html", context)


@login_required
@require_safe
def rulebook_comparison(request: HttpRequest, code: str, version: int) -> HttpResponse:
    """Two versions row by row; for managers also the waiting bottles whose clocks would move."""
    new = _version(request, code, version)
    asked, _mark, number = request.GET.get("with", "").partition(" ")
    if number.isdigit() and len(number) < 7:
        old = _version(request, asked, int(number))
    elif new.made_from is not None:
        old = new.made_from
    else:
        return redirect("intake:rulebook", code, version)
    before, after = rulebook_of(old), rulebook_of(new)
    manages = can(request.user, "rulebook.manage")
    moved = comparing.moved_clocks(old, new, seen_by=request.user) if manages else []
    context = {
        "old": old,
        "new": new,
        "rows": differing_rows(compare_rows(before, after), before, after),
        "settings": [
            (setting_label(setting.name), say_setting(setting.old), say_setting(setting.new))
            for setting in compare_settings(before, after)
        ],
        "moved": Paginator(moved, CLOCKS_PER_PAGE).get_page(request.GET.get("page")),
        "manages": manages,
        "at": timezone.now(),
    }
    return render(request, "intake/rulebook_comparison.html", context)


@login_required
@require_http_methods(["GET", "POST"])
@refusals_explained
def rulebook_start(request: HttpRequest, code: str, version: int) -> HttpResponse:
    """Start the next version, or a book of one's own, from this one."""
    base = _draft(request, code, version)
    form = CopyForm(request.POST or None, initial={"title": base.title})
    if request.method == "POST" and form.is_valid():
        try:
            draft = rulebooks.start_version(base, by=request.user, at=timezone.now(), **form.cleaned_data)
        except EntryProblem as problem:
            add_refusal(form, problem)
        else:
            return redirect("intake:rulebook", draft.code, draft.version)
    return _form_page(request, form, base, _("Make a version from %(base)s") % {"base": base}, _("Start"))


def _form_page(
    request: HttpRequest, form: object, version: RulebookVersion, heading: str, words: str
) -> HttpResponse:
    context = {"form": form, "version": version, "heading": heading, "words": words}
    status = CANNOT_BE_TAKEN if getattr(form, "errors", None) else 200
    status = CONFLICT if getattr(form, "stale", False) else status
    return render(request, "intake/rulebook_form.html", context, status=status)


def _row_of(version: RulebookVersion, number: int | None) -> tuple[int, dict[str, object]]:
    """The number and the standing values of a row, or of the next new one."""
    rows = {row.number: row for row in rulebook_of(version).rows}
    if number is None:
        return max(rows, default=0) + 1, {}
    if number not in rows:
        raise Http404
    return number, RowForm.initial_of(rows[number])


@login_required
@require_http_methods(["GET", "POST"])
@refusals_explained
def rulebook_row(request: HttpRequest, code: str, version: int, number: int | None = None) -> HttpResponse:
    """Change a row of a draft, or add one."""
    draft = _draft(request, code, version)
    number, initial = _row_of(draft, number)
    form = RowForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            rulebooks.change_row(
                draft,
                form.row(number),
                by=request.user,
                at=timezone.now(),
                reason=form.cleaned_data["reason"],
            )
        except EntryProblem as problem:
            add_refusal(form, form.at_its_fields(problem))
        else:
            return redirect("intake:rulebook", code, version)
    return _form_page(
        request,
        form,
        draft,
        _("Row %(number)s of %(draft)s") % {"number": number, "draft": draft},
        _("Save the row"),
    )


@login_required
@require_http_methods(["GET", "POST"])
@refusals_explained
def rulebook_row_remove(request: HttpRequest, code: str, version: int, number: int) -> HttpResponse:
    draft = _draft(request, code, version)
    _row_of(draft, number)
    form = RemoveForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        rulebooks.remove_row(
            draft, number, by=request.user, at=timezone.now(), reason=form.cleaned_data["reason"]
        )
        return redirect("intake:rulebook", code, version)
    heading = _("Take row %(number)s out of %(draft)s") % {"number": number, "draft": draft}
    return _form_page(request, form, draft, heading, _("Take the row out"))


@login_required
@require_http_methods(["GET", "POST"])
@refusals_explained
def rulebook_settings(request: HttpRequest, code: str, version: int) -> HttpResponse:
    """Change what holds for every row of a draft."""
    draft = _draft(request, code, version)
    form = SettingsForm(request.POST or None, initial=SettingsForm.initial_of(rulebook_of(draft)))
    if request.method == "POST" and form.is_valid():
        try:
            rulebooks.change_settings(
                draft,
                form.changes(),
                by=request.user,
                at=timezone.now(),
                reason=form.cleaned_data["reason"],
            )
        except EntryProblem as problem:
            add_refusal(form, problem)
        else:
            return redirect("intake:rulebook", code, version)
    return _form_page(
        request, form, draft, _("What holds for every row of %(draft)s") % {"draft": draft}, _("Save")
    )


@login_required
@require_http_methods(["GET", "POST"])
@refusals_explained
def rulebook_publish(request: HttpRequest, code: str, version: int) -> HttpResponse:
    """Fix a draft for good."""
    draft = _draft(request, code, version)
    now = timezone.now()
    form = PublishForm(request.POST or None, initial={"dated": now.date()})
    if request.method == "POST" and form.is_valid():
        try:
            rulebooks.publish_version(draft, by=request.user, at=now, **form.cleaned_data)
        except EntryProblem as problem:
            add_refusal(form, problem)
        else:
            return redirect("intake:rulebook", code, version)
    heading = _("Publish %(draft)s: from then on it never changes") % {"draft": draft}
    return _form_page(request, form, draft, heading, _("Publish"))


@login_required
@require_POST
@refusals_explained
def rulebook_discard(request: HttpRequest, code: str, version: int) -> HttpResponse:
    rulebooks.discard_draft(_draft(request, code, version), by=request.user, at=timezone.now())
    return redirect("intake:rulebooks")


@login_required
@require_POST
@refusals_explained
def rulebook_offer(request: HttpRequest, code: str, version: int) -> HttpResponse:
    """Offer a version, stop offering it, or make it the default; the button's value says which."""
    shown = _draft(request, code, version)
    wish = request.POST.get("wish")
    if wish == "default":
        rulebooks.make_default(shown, by=request.user, at=timezone.now())
    elif wish in ("offer", "keep back"):
        rulebooks.offer_version(shown, by=request.user, at=timezone.now(), offered=wish == "offer")
    else:
        raise Refused(_("Choose what to do with the version from its page."))
    return redirect("intake:rulebook", code, version)
