"""Statements: the closing documents of consignments. Database triggers refuse to change one."""

from __future__ import annotations

from typing import ClassVar, NoReturn

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from intake.numbers import grouped
from intake.querysets import StatementQuerySet


class Statement(models.Model):
    """What became of every ion of a consignment, released by a person at a moment.

    ``number`` is the consignment's number and ``sequence``. ``content`` is plain data as
    ``intake.stating`` gathers it; ``digest`` is SHA-256 over it, the number, who released it,
    when, what it replaces and why. ``issued_name`` is the person's name as it then was.
    """

    number = models.CharField(_("number"), max_length=20, unique=True)
    consignment = models.ForeignKey("Consignment", on_delete=models.PROTECT, related_name="statements")
    sequence = models.PositiveIntegerField()
    content = models.JSONField()
    digest = models.CharField(max_length=64)
    issued_by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    issued_name = models.CharField(_("released by"), max_length=200)
    issued_at = models.DateTimeField(_("released"))
    replaces = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="replaced_by"
    )
    reason = models.TextField(_("why it replaces the one before"), blank=True, max_length=1000)

    objects: ClassVar[StatementQuerySet] = StatementQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["-issued_at", "-pk"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["consignment", "sequence"], name="statement_sequence_once"),
            models.CheckConstraint(
                condition=Q(sequence=1, replaces__isnull=True)
                | (Q(sequence__gt=1, replaces__isnull=False) & ~Q(reason="")),
                name="statement_correction_says_why",
            ),
        ]

    def __str__(self) -> str:
        body, _dash, sequence = self.number.partition("-")
        return f"{grouped(body)}-{sequence}"

    def delete(self, *args: object, **kwargs: object) -> NoReturn:
        raise TypeError("A statement is never deleted.")
