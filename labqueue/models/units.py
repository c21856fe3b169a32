"""Units, and when somebody is there to start them."""

from __future__ import annotations

from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from intake import choices as intake_choices
from labqueue import choices


def _count(label: object, default: int, least: int, most: int) -> models.PositiveIntegerField:
    """A whole number a person enters, within bounds that only catch slips of the finger."""
    return models.PositiveIntegerField(
        label, default=default, validators=[MinValueValidator(least), MaxValueValidator(most)]
    )


class Unit(models.Model):
    """One instrument of one line. The numbers mean what they mean in ``labqueue.planning.units``.

    ``reserved_places`` of the ``tray_places`` hold standards and blanks. ``retired_at``: taken out
    for good; its runs stay. ``version`` grows with every change.
    """

    name = models.CharField(_("name"), max_length=40, unique=True)
    line = models.CharField(_("line"), max_length=8, choices=intake_choices.LINES)
    inject_min = _count(_("minutes per injection"), 20, 1, 240)
    equil_min = _count(_("minutes of equilibration"), 30, 0, 1440)
    startup_inj = _count(_("start-up injections"), 8, 0, 60)
    qc_every = _count(_("samples between check standards"), 10, 1, 500)
    qc_inj = _count(_("injections of a check (standard, blank)"), 2, 0, 10)
    batch_every = _count(_("samples of a batch"), 20, 1, 500)
    batch_inj = _count(_("injections that close a batch (duplicate, spike)"), 2, 0, 10)
    tray_places = _count(_("places on the tray"), 60, 1, 2000)
    reserved_places = _count(_("tray places for standards and blanks"), 8, 0, 200)
    turnaround_min = _count(_("minutes between two runs"), 30, 0, 1440)
    topup = models.BooleanField(_("bottles may be added while it runs"), default=False)
    largest_dilution = _count(_("largest dilution it makes itself, 1 to"), 50, 1, 10_000)
    out_from = models.DateTimeField(_("out of service from"), null=True, blank=True)
    out_until = models.DateTimeField(_("back in service"), null=True, blank=True)
    out_reason = models.CharField(_("why it is out of service"), max_length=200, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=0)

    class Meta:
        ordering: ClassVar[list[str]] = ["line", "name"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=Q(line__in=("anion", "cation")), name="unit_line_known"),
            models.CheckConstraint(
                condition=Q(inject_min__gte=1, qc_every__gte=1, batch_every__gte=1), name="unit_can_run"
            ),
            models.CheckConstraint(
                condition=Q(out_until__isnull=True) | Q(out_until__gt=F("out_from")), name="unit_out_in_order"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Laboratory(models.Model):
    """What holds for the whole bench; there is one row.

    ``country`` and ``region`` name the public holidays (ISO 3166, empty: none). ``margin_min``:
    minutes a plan tries to keep between injection and due moment.
    """

    country = models.CharField(_("country of the public holidays"), max_length=2, blank=True)
    region = models.CharField(_("region of the public holidays"), max_length=10, blank=True)
    margin_min = _count(_("minutes to keep before a due moment"), 30, 0, 1440)
    version = models.PositiveIntegerField(default=0)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=Q(pk=1), name="one_laboratory"),
        ]

    def __str__(self) -> str:
        return "the laboratory"


class OpeningHours(models.Model):
    """One shift of a weekday, on the laboratory's clock. Monday is 0.

    Closing that is not later than opening lies on the next day.
    """

    weekday = models.PositiveSmallIntegerField(_("weekday"), choices=choices.WEEKDAYS)
    opens = models.TimeField(_("opens"))
    closes = models.TimeField(_("closes"))

    class Meta:
        ordering: ClassVar[list[str]] = ["weekday", "opens"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=Q(weekday__lte=6), name="weekday_exists"),
            models.UniqueConstraint(fields=["weekday", "opens"], name="shift_once"),
        ]

    def __str__(self) -> str:
        return _("%(day)s %(opens)s to %(closes)s") % {
            "day": self.get_weekday_display(),
            "opens": f"{self.opens:%H:%M}",
            "closes": f"{self.closes:%H:%M}",
        }


class ClosedDay(models.Model):
    """A day of our own on which nobody is there."""

    day = models.DateField(_("day"), unique=True)
    reason = models.CharField(_("reason"), max_length=120)

    class Meta:
        ordering: ClassVar[list[str]] = ["day"]

    def __str__(self) -> str:
        return f"{self.day:%Y-%m-%d} {self.reason}"
