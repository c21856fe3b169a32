"""Invented waters, and samples of them as a careful person would register them.

Readings are typical of the kind of water (common practice, no source) and vary a little from
sample to sample in a way that is the same on every run.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from intake.actions.entries import BottleEntry, SampleEntry
from intake.rules.facts import AcidKind, Container, Line, Membrane, WaterKind
from intake.rules.ions import SETS

ANIONS = SETS["common anions"]
NUTRIENTS = SETS["nutrients"]
CATIONS = SETS["common cations"]


@dataclass(frozen=True, slots=True)
class Water:
    """A kind of water met in the demo; ``ec_us_cm`` at 25 °C."""

    kind: WaterKind
    ph: float
    ec_us_cm: float
    temperature_c: float


LAKE = Water(WaterKind.RIVER, 8.1, 310, 9.4)
INFLOW = Water(WaterKind.STREAM, 7.6, 240, 11.2)
WELL = Water(WaterKind.GROUNDWATER, 7.2, 680, 10.8)
SPRING = Water(WaterKind.GROUNDWATER, 7.4, 520, 8.6)
PEAT = Water(WaterKind.PEAT, 4.6, 58, 8.9)
DRAIN = Water(WaterKind.FIELD_DRAINAGE, 7.5, 940, 12.7)
ADIT = Water(WaterKind.MINE_DRAINAGE, 3.2, 1850, 13.5)


def _sway(number: int) -> float:
    """A figure from -1 to 1 that looks irregular and is the same on every run."""
    return ((number * 7919) % 201 - 100) / 100


def anion_bottle(collected_at: datetime, ions: tuple[str, ...] = ANIONS) -> BottleEntry:
    """An anion bottle kept as the house rulebook asks: filtered, to the brim, cold, no acid."""
    return BottleEntry(
        line=Line.ANION,
        ions=ions,
        volume_ml=50,
        container=Container.POLYETHYLENE,
        to_brim=True,
        chilled=True,
        chilled_at=collected_at + timedelta(minutes=12),
        frozen=False,
        filter_pore_um=0.45,
        filter_membrane=Membrane.NYLON,
        filtered_at=collected_at + timedelta(minutes=6),
        acidified=False,
        acid_kind=AcidKind.NONE,
    )


def cation_bottle(collected_at: datetime, ions: tuple[str, ...] = CATIONS) -> BottleEntry:
    """A cation bottle kept as the house rulebook asks, with its half millilitre of nitric acid."""
    return replace(
        anion_bottle(collected_at, ions),
        line=Line.CATION,
        acidified=True,
        acid_kind=AcidKind.NITRIC,
        acid_grade="trace metal",
        acid_mol_l=1.0,
        acid_ml=0.5,
        acid_at=collected_at + timedelta(minutes=8),
    )


def sample(
    water: Water,
    number: int,
    *,
    own_id: str,
    site: str,
    collected_at: datetime,
    anions: tuple[str, ...] = ANIONS,
    cations: tuple[str, ...] = CATIONS,
) -> SampleEntry:
    """One grab sample of ``water`` with a bottle for each line that has ions."""
    sway = _sway(number)
    bottles = []
    if anions:
        bottles.append(anion_bottle(collected_at, anions))
    if cations:
        bottles.append(cation_bottle(collected_at, cations))
    return SampleEntry(
        own_id=own_id,
        site=site,
        collected_at=collected_at,
        ph=round(water.ph + 0.2 * sway, 2),
        ec_value=round(water.ec_us_cm * (1 + 0.12 * sway)),
        ec_unit="µS/cm",
        ec_reference="25",
        water_temperature_c=round(water.temperature_c + 0.8 * sway, 1),
        water_kind=water.kind,
        bottles=tuple(bottles),
    )
