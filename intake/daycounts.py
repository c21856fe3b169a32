"""The bottles of a consignment beside those for which its day of analysis was asked or agreed."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from intake.models import Consignment, DateRequest
from intake.rules.facts import Line
from intake.shown import show_day
from intake.states import STANDING_DATES, ConsignmentState


def say_bottles(anion: int, cation: int) -> str:
    """``12 bottles for anions, 12 for cations``; what is none is left out."""
    parts = []
    if anion:
        parts.append(ngettext("%(n)s bottle for anions", "%(n)s bottles for anions", anion) % {"n": anion})
    if cation:
        parts.append(
            ngettext("%(n)s bottle for cations", "%(n)s bottles for cations", cation) % {"n": cation}
        )
    return ", ".join(parts)


@dataclass(frozen=True, slots=True)
class DayCounts:
    """Bottles entered, and those that the day stands for, line by line."""

    asked: DateRequest
    anion: int
    cation: int

    @property
    def differ(self) -> bool:
        return (self.anion, self.cation) != (self.asked.anion_bottles, self.asked.cation_bottles)

    @property
    def more(self) -> bool:
        """Whether a line has more bottles than the day stands for."""
        return self.anion > self.asked.anion_bottles or self.cation > self.asked.cation_bottles

    def sentence(self) -> str:
        """What is entered and what the day stands for."""
        return _("Entered: %(entered)s. %(day)s is %(state)s for %(stands)s.") % {
            "entered": say_bottles(self.anion, self.cation) or _("no bottle"),
            "day": show_day(self.asked.day),
            "state": self.asked.get_state_display(),
            "stands": say_bottles(self.asked.anion_bottles, self.asked.cation_bottles),
        }


def bottle_counts(consignment: Consignment) -> dict[str, int]:
    """The bottles entered, by line: one query."""
    rows = consignment.bottles.order_by().values_list("line").annotate(count=Count("pk"))
    return {line.value: 0 for line in Line} | dict(rows)


def day_counts(consignment: Consignment) -> DayCounts | None:
    """The counts beside the day that stands for ``consignment``; ``None`` without one: two queries."""
    asked = DateRequest.objects.filter(consignment=consignment, state__in=STANDING_DATES).first()
    if asked is None:
        return None
    counts = bottle_counts(consignment)
    return DayCounts(asked, counts[Line.ANION.value], counts[Line.CATION.value])


def told_unlike(consignment: Consignment) -> str:
    """That other bottles are entered than the day stands for, and what comes of it; else nothing."""
    counts = day_counts(consignment)
    if counts is None or not counts.differ or consignment.state == ConsignmentState.WITHDRAWN:
        return ""
    if not consignment.is_draft:
        return counts.sentence()
    follows = (
        _("When you send it, the laboratory is asked anew.")
        if counts.more
        else _("When you send it, the day stands for what is entered.")
    )
    return f"{counts.sentence()} {follows}"
