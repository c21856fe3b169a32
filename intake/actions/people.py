"""People and groups: who belongs where, in which role, and who may sign in."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from intake import people_mails, record
from intake.actions.invitations import INVITED_ROLES
from intake.actions.steps import claim
from intake.choices import Role
from intake.errors import EntryProblem, MoveNotAllowed, NotPermitted
from intake.models import Group, Membership, User
from intake.permissions import require
from intake.zones import known_zones

FASTER = _("Somebody changed this in the meantime. Load the page anew to see it.")


def _check_group(name: str, zone: str, group: Group | None = None) -> None:
    problems = {}
    if not name:
        problems["name"] = _("Write the name of the group.")
    elif Group.objects.filter(name__iexact=name).exclude(pk=group.pk if group else None).exists():
        problems["name"] = _("There is a group called %(name)s already.") % {"name": name}
    if zone not in known_zones():
        problems["zone"] = _("Choose the time zone from the list.")
    if problems:
        raise EntryProblem(_("The group was not saved."), problems)


def make_group(*, by: User, at: datetime, name: str, zone: str) -> Group:
    """Make a group that may send samples."""
    require(by, "people.manage")
    name = name.strip()
    _check_group(name, zone)
    try:
        with transaction.atomic():
            group = Group.objects.create(name=name, zone=zone)
            record.write(by=by, at=at, verb="group.make", subject=name, after={"name": name, "zone": zone})
    except IntegrityError:
        raise EntryProblem(
            _("The group was not saved."),
            {"name": _("There is a group called %(name)s already.") % {"name": name}},
        ) from None
    return group


def rename_group(*, group: Group, by: User, at: datetime, name: str, zone: str) -> None:
    """Give ``group`` another name or usual time zone."""
    require(by, "people.manage")
    name = name.strip()
    _check_group(name, zone, group)
    before, after = record.differences({"name": group.name, "zone": group.zone}, {"name": name, "zone": zone})
    if not after:
        return
    with transaction.atomic():
        claim(Group.objects.filter(pk=group.pk, name=group.name, zone=group.zone), FASTER, **after)
        record.write(by=by, at=at, verb="group.rename", subject=name, before=before, after=after)
    group.name, group.zone = name, zone


def add_to_group(*, person: User, group: Group, by: User, at: datetime) -> None:
    """Let ``person`` send samples for ``group``."""
    require(by, "people.manage")
    if person.role == Role.SYSTEM:
        raise MoveNotAllowed(_("The system itself belongs to no group."))
    try:
        with transaction.atomic():
            Membership.objects.create(user=person, group=group)
            record.write(
                by=by,
                at=at,
                verb="group.add",
                subject=record.private(person, person.email),
                after={"group": group.name},
            )
            people_mails.tell(
                person,
                by=by,
                at=at,
                subject=format_lazy(_("you belong to {group}"), group=group.name),
                sentence=format_lazy(
                    _("You can now register and send samples for {group}."), group=group.name
                ),
            )
    except IntegrityError:
        raise MoveNotAllowed(
            _("%(person)s belongs to %(group)s already.") % {"person": person, "group": group}
        ) from None


def remove_from_group(*, person: User, group: Group, by: User, at: datetime) -> None:
    """End that ``person`` sends samples for ``group`` and sees its consignments."""
    require(by, "people.manage")
    with transaction.atomic():
        gone, _kinds = Membership.objects.filter(user=person, group=group).delete()
        if not gone:
            raise MoveNotAllowed(
                _("%(person)s does not belong to %(group)s.") % {"person": person, "group": group}
            )
        record.write(
            by=by,
            at=at,
            verb="group.remove",
            subject=record.private(person, person.email),
            before={"group": group.name},
        )
        people_mails.tell(
            person,
            by=by,
            at=at,
            subject=format_lazy(_("you no longer belong to {group}"), group=group.name),
            sentence=format_lazy(_("You can no longer see or send samples of {group}."), group=group.name),
        )


def _keep_a_manager(person: User) -> None:
    """Refuse to lose the last lab manager: nobody could invite another."""
    others = User.objects.select_for_update().filter(role=Role.MANAGER, is_active=True).exclude(pk=person.pk)
    if person.is_manager and person.is_active and not list(others):
        raise MoveNotAllowed(
            _("%(person)s is the only lab manager. Make somebody else lab manager first.")
            % {"person": person}
        )


def _not_oneself(person: User, by: User, sentence: object) -> None:
    if person.pk == by.pk:
        raise MoveNotAllowed(sentence)
    if person.role == Role.SYSTEM:
        raise MoveNotAllowed(_("The system itself is not a person."))


def switch_off_person(*, person: User, by: User, at: datetime, reason: str = "") -> None:
    """Let ``person`` sign in no longer; their sessions end at once, what they did stays."""
    require(by, "people.manage")
    _not_oneself(person, by, _("You cannot switch off yourself. Ask another lab manager to do it."))
    with transaction.atomic():
        _keep_a_manager(person)
        claim(User.objects.filter(pk=person.pk, is_active=True), FASTER, is_active=False)
        record.write(
            by=by,
            at=at,
            verb="person.switch_off",
            subject=record.private(person, person.email),
            before={"is_active": True},
            after={"is_active": False},
            reason=reason,
        )
        people_mails.tell(
            person,
            by=by,
            at=at,
            subject=_("your account is switched off"),
            sentence=_("You can no longer sign in to labqueue. What you registered is kept."),
        )
    person.is_active = False


def switch_on_person(*, person: User, by: User, at: datetime) -> None:
    """Let ``person`` sign in again."""
    require(by, "people.manage")
    _not_oneself(person, by, _("You cannot switch on yourself. Ask another lab manager to do it."))
    if person.forgotten_at is not None:
        raise MoveNotAllowed(_("The data of this person was removed; nobody can sign in to what is left."))
    with transaction.atomic():
        claim(User.objects.filter(pk=person.pk, is_active=False), FASTER, is_active=True)
        record.write(
            by=by,
            at=at,
            verb="person.switch_on",
            subject=record.private(person, person.email),
            before={"is_active": False},
            after={"is_active": True},
        )
        people_mails.tell(
            person,
            by=by,
            at=at,
            subject=_("your account is switched on"),
            sentence=_("You can sign in to labqueue again, with the password you had."),
        )
    person.is_active = True


def change_role(*, person: User, role: str, by: User, at: datetime) -> None:
    """Make ``person`` a submitter, reception or lab manager."""
    require(by, "people.manage")
    _not_oneself(person, by, _("You cannot change your own role. Ask another lab manager to do it."))
    if role not in INVITED_ROLES:
        raise EntryProblem(
            _("The role was not changed."), {"role": _("Choose submitter, reception or lab manager.")}
        )
    if role == person.role:
        return
    former = person.role
    with transaction.atomic():
        _keep_a_manager(person)
        claim(User.objects.filter(pk=person.pk, role=former), FASTER, role=role)
        record.write(
            by=by,
            at=at,
            verb="person.change_role",
            subject=record.private(person, person.email),
            before={"role": former},
            after={"role": role},
        )
        people_mails.tell(
            person,
            by=by,
            at=at,
            subject=_("your role changed"),
            sentence=format_lazy(_("In labqueue you are now: {role}."), role=Role(role).label),
        )
    person.role = role


def _named(person: User, values: dict[str, object]) -> dict[str, object]:
    """``values`` for the record, the name by its mark."""
    return {
        field: record.private(person, str(value)) if field == "name" else value
        for field, value in values.items()
    }


def change_profile(
    *, person: User, by: User, at: datetime, name: str, zone: str, language: str | None = None
) -> None:
    """Change one's own name, time zone and language; ``None`` leaves the language as it is."""
    language = person.language if language is None else language
    name = name.strip()
    problems = {}
    if not name:
        problems["name"] = _("Write your name as the laboratory should see it.")
    if zone not in known_zones():
        problems["zone"] = _("Choose your time zone from the list.")
    if language and language not in dict(settings.LANGUAGES):
        problems["language"] = _("Choose your language from the list.")
    if problems:
        raise EntryProblem(_("Your profile was not saved."), problems)
    _save_profile(person, by, at, {"name": name, "zone": zone, "language": language})


def choose_language(*, person: User, by: User, at: datetime, language: str) -> None:
    """Change one's own language alone, as from the foot of a page."""
    if language not in dict(settings.LANGUAGES):
        raise EntryProblem(
            _("The language was not changed."), {"language": _("Choose one of the languages.")}
        )
    _save_profile(person, by, at, {"language": language})


def _save_profile(person: User, by: User, at: datetime, values: dict[str, object]) -> None:
    """Give ``person`` these ``values``, where they differ, and tell the record."""
    if person.pk != by.pk or not by.is_active:
        raise NotPermitted("People change their own name, time zone and language.")
    read = {field: getattr(person, field) for field in values}
    before, after = record.differences(read, values)
    if not after:
        return
    with transaction.atomic():
        claim(User.objects.filter(pk=person.pk, **read), FASTER, **after)
        record.write(
            by=by,
            at=at,
            verb="person.change_profile",
            subject=record.private(person, person.email),
            before=_named(person, before),
            after=_named(person, after),
        )
    for field, value in after.items():
        setattr(person, field, value)
