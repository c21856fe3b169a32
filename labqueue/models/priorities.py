"""Which consignments and bottles go before others, and why."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from labqueue.choices import Priority


class GivenPriority(models.Model):
    """The priority of a consignment or of one bottle; that of the bottle counts more.

    What has no row here is ``Priority.USUAL``.
    """

    consignment = models.OneToOneField(
        "intake.Consignment", null=True, blank=True, on_delete=models.PROTECT, related_name="priority"
    )
    bottle = models.OneToOneField(
        "intake.Bottle", null=True, blank=True, on_delete=models.PROTECT, related_name="priority"
    )
    level = models.CharField(_("priority"), max_length=8, choices=Priority.choices)
    reason = models.CharField(_("reason"), max_length=200)
    given_at = models.DateTimeField()
    given_by = models.ForeignKey("intake.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(consignment__isnull=True, bottle__isnull=False)
                | Q(consignment__isnull=False, bottle__isnull=True),
                name="priority_of_one_thing",
            ),
            models.CheckConstraint(condition=Q(level__in=Priority.values), name="priority_known"),
        ]

    def __str__(self) -> str:
        return f"{self.get_level_display()} for {self.consignment or self.bottle}"
