"""How the columns of somebody's injection list are to be read, remembered by name."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _


class ColumnMatch(models.Model):
    """A named matching of columns: ``headings`` maps ours (place, bottle, moment) to theirs.

    ``zone`` is the IANA zone of moments that bear none.
    """

    name = models.CharField(_("name"), max_length=60, unique=True)
    headings = models.JSONField(default=dict)
    zone = models.CharField(_("time zone"), max_length=64)
    made_by = models.ForeignKey("intake.User", on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar[list[str]] = ["name"]

    def __str__(self) -> str:
        return self.name
