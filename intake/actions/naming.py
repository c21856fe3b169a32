"""Bottles of a group that nobody knows yet: they stand under a group of that name until it is named."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake import mails, record
from intake.actions.indexing import index_consignments
from intake.actions.steps import claim, take_token, take_turn
from intake.errors import EntryProblem, MoveNotAllowed
from intake.models import Consignment, Group, User
from intake.permissions import require

#: The group under which bottles stand whose sender nobody knows. It has no people.
UNKNOWN = "Group not known yet"


def unknown_group() -> Group:
    """The group without people that stands for one that is not known, or does not exist yet."""
    found, _made = Group.objects.get_or_create(name=UNKNOWN, defaults={"zone": settings.TIME_ZONE})
    return found


def is_unnamed(consignment: Consignment) -> bool:
    """Whether nobody has said yet which group ``consignment`` is of."""
    return consignment.group.name == UNKNOWN


@transaction.atomic
def name_group(
    consignment: Consignment, *, by: User, at: datetime, group: Group, token: str = ""
) -> Consignment:
    """Say which group a consignment is of that came without one; the group is told what arrived.

    The zone of its sampling stays: moments were entered on it.
    """
    require(by, "arrival.open")
    take_token(token, by=by, verb="consignment.name-group", at=at)
    take_turn([consignment.pk])
    if not is_unnamed(consignment):
        raise MoveNotAllowed(
            _("%(consignment)s is of %(group)s already; that cannot be changed here.")
            % {"consignment": consignment, "group": consignment.group}
        )
    if group.name == UNKNOWN:
        raise EntryProblem(
            _("Choose the group that sent it."), {"group": _("Choose the group that sent it.")}
        )
    before = consignment.group
    claim(
        Consignment.objects.filter(pk=consignment.pk, group=before, version=consignment.version),
        _("Somebody else changed %(consignment)s a moment ago. Load the page anew.")
        % {"consignment": consignment},
        group=group,
        version=consignment.version + 1,
    )
    consignment.refresh_from_db()
    index_consignments([consignment.pk])
    record.write(
        by=by,
        at=at,
        verb="consignment.name-group",
        subject=consignment,
        consignment=consignment,
        before={"group": before.name},
        after={"group": group.name},
    )
    mails.group_named(consignment.pk, at=at)
    return consignment
