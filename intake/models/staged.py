"""Uploads that wait for a person's yes."""

from __future__ import annotations

from typing import ClassVar

from django.db import models


class StagedSheet(models.Model):
    """A workbook as it was uploaded, kept for a while so that its changes can be looked at first.

    ``cells`` is what stands in it, packed (``intake.sheets.packed``), once it was read; empty before.
    ``corrections`` are the cells that were put right on the page since: texts by column code, by number
    of the row.
    """

    key = models.CharField(max_length=64, unique=True)
    user = models.ForeignKey("User", on_delete=models.CASCADE)
    consignment = models.ForeignKey("Consignment", on_delete=models.CASCADE)
    content = models.BinaryField()
    cells = models.BinaryField(default=bytes)
    name = models.CharField(max_length=200, blank=True)
    corrections = models.JSONField(default=dict)
    staged_at = models.DateTimeField()
    expires_at = models.DateTimeField()

    class Meta:
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["expires_at"], name="staged_sheet_by_expiry"),
        ]

    def __str__(self) -> str:
        return self.name or self.key
