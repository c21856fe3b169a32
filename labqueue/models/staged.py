"""Injection lists that wait for their columns to be matched and for a person's yes."""

from __future__ import annotations

from typing import ClassVar

from django.db import models


class StagedInjections(models.Model):
    """The texts of an uploaded list: ``headings`` in order, ``rows`` as [number, texts]."""

    key = models.CharField(max_length=64, unique=True)
    run = models.ForeignKey("Run", on_delete=models.CASCADE, related_name="+")
    user = models.ForeignKey("intake.User", on_delete=models.CASCADE, related_name="+")
    name = models.CharField(max_length=200, blank=True)
    headings = models.JSONField(default=list)
    rows = models.JSONField(default=list)
    staged_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar[list[str]] = ["-staged_at", "-pk"]

    def __str__(self) -> str:
        return self.name or self.key
