"""People and groups, for the lab manager."""

from __future__ import annotations

from collections.abc import Callable

from allauth.mfa.utils import is_mfa_enabled
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from intake.actions import invitations, people
from intake.choices import Role
from intake.errors import Refused
from intake.forms.people import (
    GroupChoiceForm,
    GroupForm,
    InviteForm,
    MemberForm,
    RoleForm,
    SwitchOffForm,
)
from intake.models import Group, Invitation, User
from intake.permissions import require
from intake.signing import sessions_of


def _people() -> object:
    return User.objects.exclude(role=Role.SYSTEM)


def _do(request: HttpRequest, said: str, action: Callable[..., object], **given: object) -> None:
    """Call ``action`` for a button; say what was done, or why not."""
    try:
        action(by=request.user, at=request.at, **given)
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, said)


@login_required
def listing(request: HttpRequest) -> HttpResponse:
    """Groups, people and open invitations."""
    require(request.user, "people.manage")
    return render(
        request,
        "intake/people/people_list.html",
        {
            "at": request.at,
            "groups": Group.objects.annotate(people=Count("members")),
            "people": _people().prefetch_related("groups").order_by("-is_active", "name", "pk"),
            "invitations": Invitation.objects.open_at(request.at)
            .select_related("group", "invited_by")
            .order_by("expires_at", "pk"),
        },
    )


@login_required
def invite(request: HttpRequest) -> HttpResponse:
    require(request.user, "people.manage")
    form = InviteForm(request.POST or None, initial={"group": request.GET.get("group")})
    if request.method == "POST" and form.is_valid():
        try:
            invitations.invite_person(
                by=request.user,
                at=request.at,
                link_for=lambda token: request.build_absolute_uri(reverse("intake:invitation", args=[token])),
                **form.cleaned_data,
            )
        except Refused as refusal:
            form.take(refusal)
        else:
            messages.success(
                request,
                _("An invitation is on its way to %(email)s. It works for three days.") % form.cleaned_data,
            )
            return redirect("intake:people")
    return render(request, "intake/people/invite.html", {"at": request.at, "form": form})


@login_required
def revoke(request: HttpRequest, pk: int) -> HttpResponse:
    require(request.user, "people.manage")
    invitation = get_object_or_404(Invitation, pk=pk)
    if request.method != "POST":
        return render(request, "intake/people/revoke.html", {"at": request.at, "invitation": invitation})
    said = _("The invitation to %(email)s no longer works.") % {"email": invitation.email}
    _do(request, said, invitations.revoke_invitation, invitation=invitation)
    return redirect("intake:people")


@login_required
def person(request: HttpRequest, pk: int) -> HttpResponse:
    """One person: role, groups, whether they may sign in."""
    require(request.user, "people.manage")
    whom = get_object_or_404(_people(), pk=pk)
    return _person_page(request, whom, RoleForm(initial={"role": whom.role}))


def _person_page(request: HttpRequest, whom: User, role: RoleForm) -> HttpResponse:
    return render(
        request,
        "intake/people/person.html",
        {
            "at": request.at,
            "person": whom,
            "groups": whom.groups.all(),
            "role": role,
            "more_groups": GroupChoiceForm(person=whom),
            "oneself": whom == request.user,
            "sessions": sessions_of(whom),
            "second_factor": is_mfa_enabled(whom),
        },
        status=409 if role.stale else 200,
    )


@login_required
@require_POST
def person_role(request: HttpRequest, pk: int) -> HttpResponse:
    require(request.user, "people.manage")
    whom = get_object_or_404(_people(), pk=pk)
    form = RoleForm(request.POST, initial={"role": whom.role})
    form.full_clean()
    if form.stale:
        return _person_page(request, whom, form)
    _do(
        request,
        _("%(name)s has the chosen role now.") % {"name": whom},
        people.change_role,
        person=whom,
        role=request.POST.get("role", ""),
    )
    return redirect("intake:person", pk)


