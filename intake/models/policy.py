"""What a laboratory settles for itself: who needs a second factor, how long things are kept."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from intake.choices import SecondFactorFor

#: Good laboratory practice asks for at least five years after the study was submitted
#: (40 CFR 160.195); a laboratory's own rule or contract can ask for longer.
USUAL_KEEP_YEARS = 5


class LabPolicy(models.Model):
    """What a manager may set for the whole laboratory; there is one row, or none before the first change.

    ``keep_years`` counts from the last entry of a consignment's record.
    """

    second_factor = models.CharField(
        _("who needs a second factor"),
        max_length=12,
        choices=SecondFactorFor.choices,
        default=SecondFactorFor.NOBODY,
    )
    keep_years = models.PositiveSmallIntegerField(_("years kept"), default=USUAL_KEEP_YEARS)
    version = models.PositiveIntegerField(default=0)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=Q(pk=1), name="one_lab_policy"),
            models.CheckConstraint(
                condition=Q(second_factor__in=SecondFactorFor.values), name="second_factor_known"
            ),
            models.CheckConstraint(condition=Q(keep_years__gte=1), name="kept_a_year_at_least"),
        ]

    def __str__(self) -> str:
        return "who needs a second factor, and how long is kept"
