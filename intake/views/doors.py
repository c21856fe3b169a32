"""Who is signed in where, lost second factors, and what the laboratory settles for everybody."""

from __future__ import annotations

from allauth.mfa.utils import is_mfa_enabled
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from intake.actions import doors, purging
from intake.actions import policy as policies
from intake.actions.forgetting import forget_person
from intake.choices import Role
from intake.errors import Refused, SomebodyWasFaster
from intake.forms.people import ForgetForm, LostFactorForm, PolicyForm, PurgeForm
from intake.models import Consignment, User
from intake.permissions import require
from intake.signing import sessions_of
from intake.views.answers import CONFLICT, posted, refusals_explained


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def sessions(request: HttpRequest) -> HttpResponse:
    """Where one is signed in, with a button to end each session and one for all others."""
    here = request.session.session_key
    mine = sessions_of(request.user)
    if request.method == "POST":
        chosen = request.POST.get("session", "")
        ended = doors.end_sessions(
            person=request.user,
            sessions=[one for one in mine if chosen in (str(one.pk), "others") and one.key != here],
            by=request.user,
            at=request.at,
        )
        if ended:
            messages.success(request, _("Signed out there."))
        else:
            messages.info(request, _("That session had ended already; nothing was changed."))
        return redirect("intake:sessions")
    context = {
        "at": request.at,
        "sessions": [{"told": one, "here": one.key == here} for one in mine],
        "others": [one for one in mine if one.key != here],
    }
    return render(request, "intake/people/sessions.html", context)


def _person(pk: int) -> User:
    return get_object_or_404(User.objects.exclude(role=Role.SYSTEM), pk=pk)


@login_required
@require_POST
@refusals_explained
def person_sessions(request: HttpRequest, pk: int) -> HttpResponse:
    """End every session of somebody else."""
    require(request.user, "people.manage")
    whom = _person(pk)
    ended = doors.end_sessions(person=whom, sessions=sessions_of(whom), by=request.user, at=request.at)
    said = _("%(name)s is signed out everywhere.") if ended else _("%(name)s was not signed in anywhere.")
    messages.success(request, said % {"name": whom})
    return redirect("intake:person", pk)


@login_required
@refusals_explained
def person_factor(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a lost second factor away."""
    require(request.user, "people.manage")
    whom = _person(pk)
    form = LostFactorForm(posted(request))
    if form.is_valid():
        doors.take_factor_away(person=whom, by=request.user, at=request.at, **form.cleaned_data)
        messages.success(request, _("%(name)s signs in by password alone now.") % {"name": whom})
        return redirect("intake:person", pk)
    context = {"at": request.at, "person": whom, "form": form, "there": is_mfa_enabled(whom)}
    return render(request, "intake/people/person_factor.html", context, status=422 if form.errors else 200)


@login_required
@refusals_explained
def person_forget(request: HttpRequest, pk: int) -> HttpResponse:
    """Remove what is personal of somebody, after saying what goes and what stays."""
    require(request.user, "people.manage")
    whom = _person(pk)
    form = ForgetForm(posted(request))
    if form.is_valid():
        forget_person(person=whom, by=request.user, at=request.at, **form.cleaned_data)
        messages.success(request, _("Removed. What was done stays, by a former member."))
        return redirect("intake:people")
    context = {
        "at": request.at,
        "person": whom,
        "form": form,
        "losses": [
            _("Name, mail address, time zone, groups, password, second factor, sessions and calendar go."),
            _("What they registered, checked and decided stays, by “a former member” and a number."),
            _("Statements keep the name of who released them: it is part of what was certified."),
            _("What people typed into notes and reasons is not looked through."),
            _("Backups made before hold the data until they are thrown away."),
        ],
    }
    return render(request, "intake/people/person_forget.html", context, status=422 if form.errors else 200)


#: At most so many are shown and removed at a time; the rest is there when the page comes again.
MOST_AT_ONCE = 50


@login_required
@refusals_explained
def kept_long_enough(request: HttpRequest) -> HttpResponse:
    """Consignments that were kept long enough, and removing those that stand on the page."""
    require(request.user, "people.manage")
    due = purging.kept_long_enough(request.at).select_related("group")[:MOST_AT_ONCE]
    form = PurgeForm(posted(request), initial={"numbers": " ".join(one.number for one in due)})
    if form.is_valid():
        named = Consignment.objects.filter(number__in=form.cleaned_data["numbers"].split())
        with transaction.atomic():
            for one in named:
                purging.purge_consignment(
                    consignment=one, by=request.user, at=request.at, reason=form.cleaned_data["reason"]
                )
        messages.success(request, _("Removed: %(count)s.") % {"count": len(named)})
        return redirect("intake:kept_long_enough")
    context = {"at": request.at, "due": due, "form": form, "keep_years": policies.policy().keep_years}
    return render(request, "intake/people/kept_long_enough.html", context, status=422 if form.errors else 200)


@login_required
def lab_policy(request: HttpRequest) -> HttpResponse:
    """Of whom a second factor is demanded, and for how long consignments are kept."""
    require(request.user, "people.manage")
    standing = policies.policy()
    form = PolicyForm(
        posted(request),
        initial={
            "version": standing.version,
            "second_factor": standing.second_factor,
            "keep_years": standing.keep_years,
        },
    )
    status, meanwhile = 200, None
    if form.is_valid():
        version = form.cleaned_data.pop("version")
        try:
            policies.change_policy(
                by=request.user,
                at=request.at,
                version=-1 if version is None else version,
                **form.cleaned_data,
            )
        except SomebodyWasFaster as refusal:
            form.take(refusal)
            form.reread(version=standing.version)
            status, meanwhile = CONFLICT, standing
        except Refused as refusal:
            form.take(refusal)
            status = 422
        else:
            messages.success(request, _("Saved. It holds from now on."))
            return redirect("intake:people")
    elif form.errors:
        status = 422
    context = {"at": request.at, "form": form, "meanwhile": meanwhile}
    return render(request, "intake/people/policy.html", context, status=status)
