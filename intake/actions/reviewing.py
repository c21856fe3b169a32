"""Looking again at what was accepted, when a fact about its arrival changes afterwards."""

from __future__ import annotations

from datetime import datetime

from intake import record
from intake.actions.judging import rulebook_of, stored_facts
from intake.actions.moving import move_bottle
from intake.choices import Decision
from intake.models import Arrival, Bottle, Sample, User
from intake.rules.judge import judge
from intake.rules.suggesting import suggest
from intake.states import BottleState


def hold_what_no_longer_passes(arrival: Arrival, *, by: User, at: datetime) -> list[Bottle]:
    """Put bottles of ``arrival`` on hold that were accepted as in order and would not be now.

    A box may be emptied before its thermometer is read; what the figure then says must not go
    unseen. What a manager accepted against the rules, with a reason, stays accepted. Must be
    called inside the transaction that changed the fact.
    """
    accepted = Bottle.objects.filter(
        arrival=arrival, state=BottleState.READY, decision=Decision.ACCEPTED, decision_reason=""
    )
    concerned = set(accepted.values_list("pk", flat=True))
    samples = Sample.objects.filter(bottles__in=concerned).distinct()
    held = []
    for sample, bottles, its_facts, their_facts in stored_facts(
        samples.select_related("consignment__rulebook").defer("consignment__rulebook__data").order_by("pk")
    ):
        book = rulebook_of(sample.consignment.rulebook)
        suggested = suggest(judge(its_facts, their_facts, book), their_facts, book)
        for bottle, outcome in zip(bottles, suggested, strict=True):
            if bottle.pk not in concerned or outcome.clear:
                continue
            bottle.consignment = sample.consignment
            move_bottle(
                bottle,
                BottleState.ON_HOLD,
                decision=Decision.HELD,
                decision_reason=outcome.why,
                decided_by=None,
                decided_at=None,
            )
            _write(bottle, outcome.why, by=by, at=at)
            held.append(bottle)
    return held


def _write(bottle: Bottle, why: str, *, by: User, at: datetime) -> None:
    record.write(
        by=by,
        at=at,
        verb="bottle.hold",
        subject=f"bottle {bottle.number}",
        consignment=bottle.consignment,
        before={"state": BottleState.READY, "decision": Decision.ACCEPTED},
        after={"state": BottleState.ON_HOLD, "decision": Decision.HELD},
        reason=why,
    )
