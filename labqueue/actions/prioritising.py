"""Giving a consignment or a bottle a priority, which plans respect."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake import record
from intake.actions.steps import take_token, take_turn
from intake.errors import EntryProblem, MoveNotAllowed
from intake.models import Bottle, Consignment, User
from intake.permissions import require
from intake.states import ConsignmentState
from labqueue.choices import Priority
from labqueue.models import GivenPriority


@transaction.atomic
def give_priority(
    thing: Consignment | Bottle, level: str, *, by: User, at: datetime, reason: str, token: str = ""
) -> GivenPriority:
    """Let the clocks of ``thing`` count as ``level`` says, in every plan from now on.

    A bottle's own priority counts more than that of its consignment. The group reads it in the record.
    """
    require(by, "bench.plan")
    take_token(token, by=by, verb="priority.give", at=at)
    if level not in Priority.values:
        raise EntryProblem(
            _("Choose one of the priorities."), {"level": _("Choose one of the listed answers.")}
        )
    if not reason.strip():
        raise EntryProblem(
            _("Say why it has this priority."), {"reason": _("Say why; the group reads it in the record.")}
        )
    named = {"bottle": thing} if isinstance(thing, Bottle) else {"consignment": thing}
    consignment = thing.consignment if isinstance(thing, Bottle) else thing
    if consignment.state == ConsignmentState.WITHDRAWN:
        raise MoveNotAllowed(_("This consignment was withdrawn; nothing of it is planned any more."))
    take_turn([consignment.pk])
    before = GivenPriority.objects.filter(**named).values_list("level", flat=True).first() or Priority.USUAL
    given, _made = GivenPriority.objects.update_or_create(
        **named, defaults={"level": level, "reason": reason.strip(), "given_at": at, "given_by": by}
    )
    record.write(
        by=by,
        at=at,
        verb="priority.give",
        subject=f"bottle {thing.number}" if isinstance(thing, Bottle) else thing,
        consignment=consignment,
        before={"priority": str(before)},
        after={"priority": str(level)},
        reason=reason.strip(),
    )
    return given
