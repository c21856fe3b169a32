"""The record: who did what, when, why. Database triggers refuse to change or delete it."""

from __future__ import annotations

from typing import ClassVar, NoReturn

from django.db import models

from intake.querysets import RecordManager


class ChainHead(models.Model):
    """The end of one chain: a consignment's own, or the laboratory's."""

    chain = models.CharField(max_length=12, unique=True)
    position = models.PositiveIntegerField(default=0)
    digest = models.CharField(max_length=64, default="")

    def __str__(self) -> str:
        return f"{self.chain} {self.position}"


class RecordEntry(models.Model):
    """One thing that was done. ``digest`` is SHA-256 over this entry and the digest before it.

    Names and mail addresses stand in it as marks of ``PersonalText``. ``actor`` says who did it;
    entries written before that was so hold the actor's name as it then was in ``name_then``.
    """

    chain = models.CharField(max_length=12)
    position = models.PositiveIntegerField()
    at = models.DateTimeField()
    actor = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    name_then = models.CharField(max_length=200, blank=True, db_column="actor_name")
    verb = models.CharField(max_length=60)
    consignment = models.ForeignKey("Consignment", null=True, on_delete=models.PROTECT, related_name="record")
    subject = models.CharField(max_length=120)
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)
    reason = models.TextField(blank=True)
    previous = models.CharField(max_length=64, blank=True)
    digest = models.CharField(max_length=64)

    objects: ClassVar[RecordManager] = RecordManager()

    class Meta:
        ordering: ClassVar[list[str]] = ["-at", "-pk"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["chain", "position"], name="record_position_once"),
        ]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["consignment", "-at"], name="record_by_consignment"),
        ]

    def __str__(self) -> str:
        return f"{self.chain} {self.position} {self.verb}"

    @property
    def actor_name(self) -> str:
        """Who did it, by the name they bear now; a former member bears none."""
        return str(self.actor)

    def delete(self, *args: object, **kwargs: object) -> NoReturn:
        raise TypeError("The record is append-only.")


class PersonalText(models.Model):
    """A name or mail address that the record names by ``mark`` only, so that it can be removed.

    ``mark`` is made of SHA-256 over ``salt`` and ``text``: while the text is here it can be held
    against the record, and once it is gone nobody can find it again by guessing.
    """

    mark = models.CharField(max_length=40, unique=True)
    person = models.ForeignKey(
        "User", null=True, blank=True, on_delete=models.PROTECT, related_name="personal_texts"
    )
    text = models.CharField(max_length=254)
    salt = models.CharField(max_length=32)

    def __str__(self) -> str:
        return self.mark


class Token(models.Model):
    """A form or scan that took effect once; the same token again changes nothing."""

    key = models.CharField(max_length=64, unique=True)
    user = models.ForeignKey("User", on_delete=models.PROTECT)
    verb = models.CharField(max_length=60)
    at = models.DateTimeField()
    outcome = models.JSONField(default=dict)

    def __str__(self) -> str:
        return self.key
