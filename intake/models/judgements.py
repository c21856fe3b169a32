"""What ``judge`` returned, as stored. "Expired" is never stored; it is read off ``due_at``."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from intake.querysets import ClockQuerySet


class SampleJudgement(models.Model):
    """That a sample was judged, by which rulebook version, from which facts."""

    sample = models.OneToOneField("Sample", on_delete=models.CASCADE, related_name="judgement")
    rulebook = models.ForeignKey("RulebookVersion", on_delete=models.PROTECT)
    facts_digest = models.CharField(max_length=64)
    judged_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.sample_id} by {self.rulebook_id}"


class FindingRow(models.Model):
    """One finding of the present judgement. ``bottle`` is empty where it concerns the sample."""

    sample = models.ForeignKey("Sample", on_delete=models.CASCADE, related_name="findings")
    bottle = models.ForeignKey(
        "Bottle", null=True, blank=True, on_delete=models.CASCADE, related_name="findings"
    )
    code = models.CharField(max_length=80)
    weight = models.CharField(max_length=8)
    rank = models.SmallIntegerField()
    sentence = models.TextField()
    remedies = models.JSONField(default=list)
    source = models.TextField(blank=True)
    fact = models.CharField(max_length=40, blank=True)
    ions = models.JSONField(default=list)

    class Meta:
        ordering: ClassVar[list[str]] = ["-rank", "pk"]

    def __str__(self) -> str:
        return self.code


class ClockRow(models.Model):
    """The holding time of one ion in one bottle.

    ``waiting`` repeats whether the bottle waits in the laboratory with this clock running, so
    that the queue reads one index.
    """

    bottle = models.ForeignKey("Bottle", on_delete=models.CASCADE, related_name="clocks")
    ion = models.CharField(max_length=20)
    starts_at = models.DateTimeField(null=True)
    limit_value = models.FloatField(null=True)
    limit_unit = models.CharField(max_length=12, blank=True)
    due_at = models.DateTimeField(null=True)
    grossly_late_at = models.DateTimeField(null=True)
    row = models.PositiveIntegerField(null=True)
    reason = models.TextField()
    assumed = models.BooleanField(default=False)
    stopped_at = models.DateTimeField(null=True)
    void = models.BooleanField(default=False)
    waiting = models.BooleanField(default=False)

    objects: ClassVar[ClockQuerySet] = ClockQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["due_at", "pk"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["due_at", "bottle"], condition=Q(waiting=True), name="clock_waiting_by_due"),
            models.Index(fields=["bottle", "due_at"], name="clock_by_bottle"),
            models.Index(fields=["stopped_at"], condition=Q(stopped_at__isnull=False), name="clock_by_stop"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["bottle", "ion"], name="clock_once"),
        ]

    def __str__(self) -> str:
        return f"{self.ion} in {self.bottle_id}"


class AdviceRow(models.Model):
    """Something to do at the bench for one bottle."""

    bottle = models.ForeignKey("Bottle", on_delete=models.CASCADE, related_name="advice")
    code = models.CharField(max_length=80)
    sentence = models.TextField()
    source = models.TextField(blank=True)
    figures = models.JSONField(default=dict)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]

    def __str__(self) -> str:
        return self.code
