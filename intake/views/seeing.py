"""What was seen on the bottle on the screen: in order, marked as wrong, its pH, a remark."""

from __future__ import annotations

from dataclasses import replace

from django.utils.translation import gettext as _

from intake.actions.checking import Checked, check_bottle
from intake.actions.judging import bottle_facts, rulebook_of
from intake.errors import EntryProblem
from intake.forms.scans import Entry
from intake.models import Bottle
from intake.phrasebook import said
from intake.rules.looks import Fault, faults_of, seen_in_order, wants_strip
from intake.states import BottleState
from intake.views.deskwork import (
    ACCEPTED,
    ASK,
    RECHECKABLE,
    STOPPED,
    UNCHECKED,
    Answer,
    Desk,
    on_screen,
    own,
    shown,
    unknown,
)


def ok(desk: Desk, entry: Entry) -> Answer:
    bottle = on_screen(desk)
    if desk.asking:
        return _asked(desk.asking, bottle, desk.marks, STOPPED)
    if bottle.state not in UNCHECKED:
        return shown(desk, bottle)
    facts = bottle_facts(bottle, None, None)
    if wants_strip(facts):
        return _asked("ph", bottle, "", ASK)
    return _in_order(desk, bottle, {})


def _in_order(desk: Desk, bottle: Bottle, strip: dict[str, object]) -> Answer:
    facts = bottle_facts(bottle, None, None)
    seen = seen_in_order(facts, rulebook_of(bottle.consignment.rulebook))
    return _record(desk, bottle, {**seen, **strip}, in_order=True)


def marks(desk: Desk, entry: Entry) -> Answer:
    if not desk.on and not entry.meant:
        return unknown(desk, entry.value)
    bottle = on_screen(desk)
    if not entry.meant and own(desk, entry.value).exists():
        sentence = _(
            "%(text)s is a sample id of a group here, not our number. Scan the label with our bottle number. "
            "To mark what is wrong, type .%(text)s."
        ) % {"text": entry.value}
        return desk.stays(STOPPED, _("A sample id"), sentence)
    return _marked(desk, bottle, entry.value)


def _marked(desk: Desk, bottle: Bottle, marks: str) -> Answer:
    if bottle.state not in RECHECKABLE:
        return shown(desk, bottle)
    faults = _faults(bottle, marks)
    asks = [fault.asks for fault in faults if fault.asks]
    if len(asks) > 1:
        raise EntryProblem(_("Mark 4 and 9 one after the other: each asks for an answer."))
    if asks:
        return _asked(asks[0], bottle, marks, ASK)
    return _record(desk, bottle, _seen(faults), in_order=False)


def _faults(bottle: Bottle, marks: str) -> list[Fault]:
    return [fault for fault in faults_of(bottle_facts(bottle, None, None)) if fault.key in marks]


def _seen(faults: list[Fault]) -> dict[str, object]:
    return {name: value for fault in faults for name, value in fault.seen.items()}


def _asked(asks: str, bottle: Bottle, marks: str, tone: str) -> Answer:
    if asks == "ph":
        sentence = _(
            "Pour a little into another vessel and hold the strip into that, never into the bottle. "
            "Type what it shows, such as 1.5 or 1-2."
        )
        return Answer(tone, _("Which pH?"), sentence, bottle.number, "ph", marks, bottle=bottle)
    sentence = _("Type in a few words what is wrong with this bottle.")
    return Answer(tone, _("What is wrong?"), sentence, bottle.number, "remark", marks, bottle=bottle)


def ph(desk: Desk, entry: Entry) -> Answer:
    bottle = on_screen(desk)
    if bottle.state not in RECHECKABLE or (not desk.marks and bottle.state not in UNCHECKED):
        return shown(desk, bottle)
    low, high = entry.ph or (0.0, 0.0)
    strip: dict[str, object] = {"ph_low": low, "ph_high": high}
    if desk.marks:
        return _record(desk, bottle, {**_seen(_faults(bottle, desk.marks)), **strip}, in_order=False)
    return _in_order(desk, bottle, strip)


def remark(desk: Desk, entry: Entry) -> Answer:
    bottle = on_screen(desk)
    if bottle.state not in RECHECKABLE:
        return shown(desk, bottle)
    return _record(desk, bottle, _seen(_faults(bottle, desk.marks)), in_order=False, remark=entry.value)


def _record(
    desk: Desk, bottle: Bottle, seen: dict[str, object], *, in_order: bool, remark: str = ""
) -> Answer:
    checked = check_bottle(
        bottle,
        desk.arrival,
        by=desk.user,
        at=desk.at,
        seen=seen,
        in_order=in_order,
        remark=remark,
        checked_at=desk.checked_at,
        token=desk.token,
    )
    return replace(_recorded(checked), bottle=checked.bottle)


def _recorded(checked: Checked) -> Answer:
    bottle, suggestion = checked.bottle, checked.suggestion
    if bottle.state == BottleState.READY:
        if checked.wants_acid:
            return _accepted_short_of_acid(bottle)
        sentence = _("%(bottle)s is recorded as seen in order.") % {"bottle": bottle}
        return Answer(ACCEPTED, _("Accepted"), sentence, bottle.number)
    if suggestion.clear:
        sentence = _(
            "You marked something on %(bottle)s, so it waits for a decision. By the rules nothing is lost by "
            "it: agree (.AGREE) to accept it."
        ) % {"bottle": bottle}
        return Answer(STOPPED, _("On hold"), sentence, bottle.number)
    sentence = _("%(bottle)s is recorded. Put it aside. %(why)s") % {
        "bottle": bottle,
        "why": said(suggestion.sentence),
    }
    return Answer(STOPPED, _("On hold"), sentence, bottle.number)


def _accepted_short_of_acid(bottle: Bottle) -> Answer:
    """The rulebook names no pH that the strip fails, but so little acid does not keep the water well."""
    sentence = _(
        "%(bottle)s is recorded; its rulebook sets no limit that the strip fails. The acid is scarce all the "
        "same: see below what to add, or leave it so."
    ) % {"bottle": bottle}
    return Answer(ASK, _("Accepted, but little acid"), sentence, bottle.number)
