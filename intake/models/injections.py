"""Injections: the moments that stop clocks."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class Injection(models.Model):
    """That one bottle was injected at a moment. A wrong one is voided, never deleted.

    ``label`` says in words where; ``run`` and ``place`` are the run's number and the position in it.
    ``dilution`` 5 means five times the volume; ``volume_factor`` is the correction for acid that the
    run list asks for. All of these are empty where an injection was noted without a run.
    """

    bottle = models.ForeignKey("Bottle", on_delete=models.PROTECT, related_name="injections")
    at = models.DateTimeField(_("injected at"))
    label = models.CharField(_("run and place"), max_length=120, blank=True)
    run = models.CharField(_("run"), max_length=12, blank=True)
    place = models.PositiveIntegerField(_("place"), null=True, blank=True)
    dilution = models.FloatField(_("dilution, 1 to"), null=True, blank=True)
    volume_factor = models.FloatField(_("volume correction"), null=True, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    voided_at = models.DateTimeField(null=True, blank=True)
    voided_by = models.ForeignKey("User", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    void_reason = models.TextField(blank=True, max_length=1000)

    class Meta:
        ordering: ClassVar[list[str]] = ["at", "pk"]
        indexes: ClassVar[list[models.Index]] = [models.Index(fields=["at"], name="injection_by_moment")]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["bottle", "at"], condition=Q(voided_at__isnull=True), name="injection_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.bottle_id} at {self.at:%Y-%m-%d %H:%M}"
