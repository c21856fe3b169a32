"""Results: measured values, each of one ion at one injection."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class Result(models.Model):
    """One value. What the file stated is kept beside ``value_mg_l``, the ion in the water as collected.

    ``below``: less than the value. ``dilution`` and ``acid_factor`` were multiplied in here unless
    ``dilution_applied`` or ``acid_applied`` says that the file had done so. ``range_top`` is the highest
    standard, in the unit stated. A value entered anew withdraws the one before, which is kept.
    """

    bottle = models.ForeignKey("Bottle", on_delete=models.PROTECT, related_name="results")
    injection = models.ForeignKey("Injection", on_delete=models.PROTECT, related_name="results")
    ion = models.CharField(_("ion"), max_length=20)
    value_mg_l = models.FloatField(_("in the sample, mg/L"))
    below = models.BooleanField(_("less than"), default=False)
    stated_value = models.FloatField(_("as stated"))
    unit = models.CharField(_("unit"), max_length=8)
    as_element = models.BooleanField(_("stated as element"), default=False)
    dilution = models.FloatField(_("dilution, 1 to"), default=1)
    dilution_applied = models.BooleanField(_("dilution was applied in the file"))
    acid_factor = models.FloatField(_("acid volume correction"), default=1)
    acid_applied = models.BooleanField(_("acid correction was applied in the file"))
    range_top = models.FloatField(_("top of the range"), null=True, blank=True)
    above_range = models.BooleanField(_("above the calibrated range"), default=False)
    remark = models.CharField(_("remark"), max_length=200, blank=True)
    file_name = models.CharField(max_length=200)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["injection", "ion"], condition=Q(withdrawn_at__isnull=True), name="result_once"
            ),
            models.CheckConstraint(
                condition=Q(dilution__gte=1, acid_factor__gte=1, value_mg_l__gte=0), name="result_makes_sense"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.ion} in {self.bottle_id}"
