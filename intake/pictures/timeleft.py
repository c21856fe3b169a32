"""How time left is said and how urgent it is. Moments are arguments; nothing here reads a clock.

``static/js/timeleft.js`` says the same words as time goes on; change both together.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from enum import StrEnum

from django.utils.translation import gettext as _

#: From here on a clock is called soon: about one working day and the night before it (our choice).
SOON = timedelta(hours=48)
#: From here on it is in its last hours: what one working day can still do (our choice).
LAST_HOURS = timedelta(hours=12)


class Urgency(StrEnum):
    """How urgent a clock is; the value names its sign in ``static/shapes.svg``."""

    ENOUGH = "enough"
    SOON = "soon"
    LAST_HOURS = "last-hours"
    RUN_OUT = "run-out"
    KEPT = "kept"
    LATE = "late"
    VOID = "void"
    NONE = "none"

    @property
    def word(self) -> str:
        return {
            Urgency.ENOUGH: _("time enough"),
            Urgency.SOON: _("soon"),
            Urgency.LAST_HOURS: _("last hours"),
            Urgency.RUN_OUT: _("run out"),
            Urgency.KEPT: _("kept"),
            Urgency.LATE: _("late"),
            Urgency.VOID: _("void"),
            Urgency.NONE: _("no clock"),
        }[self]


def urgency_of(
    due_at: datetime | None, now: datetime, stopped_at: datetime | None = None, void: bool = False
) -> Urgency:
    """How urgent a clock is at ``now``. Exactly due is still in time."""
    if void:
        return Urgency.VOID
    if due_at is None:
        return Urgency.NONE
    if stopped_at is not None:
        return Urgency.KEPT if stopped_at <= due_at else Urgency.LATE
    left = due_at - now
    if left < timedelta(0):
        return Urgency.RUN_OUT
    if left <= LAST_HOURS:
        return Urgency.LAST_HOURS
    return Urgency.SOON if left <= SOON else Urgency.ENOUGH


def say_length(length: timedelta) -> str:
    """A length of time in its two largest units, cut (never rounded up) to whole minutes."""
    minutes = int(abs(length).total_seconds() // 60)
    days, hours = minutes // 1440, minutes // 60 % 24
    if days >= 60:
        return _("%(days)s days") % {"days": days}
    if days:
        return _("%(days)s d %(hours)s h") % {"days": days, "hours": hours}
    if hours:
        return _("%(hours)s h %(minutes)s min") % {"hours": hours, "minutes": minutes % 60}
    return _("%(minutes)s min") % {"minutes": minutes}


def say_left(due_at: datetime, now: datetime) -> str:
    """``3 h 12 min left``, or since when a clock is over."""
    length = say_length(due_at - now)
    if due_at < now:
        return _("over by %(length)s") % {"length": length}
    return _("%(length)s left") % {"length": length}


def say_relative(moment: datetime, now: datetime) -> str:
    """``in 2 d 3 h`` or ``5 h 0 min ago``."""
    length = say_length(moment - now)
    if abs(moment - now) < timedelta(minutes=1):
        return _("just now")
    if moment > now:
        return _("in %(length)s") % {"length": length}
    return _("%(length)s ago") % {"length": length}
