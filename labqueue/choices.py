"""Stored values of the bench with their labels."""

from __future__ import annotations

from django.db.models import TextChoices
from django.utils.translation import gettext_lazy as _

from labqueue.planning.sequence import PlaceKind

PLACE_KINDS = [(kind.value, kind.value) for kind in PlaceKind]
WEEKDAYS = [
    (0, _("Monday")),
    (1, _("Tuesday")),
    (2, _("Wednesday")),
    (3, _("Thursday")),
    (4, _("Friday")),
    (5, _("Saturday")),
    (6, _("Sunday")),
]


class Priority(TextChoices):
    """How much the clocks of a bottle count in a plan."""

    USUAL = "usual", _("usual")
    AHEAD = "ahead", _("ahead")
    FIRST = "first", _("first")


#: How many usual clocks one clock counts as. The steps are so far apart (our choice) that a bottle
#: ahead is not given up for a usual one, which has fewer than ten ions with one due moment, nor a
#: first one for one ahead.
WEIGHT_OF = {Priority.USUAL: 1, Priority.AHEAD: 10, Priority.FIRST: 100}

MEANING_OF = {
    Priority.USUAL: _("each of its clocks counts once"),
    Priority.AHEAD: _("each of its clocks counts as ten usual ones"),
    Priority.FIRST: _("each of its clocks counts as a hundred usual ones"),
}
