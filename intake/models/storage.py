"""Where bottles stand in the laboratory."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _

from intake.numbers import grouped

KINDS = [
    ("fridge", _("fridge")),
    ("freezer", _("freezer")),
    ("cold room", _("cold room")),
    ("cupboard", _("cupboard")),
    ("shelf", _("shelf")),
    ("box", _("box")),
]


class StoragePlace(models.Model):
    """A fridge, a shelf in it, a box on that: each with a number that can be scanned."""

    number = models.CharField(_("number"), max_length=12, unique=True)
    name = models.CharField(_("name"), max_length=80)
    kind = models.CharField(_("kind"), max_length=12, choices=KINDS)
    inside = models.ForeignKey(
        "self",
        verbose_name=_("stands in"),
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="parts",
    )
    made_at = models.DateTimeField()
    made_by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["name", "pk"]

    def __str__(self) -> str:
        return self.name

    @property
    def where(self) -> str:
        """The way to it from the outside in, as people say it. Read with ``inside__inside``."""
        names, place = [self.name], self.inside
        while place is not None:
            names.append(place.name)
            place = place.inside
        return ", ".join(reversed(names))

    @property
    def shown_number(self) -> str:
        return grouped(self.number)
