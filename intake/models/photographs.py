"""Photographs of how a box came."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _


class Photograph(models.Model):
    """One picture of an arrival, as JPEG of at most 300 kB without metadata.

    It lies in the database, not in a folder: a backup then holds it together with the record that
    tells of it, every web process finds it, and no address of a web server leads to it. ``key`` is
    random, so that nobody guesses an address. Removing empties ``content``; that it was there, its
    digest and the reason stay.
    """

    arrival = models.ForeignKey("Arrival", on_delete=models.PROTECT, related_name="photographs")
    key = models.CharField(max_length=43, unique=True)
    content = models.BinaryField()
    digest = models.CharField(max_length=64)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    caption = models.CharField(_("what it shows"), max_length=200)
    added_at = models.DateTimeField()
    added_by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    removed_at = models.DateTimeField(null=True, blank=True)
    removed_by = models.ForeignKey("User", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    removed_reason = models.CharField(_("why it was removed"), max_length=500, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["added_at", "pk"]

    def __str__(self) -> str:
        return self.caption
