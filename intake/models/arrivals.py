"""Arrivals at reception and the checks made there."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from intake import choices
from intake.numbers import grouped
from intake.querysets import ArrivalQuerySet


class Arrival(models.Model):
    """One handing-over at reception. ``received_at`` is the stated moment, ``entered_at`` the server's."""

    number = models.CharField(max_length=12, unique=True)
    consignments = models.ManyToManyField("Consignment", through="ArrivalPart", related_name="arrivals")
    received_at = models.DateTimeField(_("received"))
    entered_at = models.DateTimeField()
    earlier_reason = models.TextField(_("why it is entered later"), blank=True)
    received_by = models.ForeignKey("User", on_delete=models.PROTECT)
    carrier = models.CharField(_("carrier"), max_length=120, blank=True)
    temperature_c = models.FloatField(_("transport temperature, °C"), null=True, blank=True)
    measured_on = models.CharField(_("read on"), max_length=20, choices=choices.MEASURED_ON, blank=True)
    cooling = models.CharField(_("cooling found"), max_length=20, choices=choices.COOLINGS, blank=True)
    seal = models.CharField(_("seal"), max_length=10, choices=choices.SEALS, blank=True)
    remark = models.TextField(_("remark"), blank=True, max_length=2000)
    closed_at = models.DateTimeField(null=True, blank=True)

    objects: ClassVar[ArrivalQuerySet] = ArrivalQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["-received_at", "-pk"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["received_at"], name="arrival_by_moment"),
            models.Index(
                fields=["received_at"], condition=Q(closed_at__isnull=True), name="arrival_on_the_bench"
            ),
        ]

    def __str__(self) -> str:
        return grouped(self.number)


class ArrivalPart(models.Model):
    """That (part of) a consignment came with an arrival."""

    arrival = models.ForeignKey(Arrival, on_delete=models.PROTECT, related_name="parts")
    consignment = models.ForeignKey("Consignment", on_delete=models.PROTECT, related_name="arrival_parts")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["arrival", "consignment"], name="arrival_part_once"),
        ]

    def __str__(self) -> str:
        return f"{self.consignment_id} in {self.arrival_id}"


class Sighting(models.Model):
    """That a bottle was scanned at the desk of an arrival before anybody checked it there.

    Written once, and no check: it only keeps a bottle that was in somebody's hand from being
    called missing.
    """

    arrival = models.ForeignKey(Arrival, on_delete=models.PROTECT, related_name="sightings")
    bottle = models.ForeignKey("Bottle", on_delete=models.PROTECT, related_name="sightings")
    scanned_at = models.DateTimeField()
    scanned_by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["arrival", "bottle"], name="sighting_once"),
        ]

    def __str__(self) -> str:
        return f"{self.bottle_id} in {self.arrival_id}"


class BenchCheck(models.Model):
    """What reception saw on one bottle; the newest that was not undone counts.

    Field names are those of ``intake.rules.facts.SeenFacts``; empty means: not looked at.
    """

    arrival = models.ForeignKey(Arrival, on_delete=models.PROTECT, related_name="checks")
    bottle = models.ForeignKey("Bottle", on_delete=models.PROTECT, related_name="checks")
    checked_at = models.DateTimeField()
    entered_at = models.DateTimeField()
    checked_by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    in_order = models.BooleanField(default=False)
    cold = models.BooleanField(_("cold"), null=True, blank=True)
    temperature_c = models.FloatField(_("temperature of the bottle, °C"), null=True, blank=True)
    headspace = models.BooleanField(_("headspace"), null=True, blank=True)
    leaking = models.BooleanField(_("leaking"), null=True, blank=True)
    broken = models.BooleanField(_("broken"), null=True, blank=True)
    frozen = models.BooleanField(_("frozen"), null=True, blank=True)
    cloudy = models.BooleanField(_("cloudy"), null=True, blank=True)
    label_matches = models.BooleanField(_("label agrees"), null=True, blank=True)
    ph_low = models.FloatField(_("pH seen, from"), null=True, blank=True)
    ph_high = models.FloatField(_("pH seen, to"), null=True, blank=True)
    acid_added_ml = models.FloatField(_("acid added here, mL"), null=True, blank=True)
    acid_added_mol_l = models.FloatField(_("acid added here, mol/L"), null=True, blank=True)
    acid_added_at = models.DateTimeField(_("acid added here at"), null=True, blank=True)
    remark = models.TextField(_("remark"), blank=True, max_length=1000)
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey("User", null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["-checked_at", "-pk"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["bottle"], condition=Q(undone_at__isnull=True), name="bench_check_one_current"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.bottle_id} at {self.checked_at:%Y-%m-%d %H:%M}"
