"""Deciding what happens to a checked bottle, and giving up single ions of it."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake.actions.checking import suggestion_for
from intake.actions.questioning import ask_about
from intake.actions.ruling import carry_out, change_dropped
from intake.actions.steps import take_token
from intake.choices import Decision
from intake.errors import EntryProblem, MoveNotAllowed
from intake.models import Bottle, User
from intake.permissions import require
from intake.rules.outcomes import Reception
from intake.states import BottleState

#: What a person decides who agrees with the rules.
DECISION_OF = {
    Reception.ACCEPTED: Decision.ACCEPTED,
    Reception.WITH_RESERVATION: Decision.RESERVED,
    Reception.ON_HOLD: Decision.HELD,
    Reception.REFUSED: Decision.REFUSED,
}

DECIDABLE = (BottleState.READY, BottleState.ON_HOLD, BottleState.REFUSED)


def _require_checked(bottle: Bottle) -> None:
    if bottle.state not in DECIDABLE:
        raise MoveNotAllowed(
            _("Bottle %(bottle)s is %(state)s; a decision needs a check at the bench first.")
            % {"bottle": bottle, "state": bottle.get_state_display()}
        )


@transaction.atomic
def decide_bottle(
    bottle: Bottle, *, by: User, at: datetime, decision: str, reason: str = "", token: str = ""
) -> Bottle:
    """Accept, accept with a reservation, hold or refuse a checked bottle.

    A reservation and a refusal need a reason. The group is asked about a bottle put on hold once
    its arrival is closed. Accepting against the rules' suggestion needs
    the manager's role and a reason.
    """
    require(by, "bottle.decide", bottle)
    take_token(token, by=by, verb="bottle.decide", at=at)
    _require_checked(bottle)
    decision = Decision(decision)
    reason = reason.strip()
    if decision is Decision.NONE:
        raise EntryProblem(_("Choose what is to happen to the bottle."), {"decision": _("Choose one.")})
    if decision in (Decision.RESERVED, Decision.REFUSED) and not reason:
        raise EntryProblem(
            _("Say why the bottle is %(label)s; the group will read it.") % {"label": decision.label},
            {"reason": _("Say why; the group will read it.")},
        )
    if decision is Decision.ACCEPTED and not suggestion_for(bottle).clear:
        if not by.is_manager:
            raise EntryProblem(
                _(
                    "Only the lab manager accepts a bottle against the rules. Decide as they suggest, accept "
                    "it with a reservation, or leave it on hold and tell the manager."
                ),
                {"decision": _("Only the lab manager accepts this bottle without a reservation.")},
            )
        if not reason:
            raise EntryProblem(
                _("The rules do not suggest accepting this bottle without a reservation. Say why you do."),
                {"reason": _("Say why you overrule the rules.")},
            )
    carry_out(bottle, by=by, at=at, decision=decision, reason=reason)
    if decision is Decision.HELD and bottle.arrival is not None and bottle.arrival.closed_at is not None:
        ask_about([bottle], by=by, at=at)
    return bottle


@transaction.atomic
def agree_with_rules(bottle: Bottle, *, by: User, at: datetime, token: str = "") -> Bottle:
    """Decide for a checked bottle what the rules suggest, with their sentences as the reason.

    Ions that cannot be measured from it are given up. A person does this bottle by bottle,
    after having read the suggestion; nothing is decided by silence.
    """
    require(by, "bottle.decide", bottle)
    take_token(token, by=by, verb="bottle.agree", at=at)
    _require_checked(bottle)
    suggestion = suggestion_for(bottle)
    for ion in suggestion.give_up:
        why = " ".join(
            dict.fromkeys(
                finding.sentence for finding in suggestion.findings if not finding.ions or ion in finding.ions
            )
        )
        give_up_ion(bottle, by=by, at=at, ion=ion, reason=why)
    if suggestion.give_up:
        suggestion = suggestion_for(bottle)
    decision = DECISION_OF[suggestion.reception]
    reason = "" if decision is Decision.ACCEPTED else suggestion.why
    return decide_bottle(bottle, by=by, at=at, decision=decision, reason=reason)


@transaction.atomic
def give_up_ion(bottle: Bottle, *, by: User, at: datetime, ion: str, reason: str, token: str = "") -> Bottle:
    """Give up one ion of a bottle; the others go on. It has no clock any more."""
    require(by, "bottle.decide", bottle)
    take_token(token, by=by, verb="ion.give-up", at=at)
    _require_checked(bottle)
    if ion not in bottle.ions:
        raise EntryProblem(
            _("%(ion)s was not asked for in bottle %(bottle)s.") % {"ion": ion, "bottle": bottle}
        )
    if not reason.strip():
        raise EntryProblem(
            _("Say why %(ion)s is given up.") % {"ion": ion},
            {"reason": _("Say why; the group will read it.")},
        )
    change_dropped(
        bottle, {**bottle.dropped, ion: reason.strip()}, by=by, at=at, verb="ion.give-up", reason=reason
    )
    return bottle


@transaction.atomic
def restore_ion(bottle: Bottle, *, by: User, at: datetime, ion: str, token: str = "") -> Bottle:
    """Take back that an ion was given up."""
    require(by, "bottle.decide", bottle)
    take_token(token, by=by, verb="ion.restore", at=at)
    left = {name: why for name, why in bottle.dropped.items() if name != ion}
    if left == bottle.dropped:
        raise MoveNotAllowed(
            _("%(ion)s of bottle %(bottle)s was not given up.") % {"ion": ion, "bottle": bottle}
        )
    change_dropped(bottle, left, by=by, at=at, verb="ion.restore", reason="")
    return bottle
