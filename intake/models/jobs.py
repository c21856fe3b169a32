"""Work that is done beside the requests, each piece once."""

from __future__ import annotations

from typing import ClassVar

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from intake.choices import JobKind, JobState
from intake.querysets import JobQuerySet


class Job(models.Model):
    """One piece of work. Written in the transaction of whatever asks for it, so neither goes alone.

    While it waits, ``due_at`` is the moment from which somebody may take it up; who does so raises
    ``attempts`` and puts ``due_at`` off, so that it is taken up again if they are never heard of
    after that. ``content`` is what the work needs to know; that of a mail goes with the mail.
    """

    key = models.CharField(max_length=64, unique=True)
    kind = models.CharField(max_length=20, choices=JobKind.choices)
    state = models.CharField(max_length=10, choices=JobState.choices, default=JobState.WAITING)
    user = models.ForeignKey("User", null=True, on_delete=models.CASCADE, related_name="+")
    consignment = models.ForeignKey("Consignment", null=True, on_delete=models.CASCADE, related_name="jobs")
    content = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    made_at = models.DateTimeField()
    due_at = models.DateTimeField()
    attempts = models.PositiveIntegerField(default=0)
    done = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=0)
    sentence = models.TextField(blank=True)
    ended_at = models.DateTimeField(null=True)

    objects: ClassVar[JobQuerySet] = JobQuerySet.as_manager()

    class Meta:
        indexes: ClassVar[list[models.Index]] = [
            models.Index(
                fields=["due_at"], condition=models.Q(state=JobState.WAITING), name="job_waiting_by_due"
            ),
            models.Index(fields=["ended_at"], name="job_by_end"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.pk}"

    @property
    def is_open(self) -> bool:
        return self.state == JobState.WAITING
