"""The dose in a bottle, the water it meets, and the range of pH it can reach."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite

from intake.rules.dilution import matrix_of
from intake.rules.dosing import (
    ALKALINITY_ENDS_AT_PH,
    DOSE_RESERVE,
    SALT_WATER_ALKALINITY_MEQ_L,
    acid_ml_for_ph,
    alkalinity_from_ec,
    ionic_strength_from_ec,
    ph_after_acid,
)
from intake.rules.facts import AcidKind, BottleFacts, SampleFacts, WaterKind
from intake.rules.measured import usable_alkalinity, usable_ec25, usable_ph
from intake.rules.species import SPECIES

#: Fuming nitric acid, the strongest sold, in mol/L (from memory).
STRONGEST_ACID_MOL_L = 24.0

ONE_PROTON = (AcidKind.NITRIC, AcidKind.HYDROCHLORIC)

SALT_WATERS = (WaterKind.SEA, WaterKind.BRACKISH, WaterKind.BRINE)
_SULFATE_MG_PER_MMOL = SPECIES["sulfate"].molar_mass


@dataclass(slots=True)
class Dose:
    """Acid in a bottle: all that was added, as one volume of one strength."""

    ml: float
    mol_l: float


@dataclass(slots=True)
class Water:
    """What a dose meets in a sample.

    ``alkalinity_meq_l`` is the stated one, or one nearly known from pH or kind of water
    (``known``), else the most that EC allows, else ``None``. ``ec25`` is in µS/cm.
    """

    alkalinity_meq_l: float | None
    known: bool
    sulfate_mmol_l: float
    ionic_strength_mol_l: float
    ec25: float | None

    @property
    def most_alkalinity(self) -> float:
        """The alkalinity to reckon with, nothing where nothing is known."""
        return self.alkalinity_meq_l or 0.0


@dataclass(slots=True)
class Reach:
    """The range of pH a dose can come to, from no alkalinity to the most there may be.

    Both ends are equal where the alkalinity is known. ``None``: the dose is used up there.
    """

    lowest_ph: float | None
    highest_ph: float | None


def volume_of(bottle: BottleFacts) -> float | None:
    """The sample volume in mL, or ``None`` when none is stated that can be."""
    volume = bottle.volume_ml
    return volume if volume is not None and 0.0 < volume < inf else None


def dose_of(bottle: BottleFacts) -> Dose | None:
    """The whole dose of a one-proton acid, declared and given at the bench.

    ``None`` when there is none, when its kind, volume or strength is not stated, or when it
    cannot be (not above zero, more than the sample itself).
    """
    ml = mmol = 0.0
    if bottle.acidified is not False and bottle.acid_kind not in (None, AcidKind.NONE):
        if bottle.acid_kind not in ONE_PROTON or bottle.acid_ml is None or bottle.acid_mol_l is None:
            return None
        ml, mmol = bottle.acid_ml, bottle.acid_ml * bottle.acid_mol_l
    seen = bottle.seen
    if seen is not None and seen.acid_added_ml is not None:
        if seen.acid_added_mol_l is None:
            return None
        ml += seen.acid_added_ml
        mmol += seen.acid_added_ml * seen.acid_added_mol_l
    volume = volume_of(bottle)
    if volume is None or not 0.0 < ml <= volume or not 0.0 < mmol <= ml * STRONGEST_ACID_MOL_L:
        return None
    return Dose(ml, mmol / ml)


def water_of(sample: SampleFacts) -> Water:
    """What is known, or must be feared, of the water that takes the acid."""
    ec, ph = usable_ec25(sample), usable_ph(sample)
    matrix = matrix_of(sample.water_kind, ec)
    sulfate = 0.0
    if matrix is not None:
        sulfate = matrix[0].mg_l_per_us_cm.get("sulfate", 0.0) * matrix[1] / _SULFATE_MG_PER_MMOL
    alkalinity, known = usable_alkalinity(sample), True
    if alkalinity is None:
        if ph is not None and ph <= ALKALINITY_ENDS_AT_PH:
            alkalinity = 0.0
        elif matrix is not None or sample.water_kind in SALT_WATERS:
            alkalinity = SALT_WATER_ALKALINITY_MEQ_L
        else:
            alkalinity, known = None if ec is None else alkalinity_from_ec(ec, ph), False
    return Water(alkalinity, known, sulfate, ionic_strength_from_ec(ec), ec)


def reach(water: Water, volume_ml: float, dose: Dose) -> Reach:
    """The range of pH the dose reaches in this water."""
    highest = _ph_at(water.most_alkalinity, water, volume_ml, dose)
    if water.known or not water.most_alkalinity:
        return Reach(highest, highest)
    return Reach(_ph_at(0.0, water, volume_ml, dose), highest)


def _ph_at(alkalinity_meq_l: float, water: Water, volume_ml: float, dose: Dose) -> float | None:
    return ph_after_acid(
        volume_ml,
        dose.ml,
        alkalinity_meq_l,
        acid_mol_l=dose.mol_l,
        sulfate_mmol_l=water.sulfate_mmol_l,
        ionic_strength_mol_l=water.ionic_strength_mol_l,
    )


def need_ml(
    water: Water, volume_ml: float, target_ph: float, acid_mol_l: float, alkalinity_meq_l: float | None = None
) -> float | None:
    """Acid in mL that surely reaches the target, 10 % in reserve; ``None``: no dose of it does.

    ``alkalinity_meq_l`` stands in for that of the water, for one that has had some acid.
    """
    need = acid_ml_for_ph(
        volume_ml,
        water.most_alkalinity if alkalinity_meq_l is None else alkalinity_meq_l,
        target_ph=target_ph,
        acid_mol_l=acid_mol_l,
        sulfate_mmol_l=water.sulfate_mmol_l,
        ionic_strength_mol_l=water.ionic_strength_mol_l,
    )
    if need is None or not isfinite(need * DOSE_RESERVE):
        return None
    return need * DOSE_RESERVE
