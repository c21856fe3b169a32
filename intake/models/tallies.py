"""What was counted of each month, for the overview."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from intake.choices import TallyKind


class CountedMonth(models.Model):
    """A month, such as 2026-11, and when what happened in it was counted last."""

    month = models.CharField(max_length=7, unique=True)
    counted_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.month


class MonthTally(models.Model):
    """How many there were of one kind, of one group, in one month.

    ``name`` is the ion of clocks and the code of findings; ``kept`` the clocks stopped in time;
    ``seconds`` what arrivals and injections took together.
    """

    month = models.ForeignKey(CountedMonth, on_delete=models.CASCADE, related_name="tallies")
    kind = models.CharField(max_length=10, choices=TallyKind.choices)
    group = models.ForeignKey("Group", on_delete=models.CASCADE, related_name="+")
    name = models.CharField(max_length=100, blank=True)
    count = models.PositiveIntegerField()
    kept = models.PositiveIntegerField(default=0)
    seconds = models.FloatField(default=0.0)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["month", "kind", "group", "name"], name="tally_once"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.name} {self.count}".strip()
