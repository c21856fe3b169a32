"""What people do about themselves: accept an invitation, look after their profile."""

from __future__ import annotations

from allauth.mfa.utils import is_mfa_enabled
from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from intake.actions import invitations, people
from intake.errors import Refused
from intake.forms.people import AcceptForm, ProfileForm
from intake.views.language import keep_language, language_or_present


@never_cache
@sensitive_post_parameters("password")
def invitation(request: HttpRequest, token: str) -> HttpResponse:
    """The page behind the link of an invitation. Opening it uses nothing up."""
    try:
        invited = invitations.open_invitation(token, request.at)
    except invitations.InvitationClosed as refusal:
        context = {"at": request.at, "sentence": refusal.sentence}
        return render(request, "intake/people/invitation_closed.html", context, status=410)
    form = AcceptForm(
        request.POST or None, initial={"zone": invited.group.zone if invited.group else settings.TIME_ZONE}
    )
    if request.method == "POST" and form.is_valid():
        try:
            invitations.accept_invitation(token=token, at=request.at, **form.cleaned_data)
        except Refused as refusal:
            form.take(refusal)
        else:
            messages.success(request, _("Your account is there. Sign in with the password you chose."))
            return redirect("account_login")
    context = {"at": request.at, "form": form, "invitation": invited}
    return render(request, "intake/people/invitation.html", context)


@login_required
def profile(request: HttpRequest) -> HttpResponse:
    """One's own name, zone, password and second factor."""
    stands = {name: getattr(request.user, name) for name in ("name", "zone", "language")}
    form = ProfileForm(request.POST or None, initial=stands)
    if request.method == "POST" and form.is_valid():
        try:
            people.change_profile(person=request.user, by=request.user, at=request.at, **form.cleaned_data)
        except Refused as refusal:
            form.take(refusal)
        else:
            with language_or_present(request.user.language):
                messages.success(request, _("Your profile is saved."))
            return keep_language(redirect("intake:profile"), request.user.language)
    context = {
        "at": request.at,
        "form": form,
        "groups": request.user.groups.all(),
        "second_factor": is_mfa_enabled(request.user),
    }
    return render(request, "intake/people/profile.html", context, status=409 if form.stale else 200)
