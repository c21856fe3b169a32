"""Making a new consignment like a former one: its sites, ions and habits, not its dates or readings."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from intake.actions.entries import BottleEntry, SampleEntry
from intake.actions.registering import enter_samples, make_consignment
from intake.models import Bottle, Consignment, Sample, User
from intake.rules.facts import Precision

#: What a group does the same way every time. How a bottle was filled and kept is stated each time.
SAMPLE_HABITS = ("own_id", "site", "collection", "ec_unit", "ec_reference", "water_kind", "chlorinated")
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
