"""Stored values with their labels. The values are those of the rules, so both read alike."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

from django.db.models import TextChoices
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from intake.phrasebook import said_later
from intake.rules import facts, ions
from intake.rules.choosing import Choice


class Role(TextChoices):
    SUBMITTER = "submitter", _("submitter")
    RECEPTION = "reception", _("reception")
    MANAGER = "manager", _("lab manager")
    SYSTEM = "system", _("the system itself")


class SecondFactorFor(TextChoices):
    """Of whom the laboratory demands a second factor at sign-in."""

    NOBODY = "nobody", _("nobody; everybody may have one")
    STAFF = "staff", _("everybody who works in the laboratory")
    EVERYBODY = "everybody", _("everybody, also those who send samples")


class Decision(TextChoices):
    """What was decided for a bottle at reception."""

    NONE = "", _("not decided")
    ACCEPTED = "accepted", _("accepted")
    RESERVED = "reserved", _("accepted with a reservation")
    HELD = "held", _("on hold for the submitter's word")
    REFUSED = "refused", _("refused")


class JobKind(TextChoices):
    """What can be left for later."""

    MAIL = "mail", _("mail")
    READ_SHEET = "read sheet", _("reading a workbook")
    SAVE_SHEET = "save sheet", _("saving the samples of a workbook")
    QUESTIONS = "questions", _("reminding of questions")
    NIGHTLY = "nightly", _("nightly check")
    TALLIES = "tallies", _("counting for the overview")


class TallyKind(TextChoices):
    """What is counted of a month."""

    CLOCK = "clock"
    ARRIVAL = "arrival"
    INJECTION = "injection"
    FINDING = "finding"


class JobState(TextChoices):
    WAITING = "waiting", _("not done yet")
    DONE = "done", _("done")
    FAILED = "failed", _("not done")


def choices_of(enum: type[StrEnum]) -> list[tuple[str, object]]:
    """Choices of a model field from an enumeration of the rules; its values are readable words."""
    return [(member.value, said_later(member.value)) for member in enum]


def ion_choices(those: Iterable[ions.Ion]) -> list[tuple[str, object]]:
    """Choices of ions, each with its formula."""
    return [(ion.name, format_lazy("{} {}", said_later(ion.name), ion.formula)) for ion in those]


LINES = [(facts.Line.ANION.value, _("anion")), (facts.Line.CATION.value, _("cation"))]
LINE_NAMES = dict(LINES)
COLLECTIONS = [
    (facts.Collection.GRAB.value, _("grab")),
    (facts.Collection.COMPOSITE.value, _("composite")),
]
PRECISIONS = [
    (facts.Precision.MINUTE.value, _("to the minute")),
    (facts.Precision.HOUR.value, _("to the hour")),
    (facts.Precision.DATE.value, _("date only")),
    (facts.Precision.UNKNOWN.value, _("unknown")),
]
EC_UNITS = choices_of(facts.EcUnit)
EC_REFERENCES = [
    (facts.EcReference.AT_25.value, _("compensated to 25 °C")),
    (facts.EcReference.AT_20.value, _("compensated to 20 °C")),
    (facts.EcReference.RAW.value, _("not compensated")),
    (facts.EcReference.UNKNOWN.value, _("not known")),
]
WATER_KINDS = choices_of(facts.WaterKind)
ACID_KINDS = choices_of(facts.AcidKind)
CONTAINERS = choices_of(facts.Container)
MEMBRANES = choices_of(facts.Membrane)
MEASURED_ON = choices_of(facts.MeasuredOn)
COOLINGS = choices_of(facts.Cooling)
SEALS = choices_of(facts.Seal)
ANSWERS = choices_of(Choice)
SETS = [
    (name, format_lazy("{} ({})", said_later(name), said_later(", ".join(members))))
    for name, members in ions.SETS.items()
]
