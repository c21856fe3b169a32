"""Issuing the statement of a consignment, and the corrections that replace it."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext_lazy as _

from intake import mails, record
from intake.actions.steps import take_token
from intake.errors import EntryProblem, MoveNotAllowed, SomebodyWasFaster
from intake.models import Consignment, Statement, User
from intake.permissions import require
from intake.sealing import digest_of, seal_of
from intake.states import ConsignmentState
from intake.stating import open_bottles, statement_content


def latest_statement(consignment: Consignment) -> Statement | None:
    """The statement of ``consignment`` that stands, if there is one."""
    return consignment.statements.order_by("-sequence").first()


@transaction.atomic
def issue_statement(
    consignment: Consignment,
    *,
    by: User,
    at: datetime,
    seen: str,
    reason: str = "",
    early: bool = False,
    token: str = "",
) -> Statement:
    """Release the statement of ``consignment`` as the person saw it; unchangeable from then on.

    ``seen`` is the digest of the content that the person read: if it is another by now, nothing is
    released. ``early`` says that the person knows of bottles still to be measured. Where a statement
    stands already, the new one replaces it and needs a ``reason``. The group is mailed.
    """
    require(by, "statement.issue", consignment)
    take_token(token, by=by, verb="statement.issue", at=at)
    if consignment.state != ConsignmentState.RECEIVED:
        raise MoveNotAllowed(
            _("This consignment is %(state)s. A statement closes what was received.")
            % {"state": consignment.get_state_display()}
        )
    former = latest_statement(consignment)
    content = statement_content(consignment)
    if digest_of(content) != seen:
        raise SomebodyWasFaster(
            _("Something of this consignment changed after you opened the page. Read it again, then issue.")
        )
    _refuse_unready(consignment, former, content, reason.strip(), early=early)
    statement = Statement(
        consignment=consignment,
        sequence=former.sequence + 1 if former else 1,
        content=content,
        issued_by=by,
        issued_name=str(by),
        # To the second, as it is printed and sealed.
        issued_at=at.replace(microsecond=0),
        replaces=former,
        reason=reason.strip() if former else "",
    )
    statement.number = f"{consignment.number}-{statement.sequence}"
    statement.digest = seal_of(statement)
    try:
        with transaction.atomic():
            statement.save(force_insert=True)
            if former is None:
                Consignment.objects.filter(pk=consignment.pk).update(stated_at=statement.issued_at)
    except IntegrityError:
        raise SomebodyWasFaster(
            _("Somebody else issued a statement of this consignment a moment ago. Load the page anew.")
        ) from None
    record.write(
        by=by,
        at=at,
        verb="statement.issue",
        subject=f"statement {statement.number}",
        consignment=consignment,
        before={"replaces": former.number} if former else {},
        after={"statement": statement.number, "digest": statement.digest, "ions": content["tally"]},
        reason=statement.reason,
    )
    mails.statement_issued(statement.pk, at=at)
    return statement


def _refuse_unready(
    consignment: Consignment, former: Statement | None, content: dict, reason: str, *, early: bool
) -> None:
    if former is not None and former.content == content:
        raise MoveNotAllowed(
            _("Statement %(former)s says all this already; a correction needs something to correct.")
            % {"former": former}
        )
    if former is not None and not reason:
        raise EntryProblem(
            _("Say why this replaces statement %(former)s; the group will read it.") % {"former": former},
            {"reason": _("Say what was wrong or is new; the group will read it.")},
        )
    waiting = open_bottles(consignment)
    if waiting and not early:
        bottles = "1 bottle" if waiting == 1 else f"{waiting} bottles"
        raise EntryProblem(
            _("%(bottles)s may still be measured. Wait, or tick that you know.") % {"bottles": bottles},
            {
                "early": _("%(bottles)s may still be measured. Tick this if you want to close all the same.")
                % {"bottles": bottles}
            },
        )
