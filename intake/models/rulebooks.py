"""Stored versions of rulebooks."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _


class RulebookVersion(models.Model):
    """One version of a rulebook. ``data`` is its plain form.

    A version is worked on until it is ``published_at``; from then on it is never changed.
    ``offered`` versions can be chosen for new consignments; one version is the ``default``.
    ``made_from`` is the version it was copied from.
    """

    code = models.SlugField(_("code"), max_length=60)
    version = models.PositiveIntegerField(_("version"))
    title = models.CharField(_("title"), max_length=200)
    about = models.TextField(_("about"), blank=True)
    data = models.JSONField()
    digest = models.CharField(max_length=64)
    reason = models.TextField(_("reason for this version"), blank=True)
    dated = models.DateField(_("dated"))
    offered = models.BooleanField(_("offered to submitters"), default=True)
    default = models.BooleanField(_("default"), default=False)
    created_at = models.DateTimeField(auto_now_add=True)
    created_by = models.ForeignKey("User", on_delete=models.PROTECT)
    published_at = models.DateTimeField(_("published"), null=True, blank=True)
    made_from = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["title", "-version"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["code", "version"], name="rulebook_version_once"),
            models.CheckConstraint(
                condition=models.Q(published_at__isnull=False) | models.Q(offered=False, default=False),
                name="rulebook_draft_not_offered",
            ),
            models.UniqueConstraint(
                fields=["default"], condition=models.Q(default=True), name="rulebook_one_default"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.title}, version {self.version}"
