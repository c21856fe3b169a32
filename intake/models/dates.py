"""Days of analysis: asked for, proposed, agreed; and whether days confirm themselves."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from intake.querysets import DateRequestQuerySet
from intake.states import DateState


class DateRequest(models.Model):
    """The day on which a consignment is to be measured, as far as both sides have come.

    ``day`` is a day on the laboratory's calendar: the one asked for, proposed or agreed, as
    ``state`` says. ``version`` grows with every change and numbers the editions of the calendar
    entry made of it.
    """

    consignment = models.OneToOneField("Consignment", on_delete=models.PROTECT, related_name="date_request")
    day = models.DateField(_("day of analysis"))
    anion_bottles = models.PositiveIntegerField(_("bottles for anions"), default=0)
    cation_bottles = models.PositiveIntegerField(_("bottles for cations"), default=0)
    state = models.CharField(_("state"), max_length=12, choices=DateState.choices, default=DateState.ASKED)
    note = models.TextField(_("word with it"), blank=True, max_length=1000)
    version = models.PositiveIntegerField(default=0)
    changed_at = models.DateTimeField()
    changed_by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")

    objects: ClassVar[DateRequestQuerySet] = DateRequestQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["day", "pk"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["state", "day"], name="date_request_by_state"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=Q(state__in=DateState.values), name="date_state_known"),
            models.CheckConstraint(
                condition=Q(anion_bottles__gt=0) | Q(cation_bottles__gt=0), name="date_for_some_bottle"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.day:%Y-%m-%d} for {self.consignment}"


class DatePolicy(models.Model):
    """How the laboratory answers; there is one row.

    ``confirms_itself``: a day with room for all bottles is agreed as soon as it is asked for.
    """

    confirms_itself = models.BooleanField(_("days with room confirm themselves"), default=False)
    version = models.PositiveIntegerField(default=0)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=Q(pk=1), name="one_date_policy"),
        ]

    def __str__(self) -> str:
        return "how days are confirmed"


class CalendarAddress(models.Model):
    """The private address of somebody's calendar. Only a digest of its token is kept."""

    user = models.OneToOneField("User", on_delete=models.PROTECT, related_name="calendar_address")
    token_digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"calendar of {self.user}"
