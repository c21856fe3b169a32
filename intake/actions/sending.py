"""Sending a consignment, and taking it back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import F

from intake import mails, record
from intake.actions.amending import refuse_incomplete
from intake.actions.steps import claim, claim_version, take_token
from intake.errors import EntryProblem, MoveNotAllowed
from intake.models import Consignment, FindingRow, User
from intake.permissions import require
from intake.rules.judgement import Weight
from intake.states import CONSIGNMENT_MOVES, ConsignmentState, may_move


@dataclass(frozen=True, slots=True)
class Loss:
    """One cause that will cost ions if the consignment goes as it is, with all it touches."""

    code: str
    weight: str
    sentence: str
    samples: tuple[str, ...]
    ions: tuple[str, ...]
    remedies: tuple[str, ...]


def expected_losses(consignment: Consignment) -> list[Loss]:
    """What will or may be lost if ``consignment`` is sent as it is, heaviest first.

    One entry a cause; samples that share it are gathered under the sentence of the first.
    """
    rows = (
        FindingRow.objects.filter(sample__consignment=consignment, rank__gte=Weight.CAUTION.rank)
        .select_related("sample")
        .order_by("-rank", "sample__position", "pk")
    )
    gathered: dict[str, list[FindingRow]] = {}
    for row in rows:
        gathered.setdefault(row.code, []).append(row)
    return [
        Loss(
            code=code,
            weight=same[0].weight,
            sentence=same[0].sentence,
            samples=tuple(dict.fromkeys(row.sample.own_id for row in same)),
            ions=tuple(dict.fromkeys(ion for row in same for ion in row.ions)),
            remedies=tuple(text for stage, text in same[0].remedies if stage == "before sending"),
        )
        for code, same in gathered.items()
    ]


def require_draft(consignment: Consignment) -> None:
    """Raise ``MoveNotAllowed`` for what was sent before."""
    if not consignment.is_draft:
        raise MoveNotAllowed(
            f"This consignment is {consignment.get_state_display()}; only a draft can be sent. "
            "What you change in a sent consignment the laboratory sees at once."
        )


@transaction.atomic
def send_consignment(
    consignment: Consignment, *, by: User, at: datetime, version: int, token: str = ""
) -> Consignment:
    """Hand a draft over to the laboratory. The losses known at this moment go into the record."""
    require(by, "consignment.send", consignment)
    take_token(token, by=by, verb="consignment.send", at=at)
    require_draft(consignment)
    without = consignment.samples.filter(bottles__isnull=True).values_list("own_id", flat=True)
    refuse_incomplete(consignment.samples.count(), list(without))
    losses = expected_losses(consignment)
    claim_version(consignment, version)
    consignment.state = ConsignmentState.SENT
    consignment.sent_at = at
    consignment.save(update_fields=["state", "sent_at"])
    record.write(
        by=by,
        at=at,
        verb="consignment.send",
        subject=consignment,
        consignment=consignment,
        before={"state": ConsignmentState.DRAFT},
        after={
            "state": ConsignmentState.SENT,
            "bottles": consignment.bottles.count(),
            "known losses": [f"{loss.code}: {', '.join(loss.samples)}" for loss in losses],
        },
    )
    transaction.on_commit(lambda: mails.consignment_sent(consignment.pk))
    return consignment


@transaction.atomic
def withdraw_consignment(
    consignment: Consignment, *, by: User, at: datetime, reason: str, token: str = ""
) -> Consignment:
    """Take a consignment back before anything of it arrived. A reason is due once it was sent."""
    require(by, "consignment.withdraw", consignment)
    take_token(token, by=by, verb="consignment.withdraw", at=at)
    if not may_move(CONSIGNMENT_MOVES, consignment.state, ConsignmentState.WITHDRAWN):
        raise MoveNotAllowed(
            f"This consignment is {consignment.get_state_display()} and cannot be withdrawn any more."
        )
    if consignment.state == ConsignmentState.SENT and not reason.strip():
        raise EntryProblem(
            "Say why you withdraw it; the laboratory was expecting it.",
            {"reason": "Say why you withdraw it."},
        )
    was = consignment.state
    claim(
        Consignment.objects.filter(pk=consignment.pk, state=was),
        "Somebody changed this consignment a moment ago. Load the page anew to see how it stands.",
        state=ConsignmentState.WITHDRAWN,
        withdrawn_at=at,
        version=F("version") + 1,
    )
    consignment.refresh_from_db()
    record.write(
        by=by,
        at=at,
        verb="consignment.withdraw",
        subject=consignment,
        consignment=consignment,
        before={"state": was},
        after={"state": ConsignmentState.WITHDRAWN},
        reason=reason.strip(),
    )
    if was == ConsignmentState.SENT:
        transaction.on_commit(lambda: mails.consignment_withdrawn(consignment.pk))
    return consignment
