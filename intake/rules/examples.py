"""A well-kept sample to depart from: every catalogue entry shows what raises it.

``example(sample={...}, anion={...}, cation={...})`` changes only the fields named, so that an
entry's example reads as the one thing that is wrong.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any

from intake.rules.book import Conditions, Confidence, KeepingRow, Limit, LimitUnit, Rulebook, Source
from intake.rules.facts import (
    AcidKind,
    ArrivalFacts,
    BottleFacts,
    Container,
    Cooling,
    EcReference,
    Line,
    MeasuredOn,
    Membrane,
    SampleFacts,
    SeenFacts,
    WaterKind,
)

COLLECTED = datetime(2026, 11, 24, 13, 5, tzinfo=UTC)


def _row(number: int, ion: str, value: float, unit: LimitUnit, **conditions: Any) -> KeepingRow:
    return KeepingRow(
        number,
        ion,
        Conditions(**conditions),
        Limit(value, unit),
        Source("example for the catalogue"),
        Confidence.HOUSE_CHOICE,
    )


_COLD: dict[str, Any] = {"filter_pore_max_um": 0.45, "min_c": 0, "max_c": 6, "frozen": False}
_NITRIC: dict[str, Any] = {
    "filter_pore_max_um": 0.45,
    "acid": (AcidKind.NITRIC,),
    "acid_ph_max": 2.5,
    "acid_within_min": 60,
}

#: A small book that uses every kind of condition. Not a rulebook for a laboratory.
BOOK = Rulebook(
    code="example",
    version=1,
    title="Example",
    chilled_within_min=60,
    rows=(
        _row(1, "nitrate", 48, LimitUnit.HOURS, acid=(), **_COLD),
        _row(2, "phosphate", 48, LimitUnit.HOURS, acid=(), filtered_within_min=15, **_COLD),
        _row(3, "chloride", 28, LimitUnit.DAYS, filter_pore_max_um=0.45, acid=()),
        _row(
            4,
            "fluoride",
            28,
            LimitUnit.DAYS,
            filter_pore_max_um=0.45,
            acid=(),
            containers=(Container.POLYETHYLENE, Container.POLYPROPYLENE),
        ),
        _row(5, "chlorite", 14, LimitUnit.DAYS, additive="ethylenediamine"),
        _row(6, "chlorite", 0, LimitUnit.IMMEDIATELY),
        _row(15, "bromate", 28, LimitUnit.DAYS, additive="ethylenediamine"),
        _row(7, "nitrate", 14, LimitUnit.DAYS, acid=(), chlorinated=True, **_COLD),
        _row(8, "sodium", 6, LimitUnit.MONTHS, **_NITRIC),
        _row(9, "sodium", 28, LimitUnit.DAYS, acid=(), **_COLD),
        _row(10, "calcium", 6, LimitUnit.MONTHS, **_NITRIC),
        _row(11, "calcium", 28, LimitUnit.DAYS, acid=(), **_COLD),
        _row(12, "ammonium", 28, LimitUnit.DAYS, **_NITRIC),
        _row(13, "ammonium", 30, LimitUnit.DAYS, filter_pore_max_um=0.45, frozen=True, frozen_within_min=240),
        _row(14, "ammonium", 48, LimitUnit.HOURS, acid=(), **_COLD),
    ),
)

SAMPLE = SampleFacts(
    key="S1",
    zone="Europe/Lisbon",
    declared_at=COLLECTED + timedelta(hours=3),
    name="North ditch 1",
    collected_at=COLLECTED,
    ph=7.4,
    ec_value=420,
    ec_reference=EcReference.AT_25,
    water_temperature_c=11,
    water_kind=WaterKind.STREAM,
)

ANION = BottleFacts(
    key="A",
    line=Line.ANION,
    ions=frozenset({"chloride", "nitrate", "phosphate"}),
    volume_ml=50,
    container=Container.POLYETHYLENE,
    to_brim=True,
    chilled=True,
    filter_pore_um=0.45,
    filter_membrane=Membrane.NYLON,
    filtered_at=COLLECTED + timedelta(minutes=10),
    acidified=False,
    acid_kind=AcidKind.NONE,
)

CATION = BottleFacts(
    key="C",
    line=Line.CATION,
    ions=frozenset({"ammonium", "calcium", "sodium"}),
    volume_ml=50,
    container=Container.POLYETHYLENE,
    to_brim=True,
    chilled=True,
    filter_pore_um=0.45,
    filter_membrane=Membrane.NYLON,
    filtered_at=COLLECTED + timedelta(minutes=10),
    acidified=True,
    acid_kind=AcidKind.NITRIC,
    acid_mol_l=1,
    acid_ml=0.5,
    acid_at=COLLECTED + timedelta(minutes=15),
)

ARRIVAL = ArrivalFacts(
    received_at=COLLECTED + timedelta(hours=20),
    temperature_c=4,
    measured_on=MeasuredOn.BLANK,
    cooling=Cooling.ICE,
)

SEEN = SeenFacts(
    checked_at=COLLECTED + timedelta(hours=21),
    cold=True,
    headspace=False,
    leaking=False,
    broken=False,
    frozen=False,
    cloudy=False,
    label_matches=True,
)


@dataclass(frozen=True, slots=True)
class Example:
    """Facts that raise one finding, and the book under which they do."""

    sample: SampleFacts
    bottles: tuple[BottleFacts, ...]
    book: Rulebook = BOOK


def example(
    *,
    sample: Mapping[str, Any] | None = None,
    anion: Mapping[str, Any] | None = None,
    cation: Mapping[str, Any] | None = None,
    arrival: Mapping[str, Any] | None = None,
    seen: Mapping[str, Any] | None = None,
    book: Mapping[str, Any] | None = None,
) -> Example:
    """The well-kept sample with the named fields changed.

    ``anion`` and ``cation`` change that bottle; ``arrival`` and ``seen`` hand both bottles
    over and have them looked at, with those fields changed.
    """
    handed_over: dict[str, Any] = {}
    if arrival is not None or seen is not None:
        handed_over["arrival"] = replace(ARRIVAL, **(arrival or {}))
    if seen is not None:
        handed_over["seen"] = replace(SEEN, **seen)
    bottles = (
        replace(ANION, **{**handed_over, **(anion or {})}),
        replace(CATION, **{**handed_over, **(cation or {})}),
    )
    return Example(replace(SAMPLE, **(sample or {})), bottles, replace(BOOK, **(book or {})))
