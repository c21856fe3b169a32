"""Making an account outright, without an invitation: for a new laboratory and for the demo."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake import record
from intake.errors import EntryProblem
from intake.models import Group, Membership, User
from intake.permissions import require


def _check(email: str, name: str, password: str) -> None:
    problems = {}
    try:
        validate_email(email)
    except ValidationError:
        problems["email"] = _("“%(email)s” is not a mail address.") % {"email": email}
    if User.objects.filter(email=email).exists():
        problems["email"] = _("There is an account of %(email)s already.") % {"email": email}
    if not name:
        problems["name"] = _("Say what the person is called.")
    try:
        validate_password(password, User(email=email, name=name))
    except ValidationError as problem:
        problems["password"] = " ".join(problem.messages)
    if problems:
        raise EntryProblem(_("The account was not made."), problems)


@transaction.atomic
def admit_person(
    *,
    by: User,
    at: datetime,
    email: str,
    name: str,
    role: str,
    password: str,
    zone: str = "UTC",
    groups: Sequence[Group] = (),
) -> User:
    """Make an account that can sign in at once. Raises ``EntryProblem`` naming what cannot be."""
    require(by, "people.manage")
    email, name = email.strip().lower(), name.strip()
    _check(email, name, password)
    person = User.objects.create_user(email, password, name=name, role=role)
    person.zone = zone
    person.save(update_fields=["zone"])
    Membership.objects.bulk_create(Membership(user=person, group=group) for group in groups)
    record.write(
        by=by,
        at=at,
        verb="person.admit",
        subject=record.private(person, email),
        after={"role": role, "groups": [group.name for group in groups]},
    )
    return person
