"""Plans that are looked at and changed by hand before they are accepted."""

from __future__ import annotations

from typing import ClassVar

from django.db import models


class PlanDraft(models.Model):
    """A proposed plan: the facts it was made of, the runs chosen, the bottles put by hand.

    ``facts`` is a problem as ``labqueue.planning.plain`` writes it, in minutes since ``origin``;
    the same facts give the same plan, so its places are not stored. ``runs`` are [unit, start,
    samples] and ``pins`` [bottle, unit, start, sample]. ``replaces`` are keys of planned runs that
    it plans anew, ``unit_versions`` the versions of units and laboratory it reckoned with.
    ``announced`` is empty unless bottles still to come were to be planned with: their numbers under
    ``bottles``, how many have no day (``undated``) and how many should be here already (``overdue``).
    """

    key = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey("intake.User", on_delete=models.CASCADE, related_name="+")
    made_at = models.DateTimeField()
    origin = models.DateTimeField()
    facts = models.JSONField()
    runs = models.JSONField(default=list)
    pins = models.JSONField(default=list)
    starts_proven = models.BooleanField(default=False)
    announced = models.JSONField(default=dict)
    replaces = models.JSONField(default=list)
    unit_versions = models.JSONField(default=dict)
    version = models.PositiveIntegerField(default=0)
    accepted_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"plan of {self.made_at:%Y-%m-%d %H:%M}"
