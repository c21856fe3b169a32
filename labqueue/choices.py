"""Stored values of the bench with their labels."""

from __future__ import annotations

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
