"""Making a new consignment with samples already in it: like a former one, or as a trip was planned.

From a former one come sites, ions and habits, not dates or readings.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from intake.actions.entries import BottleEntry, SampleEntry
from intake.actions.judging import rulebook_of
from intake.actions.registering import enter_samples, make_consignment
from intake.models import Bottle, Consignment, Sample, User
from intake.rules.book import Rulebook
from intake.rules.facts import AcidKind, Line, Precision
from intake.rules.ions import of_line

#: What a group does the same way every time. How a bottle was filled and kept is stated each time.
SAMPLE_HABITS = (
    "own_id",
    "site",
    "collection",
    "ec_unit",
    "ec_reference",
    "water_kind",
    "chlorinated",
    "hazards",
)
BOTTLE_HABITS = (
    "line",
    "volume_ml",
    "container",
    "filter_pore_um",
    "filter_membrane",
    "acidified",
    "acid_kind",
    "acid_grade",
    "acid_mol_l",
    "acid_ml",
    "additive",
)


def _bottle_like(bottle: Bottle) -> BottleEntry:
    kept = {name: getattr(bottle, name) for name in BOTTLE_HABITS}
    return BottleEntry(ions=tuple(bottle.ions), **kept)


def _sample_like(sample: Sample) -> SampleEntry:
    kept = {name: getattr(sample, name) for name in SAMPLE_HABITS}
    bottles = tuple(_bottle_like(bottle) for bottle in sample.bottles.all())
    return SampleEntry(precision=Precision.UNKNOWN.value, bottles=bottles, **kept)


@transaction.atomic
def make_like(former: Consignment, *, by: User, at: datetime, token: str = "", **head: object) -> Consignment:
    """Make a draft with ``head`` as ``make_consignment`` takes it, and samples like those of ``former``."""
    made = make_consignment(by=by, at=at, token=token, **head)
    samples = former.samples.prefetch_related("bottles").order_by("position", "pk")
    entries = [_sample_like(sample) for sample in samples]
    if entries:
        enter_samples(made, entries, by=by, at=at, version=made.version)
    return made


@dataclass(frozen=True, slots=True)
class Plan:
    """What a trip will bring: so many sites, each with a bottle for every line of ``ions``.

    ``acid_ml`` is the dose of the rulebook's nitric acid in bottles for cations, ``None`` without.
    """

    sites: int
    ions: tuple[str, ...]
    acid_ml: float | None = None


def _planned_bottles(plan: Plan, book: Rulebook) -> tuple[BottleEntry, ...]:
    made = []
    for line in Line:
        ions = tuple(ion for ion in of_line(line) if ion in plan.ions)
        acid = {}
        if line is Line.CATION and plan.acid_ml is not None:
            acid = {
                "acidified": True,
                "acid_kind": AcidKind.NITRIC.value,
                "acid_mol_l": book.acid_dose_mol_l,
                "acid_ml": plan.acid_ml,
            }
        if ions:
            made.append(BottleEntry(line=line.value, ions=ions, volume_ml=book.line_volume_ml, **acid))
    return tuple(made)


@transaction.atomic
def make_planned(plan: Plan, *, by: User, at: datetime, token: str = "", **head: object) -> Consignment:
    """Make a draft with ``head`` as ``make_consignment`` takes it, and a sample for each planned site.

    The sites are called Site 1, Site 2 and so on until the group names them.
    """
    made = make_consignment(by=by, at=at, token=token, **head)
    bottles = _planned_bottles(plan, rulebook_of(made.rulebook))
    entries = [
        SampleEntry(own_id=f"Site {number}", precision=Precision.UNKNOWN.value, bottles=bottles)
        for number in range(1, plan.sites + 1)
    ]
    enter_samples(made, entries, by=by, at=at, version=made.version)
    return made
