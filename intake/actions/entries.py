"""Samples as a person states them, already typed: what the grid and the workbook hand over.

Field names are those of ``intake.rules.facts``; ``None`` or an empty text means not stated.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime


@dataclass(frozen=True, slots=True)
class BottleEntry:
    """One bottle of a sample. ``ions`` are ion names in order of listing."""

    line: str
    ions: tuple[str, ...]
    volume_ml: float | None = None
    container: str = ""
    to_brim: bool | None = None
    chilled: bool | None = None
    chilled_at: datetime | None = None
    frozen: bool | None = None
    frozen_at: datetime | None = None
    filter_pore_um: float | None = None
    filter_membrane: str = ""
    filtered_at: datetime | None = None
    acidified: bool | None = None
    acid_kind: str = ""
    acid_grade: str = ""
    acid_mol_l: float | None = None
    acid_ml: float | None = None
    acid_at: datetime | None = None
    additive: str = ""


@dataclass(frozen=True, slots=True)
class SampleEntry:
    """One sample with its bottles, at most one a line. Moments are aware."""

    own_id: str
    site: str = ""
    collection: str = "grab"
    collected_at: datetime | None = None
    collection_began_at: datetime | None = None
    precision: str = "minute"
    ph: float | None = None
    ec_value: float | None = None
    ec_unit: str = "µS/cm"
    ec_reference: str = "unknown"
    water_temperature_c: float | None = None
    water_kind: str = "unknown"
    alkalinity_meq_l: float | None = None
    chlorinated: bool | None = None
    hazards: str = ""
    bottles: tuple[BottleEntry, ...] = field(default_factory=tuple)
