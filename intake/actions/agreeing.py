"""Holding the day of analysis to the bottles that are really sent."""

from __future__ import annotations

from datetime import datetime

from django.utils.functional import lazy
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from intake import mails, record
from intake.actions.steps import claim
from intake.daycounts import day_counts
from intake.models import Consignment, DateRequest, User
from intake.states import DateState

FASTER = _("Somebody changed the day of analysis a moment ago. Load the page anew to see how it stands.")


def follow_bottles(consignment: Consignment, *, by: User, at: datetime) -> None:
    """Let the standing day count the bottles of ``consignment``, in the caller's transaction.

    Fewer than it stands for: it stands for these. More of one line: room was not promised for them,
    so the day is asked for anew, and both sides are told.
    """
    counts = day_counts(consignment)
    if counts is None or not counts.differ:
        return
    asked = counts.asked
    new = {"anion_bottles": counts.anion, "cation_bottles": counts.cation}
    if counts.more:
        new["state"] = DateState.ASKED
    was, becomes = record.differences({name: getattr(asked, name) for name in new}, new)
    claim(
        DateRequest.objects.filter(pk=asked.pk, version=asked.version),
        FASTER,
        **becomes,
        version=asked.version + 1,
        changed_at=at,
        changed_by=by,
    )
    record.write(
        by=by,
        at=at,
        verb="date.follow",
        subject=consignment,
        consignment=consignment,
        before=was,
        after=becomes,
    )
    if counts.more:
        said = _(
            "{who} sends more bottles than this day stood for. The laboratory will answer anew. {counts}"
        )
        told = format_lazy(said, who=by, counts=lazy(counts.sentence, str)())
        mails.date_changed(asked.pk, told, at=at)
