"""The desk as it stands and what it answers: the words that every step at it shares."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from django.utils.translation import gettext as _

from intake.errors import EntryProblem
from intake.models import Arrival, Bottle, Consignment, User
from intake.phrasebook import said_reason
from intake.querysets import BottleQuerySet
from intake.states import BottleState, ConsignmentState

#: Tones of an answer. Each has its own word, sign and sound; colour only repeats them.
LOOK, ASK, ACCEPTED, STOPPED, TOLD = "look", "ask", "accepted", "stopped", "told"

UNCHECKED = (BottleState.EXPECTED, BottleState.MISSING)
RECHECKABLE = (*UNCHECKED, BottleState.READY, BottleState.ON_HOLD)


@dataclass(frozen=True, slots=True)
class Answer:
    """What the desk says and how it stands afterwards.

    ``on`` is the number on the screen; ``asking`` and ``marks`` go with the next entry.
    ``left`` is the number of a bottle that this entry left unchecked. ``bottle`` is what ``on`` names
    where this entry has read it just now, so that showing it needs no second look.
    """

    tone: str
    word: str
    sentence: str
    on: str = ""
    asking: str = ""
    marks: str = ""
    left: str = ""
    bottle: Bottle | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class Desk:
    """The desk as it stood when an entry was made."""

    user: User
    at: datetime
    arrival: Arrival
    checked_at: datetime
    on: str = ""
    asking: str = ""
    marks: str = ""
    token: str = ""

    def bottle(self, number: str = "") -> Bottle | None:
        """The bottle of ``number`` (of what is on the screen), if this person may know of it."""
        return bottle_on_screen(self.user, number or self.on)

    def holds(self, consignment: Consignment) -> bool:
        return self.arrival.parts.filter(consignment=consignment).exists()

    def stays(self, tone: str, word: str, sentence: str) -> Answer:
        """An answer that leaves the screen and the open question as they are."""
        return Answer(tone, word, sentence, self.on, self.asking, self.marks)


def bottle_on_screen(user: User, number: str) -> Bottle | None:
    """The bottle of ``number`` with what the desk shows of it, if ``user`` may know of it."""
    visible = Bottle.objects.visible_to(user).filter(number=number)
    related = ("sample", "consignment__group", "consignment__rulebook", "arrival")
    return visible.select_related(*related).defer("consignment__rulebook__data").first()


def on_screen(desk: Desk) -> Bottle:
    bottle = desk.bottle() if desk.on else None
    if bottle is None:
        raise EntryProblem(_("There is no bottle on the screen. Scan a bottle first."))
    return bottle


def shown(desk: Desk, bottle: Bottle) -> Answer:
    """The bottle on the screen, and whether it can be checked now."""
    what = f"{bottle.sample.own_id}, {bottle.get_line_display()}"
    if bottle.consignment.state == ConsignmentState.WITHDRAWN:
        return withdrawn(bottle.consignment)
    if not desk.holds(bottle.consignment):
        sentence = _(
            "Bottle %(bottle)s belongs to %(consignment)s of %(group)s, which is not part of this arrival. "
            "Put it aside; or, if it came in this box, add its consignment (.ADD)."
        ) % {
            "bottle": bottle,
            "consignment": bottle.consignment,
            "group": bottle.consignment.group,
        }
        return stopped(_("Another consignment"), sentence, bottle)
    if bottle.state in UNCHECKED:
        was_missing = bottle.state == BottleState.MISSING
        found = _("It was missing from an earlier arrival.") if was_missing else ""
        sentence = f"{what}. {found}".strip()
        return Answer(LOOK, _("Look at this bottle"), sentence, bottle.number, bottle=bottle)
    if bottle.state == BottleState.REFUSED:
        sentence = _("%(what)s was refused: %(reason)s. Put it with the refused ones.") % {
            "what": what,
            "reason": said_reason(bottle.decision_reason) or _("no reason given"),
        }
        return stopped(_("Refused already"), sentence, bottle)
    if bottle.state in RECHECKABLE:
        return stopped(_("Checked already"), f"{what}. {_checked_by(bottle)}", bottle)
    sentence = _("%(what)s stands on the bench: %(state)s. It cannot be checked any more.") % {
        "what": what,
        "state": bottle.get_state_display(),
    }
    return stopped(_("On the bench already"), sentence, bottle)


def withdrawn(consignment: Consignment) -> Answer:
    """What came although its group took it back."""
    sentence = _(
        "%(consignment)s was withdrawn by %(group)s. Put its bottles aside and ask the group; what it "
        "still wants measured is taken in as bottles that nobody announced."
    ) % {"consignment": consignment, "group": consignment.group}
    return stopped(_("Withdrawn"), sentence)


def _checked_by(bottle: Bottle) -> str:
    check = bottle.checks.filter(undone_at__isnull=True).select_related("checked_by", "arrival").first()
    if check is None:
        return _("It is %(state)s.") % {"state": bottle.get_state_display()}
    return _("%(person)s checked it in arrival %(arrival)s; it is %(state)s. Nothing changed.") % {
        "person": check.checked_by,
        "arrival": check.arrival,
        "state": bottle.get_state_display(),
    }


def left_unchecked(desk: Desk, number: str = "") -> str:
    """The number on the screen if scanning on to ``number`` leaves it unchecked."""
    if not desk.on or desk.on == number:
        return ""
    bottle = desk.bottle()
    if bottle is None or bottle.state not in UNCHECKED or not desk.holds(bottle.consignment):
        return ""
    return bottle.number


def stopped(word: str, sentence: str, bottle: Bottle | None = None) -> Answer:
    return Answer(STOPPED, word, sentence, bottle.number if bottle else "", bottle=bottle)


def own(desk: Desk, text: str) -> BottleQuerySet:
    """Bottles of this arrival whose sample carries ``text`` as its own id."""
    return Bottle.objects.visible_to(desk.user).of_arrival(desk.arrival).filter(sample__own_id__iexact=text)


def unknown(desk: Desk, text: str) -> Answer:
    """The answer to a text that is neither a number of ours nor a command."""
    if desk.asking == "ph":
        sentence = _("“%(text)s” is no pH. Type the figure on the strip, such as 1.5 or 1-2.") % {
            "text": text
        }
        return desk.stays(STOPPED, _("Which pH?"), sentence)
    theirs = list(own(desk, text).order_by("line")[:4])
    if theirs:
        sentence = _(
            "“%(text)s” is the group's own sample id. Scan the label with our bottle number: %(numbers)s."
        ) % {
            "text": text,
            "numbers": ", ".join(f"{bottle} ({bottle.get_line_display()})" for bottle in theirs),
        }
        return desk.stays(STOPPED, _("A sample id"), sentence)
    sentence = _(
        "“%(text)s” is no number of ours and no sample id of this arrival. Scan our label; if the bottle "
        "has none, take it in as one that nobody announced."
    ) % {"text": text}
    return desk.stays(STOPPED, _("Unknown code"), sentence)
