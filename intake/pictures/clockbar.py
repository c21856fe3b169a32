"""The clock bar: one small picture of a holding time, used wherever one is shown.

Collection stands at the left end and the due moment always at the same place, so that bars
under one another can be compared. What is over runs on to the right of the due mark. Lengths
are in the units of the picture's view box.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from intake.pictures.timeleft import Urgency, say_left, urgency_of

WIDTH, HEIGHT = 240, 28
START_X, DUE_X, END_X = 8.0, 192.0, 232.0
MIDDLE_Y, SPAN_HEIGHT = 15, 8
MARKS = 4


@dataclass(frozen=True, slots=True)
class ClockBar:
    """All places of one bar. A place is ``None`` where its moment is unknown.

    ``share`` is the part of the holding time used, in per cent, 100 at the due moment.
    """

    urgency: Urgency
    label: str
    left: str
    share: int | None
    used_width: float
    over_width: float
    now_x: float | None
    received_x: float | None
    planned_x: float | None
    marks: tuple[float, ...]
    due_at: datetime | None
    start_x: float = START_X
    due_x: float = DUE_X
    span_width: float = DUE_X - START_X
    view_box: str = f"0 0 {WIDTH} {HEIGHT}"

    @property
    def known(self) -> bool:
        return self.share is not None

    @property
    def ticks(self) -> str:
        """The marks between the ends, as a path."""
        return "".join(f"M{mark} 19v4" for mark in self.marks)

    @property
    def now_points(self) -> str:
        """The pointer from above that says now."""
        return _triangle(self.now_x, 1, 11)

    @property
    def planned_points(self) -> str:
        """The diamond from below that says planned injection."""
        if self.planned_x is None:
            return ""
        x = self.planned_x
        return f"{x:.1f},15 {x + 5:.1f},21 {x:.1f},27 {x - 5:.1f},21"


def _triangle(x: float | None, top: float, tip: float) -> str:
    if x is None:
        return ""
    return f"{x - 5:.1f},{top} {x + 5:.1f},{top} {x:.1f},{tip}"


def place(moment: datetime | None, starts_at: datetime, due_at: datetime) -> float | None:
    """Where ``moment`` stands between the ends of the picture."""
    if moment is None:
        return None
    length = (due_at - starts_at).total_seconds()
    share = (moment - starts_at).total_seconds() / length if length > 0 else 2.0
    return round(min(max(START_X + share * (DUE_X - START_X), START_X), END_X), 1)


def _share(end: datetime, starts_at: datetime, due_at: datetime) -> int:
    length = (due_at - starts_at).total_seconds()
    if length <= 0:
        return 100
    return max(0, int(100 * (end - starts_at).total_seconds() / length))


def _why_empty(starts_at: datetime | None, void: bool) -> str:
    if void:
        return _("not to be measured")
    return _("start not known") if starts_at is None else _("no limit")


def _label(left: str, share: int, received: bool, planned: str) -> str:
    parts = [_("%(share)s %% of the holding time used") % {"share": share}, left]
    if received:
        parts.append(_("received at the ring"))
    if planned:
        parts.append(planned)
    return ", ".join(parts)


def clock_bar(
    *,
    starts_at: datetime | None,
    due_at: datetime | None,
    now: datetime,
    stopped_at: datetime | None = None,
    void: bool = False,
    received_at: datetime | None = None,
    planned_at: datetime | None = None,
) -> ClockBar:
    """The bar of one clock at ``now``; aware moments in, places and words out."""
    urgency = urgency_of(due_at, now, stopped_at, void)
    if starts_at is None or due_at is None or void:
        words = _why_empty(starts_at, void)
        return ClockBar(urgency, words, words, None, 0, 0, None, None, None, (), due_at)
    end = stopped_at or now
    end_x = place(end, starts_at, due_at) or START_X
    left = urgency.word if stopped_at is not None else say_left(due_at, now)
    planned = ""
    if planned_at is not None:
        planned = _("injection planned in time") if planned_at <= due_at else _("injection planned too late")
    share = _share(end, starts_at, due_at)
    return ClockBar(
        urgency=urgency,
        label=_label(left, share, received_at is not None, planned),
        left=left,
        share=share,
        used_width=round(min(end_x, DUE_X) - START_X, 1),
        over_width=round(max(end_x - DUE_X, 0), 1),
        now_x=end_x,
        received_x=place(received_at, starts_at, due_at),
        planned_x=place(planned_at, starts_at, due_at),
        marks=tuple(START_X + (DUE_X - START_X) * mark / MARKS for mark in range(1, MARKS)),
        due_at=due_at,
    )
