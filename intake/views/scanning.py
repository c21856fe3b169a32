"""What one entry at the desk does: each kind of entry has its answer.

Every entry ends in an ``Answer``, whatever is wrong with it: the person at the desk wears gloves
and looks at bottles, so nothing may lead away from the page or be lost.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from django.utils.text import capfirst
from django.utils.translation import gettext as _

from intake import numbers
from intake.actions import receiving
from intake.actions.checking import note_sighting, undo_check
from intake.actions.deciding import agree_with_rules
from intake.actions.steps import is_spent
from intake.errors import AlreadyDone, EntryProblem, NotPermitted, Refused, SomebodyWasFaster
from intake.forms.scans import Entry, Kind
from intake.models import BenchCheck, Bottle, Consignment
from intake.phrasebook import said_reason
from intake.states import BottleState, ConsignmentState
from intake.views import seeing
from intake.views.deskwork import (
    ACCEPTED,
    LOOK,
    STOPPED,
    TOLD,
    UNCHECKED,
    Answer,
    Desk,
    left_unchecked,
    on_screen,
    shown,
    stopped,
    unknown,
    withdrawn,
)


def answer(desk: Desk, entry: Entry) -> Answer:
    """Do what ``entry`` asks and say what came of it."""
    if is_spent(desk.token):
        return _as_it_stands(desk)
    try:
        return _ANSWERS[entry.kind](desk, entry)
    except AlreadyDone:
        return _as_it_stands(desk)
    except EntryProblem as problem:
        return desk.stays(STOPPED, _("Not recorded"), problem.sentence)
    except SomebodyWasFaster as problem:
        return _who_was_faster(desk, problem)
    except Refused as problem:
        return Answer(STOPPED, _("Not recorded"), problem.sentence, desk.on)
    except NotPermitted as problem:
        return Answer(STOPPED, _("Not recorded"), str(problem), desk.on)


def _who_was_faster(desk: Desk, problem: SomebodyWasFaster) -> Answer:
    """Two reached for one bottle at the same moment: what the other one made of it."""
    bottle = desk.bottle() if desk.on else None
    if bottle is None or bottle.state in UNCHECKED:
        return Answer(STOPPED, _("Not recorded"), problem.sentence, desk.on)
    stands = shown(desk, bottle)
    sentence = _("What you entered is not recorded: somebody was faster. %(stands)s") % {
        "stands": stands.sentence
    }
    return replace(stands, tone=STOPPED, sentence=sentence)


def _as_it_stands(desk: Desk) -> Answer:
    """The answer to an entry that took effect before: how its bottle stands now."""
    bottle = desk.bottle() if desk.on else None
    if bottle is None:
        return Answer(
            TOLD, _("Recorded already"), _("This was recorded the first time; nothing changed now.")
        )
    tone = ACCEPTED if bottle.state == BottleState.READY else STOPPED
    sentence = _("%(bottle)s was recorded the first time; nothing changed now.") % {"bottle": bottle}
    return Answer(tone, capfirst(bottle.get_state_display()), sentence, bottle.number)


# Numbers


def show(desk: Desk, number: str) -> Answer:
    """The bottle of ``number`` on the screen; nothing is noted."""
    return _showing(desk, number, desk.bottle(number))


def _showing(desk: Desk, number: str, bottle: Bottle | None) -> Answer:
    left = left_unchecked(desk, number)
    if bottle is None:
        sentence = _(
            "No bottle that was sent to us has the number %(number)s. The group may not have sent its "
            "consignment yet. Put the bottle aside, or take it in as one that nobody announced."
        ) % {"number": numbers.grouped(number)}
        return replace(stopped(_("Unknown bottle"), sentence), left=left)
    return replace(shown(desk, bottle), left=left)


def _bottle(desk: Desk, entry: Entry) -> Answer:
    bottle = desk.bottle(entry.value)
    said = _showing(desk, entry.value, bottle)
    if bottle is not None and said.tone == LOOK:
        note_sighting(bottle, desk.arrival, by=desk.user, at=desk.checked_at)
    return said


def _consignment(desk: Desk, entry: Entry) -> Answer:
    left = left_unchecked(desk)
    found = Consignment.objects.visible_to(desk.user).filter(number=entry.value).first()
    if found is None:
        sentence = _("No consignment that was sent to us has the number %(number)s.") % {
            "number": numbers.grouped(entry.value)
        }
        return replace(stopped(_("Unknown consignment"), sentence), left=left)
    if found.state == ConsignmentState.WITHDRAWN:
        return replace(withdrawn(found), left=left)
    if desk.holds(found):
        sentence = _("%(consignment)s is part of this arrival. Go on with its bottles.") % {
            "consignment": found
        }
        return Answer(TOLD, _("Part of this arrival"), sentence, left=left)
    sentence = _("%(consignment)s is not part of this arrival. If it came in this box, add it (.ADD).") % {
        "consignment": found
    }
    return Answer(STOPPED, _("Another consignment"), sentence, found.number, left=left)


def _arrival(desk: Desk, entry: Entry) -> Answer:
    if entry.value == desk.arrival.number:
        return desk.stays(TOLD, _("This arrival"), _("You are at the desk of this arrival."))
    sentence = _("%(number)s is the number of another arrival. Open it from the reception page.") % {
        "number": numbers.grouped(entry.value)
    }
    return desk.stays(STOPPED, _("Another arrival"), sentence)


def _place(desk: Desk, entry: Entry) -> Answer:
    sentence = _("%(number)s is a storage place. Bottles are put away on the page of storage.") % {
        "number": numbers.grouped(entry.value)
    }
    return desk.stays(STOPPED, _("A storage place"), sentence)


# Commands


def _agree(desk: Desk, entry: Entry) -> Answer:
    bottle = on_screen(desk)
    bottle = agree_with_rules(bottle, by=desk.user, at=desk.at, token=desk.token)
    tone = ACCEPTED if bottle.state == BottleState.READY else STOPPED
    sentence = _("%(bottle)s: %(decision)s, as the rules suggest. %(reason)s") % {
        "bottle": bottle,
        "decision": bottle.get_decision_display(),
        "reason": said_reason(bottle.decision_reason),
    }
    return Answer(tone, capfirst(bottle.get_decision_display()), sentence, bottle.number)


def _undo(desk: Desk, entry: Entry) -> Answer:
    mine = BenchCheck.objects.filter(arrival=desk.arrival, checked_by=desk.user, undone_at__isnull=True)
    last = mine.order_by("-pk").first()
    if last is None:
        raise EntryProblem(_("You have recorded nothing in this arrival that could be undone."))
    bottle = undo_check(
        Bottle.objects.select_related("consignment").get(pk=last.bottle_id),
        by=desk.user,
        at=desk.at,
        token=desk.token,
    )
    sentence = _("The check of bottle %(bottle)s is taken back; it is unchecked again.") % {"bottle": bottle}
    return Answer(TOLD, _("Undone"), sentence, bottle.number)


def _add(desk: Desk, entry: Entry) -> Answer:
    bottle = desk.bottle() if desk.on else None
    visible = Consignment.objects.visible_to(desk.user)
    consignment = bottle.consignment if bottle else visible.filter(number=desk.on or "-").first()
    if consignment is None:
        raise EntryProblem(_("Scan the consignment, or one of its bottles, before you add it."))
    receiving.add_consignment(desk.arrival, consignment, by=desk.user, at=desk.at)
    if bottle is not None:
        return shown(desk, bottle)
    sentence = _("%(consignment)s is now part of this arrival.") % {"consignment": consignment}
    return Answer(TOLD, _("Added"), sentence)


def _leave(desk: Desk, entry: Entry) -> Answer:
    sentence = _("Scan the next bottle.")
    return Answer(TOLD, _("Screen cleared"), sentence, left=left_unchecked(desk))


# What means nothing


def _nothing(desk: Desk, entry: Entry) -> Answer:
    return desk.stays(TOLD, _("Nothing typed"), _("Scan a bottle, or press the space bar if it is in order."))


def _misread(desk: Desk, entry: Entry) -> Answer:
    sentence = _("“%(text)s” looks like a number of ours but was read or typed wrong. Scan it again.") % {
        "text": entry.value
    }
    return desk.stays(STOPPED, _("Misread"), sentence)


def _no_command(desk: Desk, entry: Entry) -> Answer:
    sentence = _("“%(text)s” is no command. The commands stand on the card and under the box.") % {
        "text": entry.value
    }
    return desk.stays(STOPPED, _("No such command"), sentence)


def _other(desk: Desk, entry: Entry) -> Answer:
    return unknown(desk, entry.value)


_ANSWERS: dict[Kind, Callable[[Desk, Entry], Answer]] = {
    Kind.NOTHING: _nothing,
    Kind.BOTTLE: _bottle,
    Kind.CONSIGNMENT: _consignment,
    Kind.ARRIVAL: _arrival,
    Kind.PLACE: _place,
    Kind.MISREAD: _misread,
    Kind.OTHER: _other,
    Kind.MARKS: seeing.marks,
    Kind.PH: seeing.ph,
    Kind.REMARK: seeing.remark,
    Kind.OK: seeing.ok,
    Kind.AGREE: _agree,
    Kind.UNDO: _undo,
    Kind.ADD: _add,
    Kind.LEAVE: _leave,
    Kind.NO_COMMAND: _no_command,
}
