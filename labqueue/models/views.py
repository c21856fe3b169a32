"""Views of the queue that a person keeps."""

from __future__ import annotations

from typing import ClassVar, Self

from django.db import models
from django.utils.translation import gettext_lazy as _


class SavedViewQuerySet(models.QuerySet):
    def of(self, user: object) -> Self:
        """The views of ``user``; nobody sees those of others."""
        return self.filter(user=user)


class SavedView(models.Model):
    """What somebody asks of the queue, under a name: the words of its address.

    A preference of one person and no fact of the laboratory, so the record does not tell of it.
    """

    user = models.ForeignKey("intake.User", on_delete=models.CASCADE, related_name="queue_views")
    name = models.CharField(_("name"), max_length=60)
    query = models.CharField(max_length=400)
    saved_at = models.DateTimeField()

    objects: ClassVar[SavedViewQuerySet] = SavedViewQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["name", "pk"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["user", "name"], name="saved_view_name_once"),
        ]

    def __str__(self) -> str:
        return self.name
