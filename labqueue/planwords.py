"""What a plan's page says of bottles to come, of moves by hand and of other starts."""

from __future__ import annotations

from collections.abc import Iterable

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from intake import numbers
from intake.phrasebook import said
from labqueue.actions.proposing import Change
from labqueue.planning.units import Step
from labqueue.planning.whatif import Saving


def say_announced(placed: int, undated: int, overdue: int) -> list[str]:
    """How many places are kept for bottles to come, and how many such bottles get none."""
    said = [
        ngettext(
            "%(count)d place is reserved for a bottle that has not come. It is injected only if it is here "
            "when the run starts.",
            "%(count)d places are reserved for bottles that have not come. They are injected only if they "
            "are here when the run starts.",
            placed,
        )
        % {"count": placed}
    ]
    if undated:
        text = ngettext(
            "%(count)d announced bottle has no day and gets no place.",
            "%(count)d announced bottles have no day and get no place.",
            undated,
        )
        said.append(text % {"count": undated})
    if overdue:
        text = ngettext(
            "%(count)d announced bottle should be here already; it gets no place until it comes.",
            "%(count)d announced bottles should be here already; they get no place until they come.",
            overdue,
        )
        said.append(text % {"count": overdue})
    return said


def say_saving(saving: Saving) -> str:
    """What a change of starts saves; by weight where fewer clocks of more weight are lost."""
    if saving.clocks <= 0:
        return _("clocks that weigh more than those it costs")
    return ngettext("%(count)d clock", "%(count)d clocks", saving.clocks) % {"count": saving.clocks}


def say_change(number: str, change: Change, clock: object) -> str:
    """What a move by hand costs and saves, in sentences."""
    stays = _("Bottle %(number)s stays where you put it.") % {"number": numbers.grouped(number)}
    return " ".join([stays, *say_cost(change, clock)])


def say_cost(change: Change, clock: object) -> list[str]:
    """What a move costs and what it saves."""
    said = []
    if change.lost:
        said.append(_("That costs: %(what)s.") % {"what": _steps(change.lost, clock)})
    if change.gained:
        said.append(_("That saves: %(what)s.") % {"what": _steps(change.gained, clock)})
    if not change.lost and not change.gained:
        said.append(_("It costs no clock."))
    return said


def _steps(steps: Iterable[tuple[str, Step]], clock: object) -> str:
    return "; ".join(
        _("%(ions)s in %(bottle)s, due %(moment)s")
        % {"ions": said(step.name), "bottle": numbers.grouped(bottle), "moment": clock(step.deadline)}
        for bottle, step in steps
    )
