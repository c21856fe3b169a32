"""Sending a consignment, and taking it back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext_lazy as _

from intake import mails, record
from intake.actions.agreeing import follow_bottles
from intake.actions.amending import refuse_incomplete
from intake.actions.confirming import confirm, doubts_of, require_confirmed
from intake.actions.steps import claim, claim_version, take_token
from intake.errors import EntryProblem, MoveNotAllowed
from intake.models import ClockRow, Consignment, FindingRow, User
from intake.permissions import require
from intake.rules.judgement import Weight
from intake.rules.words import say_moment
from intake.states import CONSIGNMENT_MOVES, ConsignmentState, may_move

#: A holding time that ends within this is told before sending: about a journey and a queue (our choice).
SHORT = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class Loss:
    """One cause that will cost ions if the consignment goes as it is, with all it touches."""

    code: str
    weight: str
    sentence: str
    samples: tuple[str, ...]
    ions: tuple[str, ...]
    remedies: tuple[str, ...]


def expected_losses(consignment: Consignment, at: datetime) -> list[Loss]:
    """What will or may be lost if ``consignment`` is sent at ``at`` as it is, heaviest first.

    One entry a cause; samples that share it are gathered under the sentence of the first. Holding
    times that are over, or will be within ``SHORT``, are causes too.
    """
    rows = (
        FindingRow.objects.filter(sample__consignment=consignment, rank__gte=Weight.CAUTION.rank)
        .select_related("sample")
        .order_by("-rank", "sample__position", "pk")
    )
    gathered: dict[str, list[FindingRow]] = {}
    for row in rows:
        gathered.setdefault(row.code, []).append(row)
    found = [
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
    return sorted([*_losses_of_time(consignment, at), *found], key=lambda loss: -Weight(loss.weight).rank)


def _losses_of_time(consignment: Consignment, at: datetime) -> list[Loss]:
    """Holding times that are over at ``at``, and those that end too soon for a journey."""
    clocks = ClockRow.objects.filter(bottle__consignment=consignment).select_related("bottle__sample")
    clocks = clocks.order_by("bottle__sample__position", "bottle__line", "pk")
    over = list(clocks.due_before(at))
    short = list(clocks.keepable(at).filter(due_at__lte=at + SHORT))
    losses = []
    if over:
        sentence = "The holding time is over. The laboratory will ask you whether the ions are still wanted."
        losses.append(
            _loss_of(
                "clock.over",
                sentence,
                over,
                "Take these samples anew if you can; values measured now are reported as late.",
            )
        )
    if short:
        first = say_moment(min(clock.due_at for clock in short), consignment.zone)
        sentence = f"A holding time ends within 24 hours, the first at {first}."
        losses.append(
            _loss_of(
                "clock.short",
                sentence,
                short,
                "Bring the bottles at once, and tell the laboratory that they come.",
            )
        )
    return losses


def _loss_of(code: str, sentence: str, clocks: list[ClockRow], remedy: str) -> Loss:
    return Loss(
        code=code,
        weight=Weight.CAUTION.value,
        sentence=sentence,
        samples=tuple(dict.fromkeys(clock.bottle.sample.own_id for clock in clocks)),
        ions=tuple(dict.fromkeys(clock.ion for clock in clocks)),
        remedies=(remedy,),
    )


def require_draft(consignment: Consignment) -> None:
    """Raise ``MoveNotAllowed`` for what was sent before."""
    if not consignment.is_draft:
        raise MoveNotAllowed(
            _(
                "This consignment is %(state)s; only a draft can be sent. What you change in a sent "
                "consignment the laboratory sees at once."
            )
            % {"state": consignment.get_state_display()}
        )


@transaction.atomic
def send_consignment(
    consignment: Consignment, *, by: User, at: datetime, version: int, reason: str = "", token: str = ""
) -> Consignment:
    """Hand a draft over to the laboratory. The losses known at this moment go into the record.

    Where readings look wrong, ``reason`` says why they are right; it goes into the record, too, and
    without it ``EntryProblem`` is raised.
    """
    require(by, "consignment.send", consignment)
    take_token(token, by=by, verb="consignment.send", at=at)
    require_draft(consignment)
    without = consignment.samples.filter(bottles__isnull=True).values_list("own_id", flat=True)
    refuse_incomplete(consignment.samples.count(), list(without))
    losses = expected_losses(consignment, at)
    doubts = doubts_of(consignment, at=at)
    require_confirmed(doubts, reason)
    claim_version(consignment, version)
    confirmed = confirm(consignment, doubts, reason)
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
            **confirmed,
        },
        reason=reason.strip() if doubts else "",
    )
    follow_bottles(consignment, by=by, at=at)
    mails.consignment_sent(consignment.pk, at=at)
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
            _("This consignment is %(state)s and cannot be withdrawn any more.")
            % {"state": consignment.get_state_display()}
        )
    if consignment.state == ConsignmentState.SENT and not reason.strip():
        raise EntryProblem(
            _("Say why you withdraw it; the laboratory was expecting it."),
            {"reason": _("Say why you withdraw it.")},
        )
    was = consignment.state
    claim(
        Consignment.objects.filter(pk=consignment.pk, state=was),
        _("Somebody changed this consignment a moment ago. Load the page anew to see how it stands."),
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
        mails.consignment_withdrawn(consignment.pk, at=at)
    return consignment