@login_required
def person_off(request: HttpRequest, pk: int) -> HttpResponse:
    require(request.user, "people.manage")
    whom = get_object_or_404(_people(), pk=pk)
    form = SwitchOffForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        _do(
            request,
            _("%(name)s can no longer sign in.") % {"name": whom},
            people.switch_off_person,
            person=whom,
            reason=form.cleaned_data["reason"],
        )
        return redirect("intake:person", pk)
    return render(request, "intake/people/person_off.html", {"at": request.at, "person": whom, "form": form})


@login_required
@require_POST
def person_on(request: HttpRequest, pk: int) -> HttpResponse:
    require(request.user, "people.manage")
    whom = get_object_or_404(_people(), pk=pk)
    _do(request, _("%(name)s can sign in again.") % {"name": whom}, people.switch_on_person, person=whom)
    return redirect("intake:person", pk)


@login_required
def group_new(request: HttpRequest) -> HttpResponse:
    require(request.user, "people.manage")
    form = GroupForm(request.POST or None, initial={"zone": request.user.zone})
    if request.method == "POST" and form.is_valid():
        try:
            made = people.make_group(by=request.user, at=request.at, **form.cleaned_data)
        except Refused as refusal:
            form.take(refusal)
        else:
            messages.success(
                request, _("The group %(name)s is there. Now invite its people.") % {"name": made}
            )
            return redirect("intake:group", made.pk)
    return render(request, "intake/people/group_new.html", {"at": request.at, "form": form})


@login_required
def group(request: HttpRequest, pk: int) -> HttpResponse:
    """One group: its name and zone to change, its people to add and take out."""
    require(request.user, "people.manage")
    which = get_object_or_404(Group, pk=pk)
    form = GroupForm(request.POST or None, initial={"name": which.name, "zone": which.zone})
    if request.method == "POST" and form.is_valid():
        try:
            people.rename_group(group=which, by=request.user, at=request.at, **form.cleaned_data)
        except Refused as refusal:
            form.take(refusal)
        else:
            messages.success(request, _("The group is saved."))
            return redirect("intake:group", pk)
    return render(
        request,
        "intake/people/group.html",
        {
            "at": request.at,
            "group": which,
            "members": which.members.order_by("name", "pk"),
            "form": form,
            "member": MemberForm(group=which),
        },
        status=409 if form.stale else 200,
    )


@login_required
@require_POST
def membership(request: HttpRequest, group_pk: int, verb: str) -> HttpResponse:
    """Add a person to a group or take them out; back to the page the button stood on."""
    require(request.user, "people.manage")
    which = get_object_or_404(Group, pk=group_pk)
    whom = get_object_or_404(_people(), pk=_whole(request.POST.get("person", "")))
    names = {"name": whom, "group": which}
    if verb == "add":
        said = _("%(name)s belongs to %(group)s now.") % names
        _do(request, said, people.add_to_group, person=whom, group=which)
    else:
        said = _("%(name)s no longer belongs to %(group)s.") % names
        _do(request, said, people.remove_from_group, person=whom, group=which)
    if request.POST.get("back") == "person":
        return redirect("intake:person", whom.pk)
    return redirect("intake:group", group_pk)


@login_required
@require_POST
def person_group(request: HttpRequest, pk: int) -> HttpResponse:
    """Add a person to the group chosen on their page."""
    require(request.user, "people.manage")
    whom = get_object_or_404(_people(), pk=pk)
    which = get_object_or_404(Group, pk=_whole(request.POST.get("group", "")))
    said = _("%(name)s belongs to %(group)s now.") % {"name": whom, "group": which}
    _do(request, said, people.add_to_group, person=whom, group=which)
    return redirect("intake:person", pk)


def _whole(text: str) -> int:
    """A key from a form; what is no number belongs to nothing."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 18 else 0
