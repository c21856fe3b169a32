"""Runs and their places."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from intake.numbers import grouped
from labqueue import choices
from labqueue.planning.sequence import PlaceKind
from labqueue.states import STANDING, RunState


class Run(models.Model):
    """An ordered list of injections on a unit.

    ``started_at`` is when it really began; its places then move with it. ``version`` grows with
    every change, so that two people never change the same run without noticing.
    """

    number = models.CharField(_("number"), max_length=12, unique=True)
    unit = models.ForeignKey("Unit", on_delete=models.PROTECT, related_name="runs")
    planned_start = models.DateTimeField(_("planned start"))
    state = models.CharField(_("state"), max_length=12, choices=RunState.choices, default=RunState.PLANNED)
    started_at = models.DateTimeField(_("started"), null=True, blank=True)
    ended_at = models.DateTimeField(_("ended"), null=True, blank=True)
    created_at = models.DateTimeField()
    created_by = models.ForeignKey("intake.User", on_delete=models.PROTECT, related_name="+")
    version = models.PositiveIntegerField(default=0)

    class Meta:
        ordering: ClassVar[list[str]] = ["planned_start", "pk"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(
                fields=["unit", "planned_start"],
                condition=Q(state__in=[state.value for state in STANDING]),
                name="run_standing",
            ),
            models.Index(fields=["planned_start"], name="run_by_start"),
            models.Index(fields=["unit", "planned_start"], name="run_of_unit_by_start"),
            # Not a partial one: SQLite cannot use that where the states are parameters, as they are.
            models.Index(fields=["state", "unit"], name="run_by_state"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=Q(state__in=RunState.values), name="run_state_known"),
            models.UniqueConstraint(
                fields=["unit", "planned_start"],
                condition=Q(state=RunState.PLANNED),
                name="run_of_unit_once",
            ),
        ]

    def __str__(self) -> str:
        return grouped(self.number)

    @property
    def start(self) -> object:
        """When it began, else when it is to begin."""
        return self.started_at or self.planned_start


class Place(models.Model):
    """One injection of a run, counted from 1.

    ``sample`` counts the sample places of the run from 0, as the planner does; a duplicate or
    spike carries that of the sample it repeats. ``awaiting``: a sample place whose bottle waits for
    this injection; it ends with the injection, a failure or the run. ``reserved``: a sample place kept
    for a bottle that was announced and is not on the tray; it awaits nothing until the bottle has come.
    ``dilution`` 5 means five times the volume; ``volume_factor`` corrects for acid added (1: none).
    """

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="places")
    position = models.PositiveIntegerField()
    kind = models.CharField(_("kind"), max_length=16, choices=choices.PLACE_KINDS)
    sample = models.PositiveIntegerField(null=True, blank=True)
    bottle = models.ForeignKey(
        "intake.Bottle", null=True, blank=True, on_delete=models.PROTECT, related_name="places"
    )
    planned_at = models.DateTimeField(_("planned injection"))
    dilution = models.FloatField(_("dilution, 1 to"), default=1)
    volume_factor = models.FloatField(_("volume correction"), default=1)
    pinned = models.BooleanField(_("pinned"), default=False)
    remark = models.CharField(_("remark"), max_length=200, blank=True)
    tray_checked_at = models.DateTimeField(null=True, blank=True)
    injected_at = models.DateTimeField(_("injected"), null=True, blank=True)
    failed = models.BooleanField(_("failed"), default=False)
    awaiting = models.BooleanField(default=False)
    reserved = models.BooleanField(_("reserved"), default=False)

    class Meta:
        ordering: ClassVar[list[str]] = ["run", "position"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["run", "position"], name="place_position_once"),
            models.UniqueConstraint(
                fields=["bottle"], condition=Q(awaiting=True), name="bottle_awaits_at_one_place"
            ),
            models.CheckConstraint(
                condition=Q(awaiting=False) | Q(bottle__isnull=False, kind=PlaceKind.SAMPLE.value),
                name="only_samples_await",
            ),
            models.UniqueConstraint(
                fields=["bottle"], condition=Q(reserved=True), name="bottle_reserved_at_one_place"
            ),
            models.CheckConstraint(
                condition=Q(reserved=False)
                | Q(bottle__isnull=False, kind=PlaceKind.SAMPLE.value, awaiting=False),
                name="only_samples_are_reserved",
            ),
            models.CheckConstraint(
                condition=Q(dilution__gte=1, volume_factor__gt=0), name="place_factors_make_sense"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.run_id} place {self.position}"
