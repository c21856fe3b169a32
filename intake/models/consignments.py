"""Consignments, their samples and bottles. Field names are those of ``intake.rules.facts``."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from intake import choices
from intake.numbers import grouped
from intake.querysets import BottleQuerySet, ConsignmentQuerySet, SampleQuerySet
from intake.states import AMENDABLE, BottleState, ConsignmentState


class Consignment(models.Model):
    """The samples a group sends together.

    ``version`` grows with every change; an edit carries the version it was read at.
    """

    number = models.CharField(_("number"), max_length=12, unique=True)
    group = models.ForeignKey("Group", on_delete=models.PROTECT, verbose_name=_("group"))
    title = models.CharField(_("title"), max_length=200)
    purpose = models.TextField(_("purpose"), blank=True, max_length=2000)
    rulebook = models.ForeignKey("RulebookVersion", on_delete=models.PROTECT, verbose_name=_("rulebook"))
    zone = models.CharField(_("time zone of the sampling"), max_length=64)
    requested_on = models.DateField(_("analysis wanted on"), null=True, blank=True)
    state = models.CharField(
        _("state"), max_length=20, choices=ConsignmentState.choices, default=ConsignmentState.DRAFT
    )
    version = models.PositiveIntegerField(default=0)
    created_at = models.DateTimeField()
    created_by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="consignments_made")
    sent_at = models.DateTimeField(null=True, blank=True)
    received_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    #: When its first statement was issued.
    stated_at = models.DateTimeField(null=True, blank=True)
    #: When its samples were removed, having been kept long enough; record and statements stay.
    purged_at = models.DateTimeField(null=True, blank=True)

    objects: ClassVar[ConsignmentQuerySet] = ConsignmentQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["-created_at", "-pk"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["group", "-created_at"], name="consignment_by_group"),
            models.Index(fields=["state", "requested_on"], name="consignment_by_state"),
            models.Index(fields=["received_at"], name="consignment_by_receipt"),
            models.Index(fields=["-created_at", "-id"], name="consignment_newest"),
            models.Index(
                fields=["received_at"], condition=Q(stated_at__isnull=True), name="consignment_to_close"
            ),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(state__in=ConsignmentState.values), name="consignment_state_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{grouped(self.number)} {self.title}"

    @property
    def is_draft(self) -> bool:
        return self.state == ConsignmentState.DRAFT

    @property
    def is_sent(self) -> bool:
        """Whether the laboratory expects it and nothing of it has arrived."""
        return self.state == ConsignmentState.SENT

    @property
    def may_be_amended(self) -> bool:
        """Whether its group may still change it: as long as nothing of it has arrived."""
        return self.state in AMENDABLE


class SpentNumber(models.Model):
    """A number whose row is gone; it is never given out again."""

    number = models.CharField(max_length=12, unique=True)

    def __str__(self) -> str:
        return self.number


class Sample(models.Model):
    """Water from one site at one moment (grab) or over one period (composite), with field readings.

    ``confirmed`` maps the code of a finding about its readings to why its group says they are right.
    """

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="samples")
    position = models.PositiveIntegerField()
    own_id = models.CharField(_("own sample id"), max_length=60)
    site = models.CharField(_("site"), max_length=200, blank=True)
    collection = models.CharField(
        _("grab or composite"), max_length=12, choices=choices.COLLECTIONS, default="grab"
    )
    collected_at = models.DateTimeField(_("collected"), null=True, blank=True)
    collection_began_at = models.DateTimeField(_("composite began"), null=True, blank=True)
    precision = models.CharField(_("time known"), max_length=10, choices=choices.PRECISIONS, default="minute")
    ph = models.FloatField(_("field pH"), null=True, blank=True)
    ec_value = models.FloatField(_("field EC"), null=True, blank=True)
    ec_unit = models.CharField(_("EC unit"), max_length=8, choices=choices.EC_UNITS, default="µS/cm")
    ec_reference = models.CharField(
        _("EC refers to"), max_length=10, choices=choices.EC_REFERENCES, default="unknown"
    )
    water_temperature_c = models.FloatField(_("water temperature, °C"), null=True, blank=True)
    water_kind = models.CharField(
        _("kind of water"), max_length=20, choices=choices.WATER_KINDS, default="unknown"
    )
    alkalinity_meq_l = models.FloatField(_("alkalinity, meq/L"), null=True, blank=True)
    chlorinated = models.BooleanField(_("chlorinated"), null=True, blank=True)
    hazards = models.CharField(_("hazards"), max_length=200, blank=True)
    confirmed = models.JSONField(default=dict)
    declared_at = models.DateTimeField()

    objects: ClassVar[SampleQuerySet] = SampleQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["consignment", "position", "pk"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["consignment", "own_id"], name="sample_own_id_once"),
        ]

    def __str__(self) -> str:
        return self.own_id


class Bottle(models.Model):
    """One container filled from a sample, for one line; carries a scannable bottle number.

    ``ions`` is the ordered list of ion names asked for; ``dropped`` maps an ion given up to
    the reason. ``weightiest`` is the rank of the heaviest finding (0 note, 1 caution, 2 bar,
    -1 none), kept by judging for lists. ``announced`` is false for a bottle that came without
    having been registered. ``next_dilution`` is wanted of a bottle that is to be injected once
    more; it ends with that injection.
    """

    number = models.CharField(_("bottle number"), max_length=12, unique=True)
    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="bottles")
    sample = models.ForeignKey(Sample, on_delete=models.PROTECT, related_name="bottles")
    line = models.CharField(_("line"), max_length=8, choices=choices.LINES)
    ions = models.JSONField(_("ions"), default=list)
    state = models.CharField(
        _("state"), max_length=12, choices=BottleState.choices, default=BottleState.EXPECTED
    )
    decision = models.CharField(max_length=12, choices=choices.Decision.choices, blank=True, default="")
    decision_reason = models.TextField(blank=True)
    decided_by = models.ForeignKey("User", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    decided_at = models.DateTimeField(null=True, blank=True)
    dropped = models.JSONField(_("ions given up"), default=dict)
    arrival = models.ForeignKey(
        "Arrival", null=True, blank=True, on_delete=models.PROTECT, related_name="bottles"
    )
    announced = models.BooleanField(default=True)
    weightiest = models.SmallIntegerField(default=-1)
    stored_in = models.ForeignKey(
        "StoragePlace", null=True, blank=True, on_delete=models.PROTECT, related_name="bottles"
    )
    stored_at = models.DateTimeField(null=True, blank=True)
    next_dilution = models.FloatField(_("dilution of its next injection, 1 to"), null=True, blank=True)
    discarded_at = models.DateTimeField(null=True, blank=True)
    discarded_by = models.ForeignKey(
        "User", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    volume_ml = models.FloatField(_("volume, mL"), null=True, blank=True)
    container = models.CharField(_("container"), max_length=20, choices=choices.CONTAINERS, blank=True)
    to_brim = models.BooleanField(_("filled to the brim"), null=True, blank=True)
    chilled = models.BooleanField(_("chilled"), null=True, blank=True)
    chilled_at = models.DateTimeField(_("chilled from"), null=True, blank=True)
    frozen = models.BooleanField(_("frozen"), null=True, blank=True)
    frozen_at = models.DateTimeField(_("frozen from"), null=True, blank=True)
    filter_pore_um = models.FloatField(_("filter pore, µm"), null=True, blank=True)
    filter_membrane = models.CharField(
        _("filter membrane"), max_length=30, choices=choices.MEMBRANES, blank=True
    )
    filtered_at = models.DateTimeField(_("filtered at"), null=True, blank=True)
    acidified = models.BooleanField(_("acidified"), null=True, blank=True)
    acid_kind = models.CharField(_("acid"), max_length=14, choices=choices.ACID_KINDS, blank=True)
    acid_grade = models.CharField(_("acid grade"), max_length=60, blank=True)
    acid_mol_l = models.FloatField(_("acid, mol/L"), null=True, blank=True)
    acid_ml = models.FloatField(_("acid, mL"), null=True, blank=True)
    acid_at = models.DateTimeField(_("acid added at"), null=True, blank=True)
    additive = models.CharField(_("other preservative"), max_length=60, blank=True)

    objects: ClassVar[BottleQuerySet] = BottleQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["sample", "line", "pk"]
        indexes: ClassVar[list[models.Index]] = [
            # Not a partial one: SQLite cannot use that where the states are parameters, as they are.
            models.Index(fields=["state", "line"], name="bottle_by_state"),
            models.Index(fields=["consignment"], condition=Q(state="expected"), name="bottle_expected"),
            models.Index(fields=["state"], condition=Q(discarded_at__isnull=True), name="bottle_kept"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=Q(state__in=BottleState.values), name="bottle_state_known"),
            models.CheckConstraint(condition=Q(line__in=("anion", "cation")), name="bottle_line_known"),
            models.CheckConstraint(
                condition=Q(next_dilution__isnull=True) | Q(next_dilution__gte=1),
                name="next_dilution_dilutes",
            ),
        ]

    def __str__(self) -> str:
        return grouped(self.number)
