"""A day and its room in words, for the pages on which days are agreed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from intake.choices import LINE_NAMES
from intake.pictures.signs import Sign
from intake.rules.facts import Line
from intake.shown import show_weekday
from intake.states import DateState
from labqueue.capacity import DayRoom, LineRoom

ROOM = Sign(gettext_lazy("Room"), "bottle-expected", "kept")
ASKED_FULL = Sign(gettext_lazy("All asked for"), "caution", "caution")
TOO_FEW = Sign(gettext_lazy("Too few places"), "bar", "run-out")
FULL = Sign(gettext_lazy("Full"), "bottle-ready", "run-out")
CLOSED = Sign(gettext_lazy("Closed"), "void", "void")

STATES = {
    DateState.ASKED: Sign(DateState.ASKED.label, "note", "note"),
    DateState.PROPOSED: Sign(DateState.PROPOSED.label, "caution", "caution"),
    DateState.AGREED: Sign(DateState.AGREED.label, "kept", "kept"),
    DateState.DECLINED: Sign(DateState.DECLINED.label, "run-out", "run-out"),
}


@dataclass(frozen=True, slots=True)
class RoomSquare:
    """One day of the calendar of rooms; ``value`` is its ISO form, for the address."""

    words: str
    weekday: int
    value: str
    sign: Sign
    lines: tuple[str, ...]
    chosen: bool
    closed: bool


def _line(room: LineRoom) -> str:
    told = {"line": LINE_NAMES[room.line], "left": room.left, "capacity": room.capacity, "asked": room.asked}
    if room.asked:
        return _("%(line)s: %(left)s of %(capacity)s free, %(asked)s asked for") % told
    return _("%(line)s: %(left)s of %(capacity)s free") % told


def room_square(room: DayRoom, wanted: dict[Line, int], chosen: date | None) -> RoomSquare:
    """``wanted`` are the bottles that somebody means to ask for, by line."""
    if room.closed:
        sign = CLOSED
    elif all(line.left == 0 for line in room.lines):
        sign = FULL
    elif not room.takes(wanted):
        sign = TOO_FEW
    elif any(wanted.get(line.line, 0) > line.left_if_all_agree for line in room.lines):
        sign = ASKED_FULL
    else:
        sign = ROOM
    lines = () if room.closed else tuple(_line(line) for line in room.lines)
    return RoomSquare(
        show_weekday(room.day),
        room.day.weekday(),
        room.day.isoformat(),
        sign,
        lines,
        room.day == chosen,
        room.closed,
    )


def overfull(room: DayRoom, wanted: dict[Line, int]) -> str:
    """What a person should know before asking for a day on which the bottles do not fit."""
    if room.closed:
        return _("The laboratory is closed on this day.")
    short = [line for line in room.lines if wanted.get(line.line, 0) > line.left]
    if not short:
        return ""
    told = ", ".join(
        _("%(left)s for %(line)s bottles") % {"left": line.left, "line": LINE_NAMES[line.line]}
        for line in short
    )
    return _("This day is over-full for so many bottles: free places left are %(told)s.") % {"told": told}
