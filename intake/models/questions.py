"""Questions to a group about bottles on hold, and the group's answers."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from intake.choices import ANSWERS
from intake.querysets import QuestionQuerySet


class Question(models.Model):
    """One cause (the code of a finding) for which bottles of one arrival wait for the group's word.

    ``useful_until`` is the soonest clock that could be kept when it was asked. A question is open
    while it has no answer and one of its bottles is on hold; that is read off, never stored.
    """

    consignment = models.ForeignKey("Consignment", on_delete=models.PROTECT, related_name="questions")
    arrival = models.ForeignKey("Arrival", on_delete=models.PROTECT, related_name="questions")
    code = models.CharField(max_length=80)
    what = models.CharField(max_length=200)
    sentence = models.TextField()
    ions = models.JSONField(default=list)
    choices = models.JSONField(default=list)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    useful_until = models.DateTimeField(null=True)
    remind_at = models.DateTimeField()
    falls_at = models.DateTimeField()
    reminded_at = models.DateTimeField(null=True)
    fell_at = models.DateTimeField(null=True)
    answered_at = models.DateTimeField(null=True)
    bottles = models.ManyToManyField("Bottle", through="AskedBottle", related_name="questions")

    objects: ClassVar[QuestionQuerySet] = QuestionQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["asked_at", "pk"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["consignment", "arrival", "code"],
                condition=Q(answered_at__isnull=True),
                name="question_one_unanswered_a_cause",
            ),
        ]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(
                fields=["remind_at"], condition=Q(answered_at__isnull=True), name="question_unanswered"
            ),
        ]

    def __str__(self) -> str:
        return f"“{self.what}”"


class AskedBottle(models.Model):
    """One bottle that a question is about: what was found on it, and the ions it touches."""

    question = models.ForeignKey(Question, on_delete=models.PROTECT, related_name="asked")
    bottle = models.ForeignKey("Bottle", on_delete=models.PROTECT, related_name="asked")
    sentence = models.TextField()
    ions = models.JSONField(default=list)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["question", "bottle"], name="asked_bottle_once"),
        ]

    def __str__(self) -> str:
        return f"{self.bottle_id} in {self.question_id}"


class Answer(models.Model):
    """The group's word: what is to happen, in whose words, and the disclaimer that follows."""

    question = models.OneToOneField(Question, on_delete=models.PROTECT, related_name="answer")
    choice = models.CharField(_("choice"), max_length=40, choices=ANSWERS)
    words = models.TextField(_("in your words"), blank=True, max_length=1000)
    disclaimer = models.TextField(blank=True)
    answered_at = models.DateTimeField()
    answered_by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return self.choice
