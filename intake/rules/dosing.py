"""What strong acid does to a water: pH reached, dose for a pH, what the dose changes.

Volumes in mL, acid in mol/L of a fully dissociated acid with one proton (nitric,
hydrochloric), alkalinity in meq/L (negative: minus the hydrogen ion of a water already acid),
sulfate in mmol/L. Compared with PHREEQC: dose -2 to +4 % in ordinary waters, more than needed
with much sulfate; pH +0.03 (±0.07), always on the side that asks for more acid.
"""

from __future__ import annotations

from math import inf, log10, sqrt

from intake.rules.bounds import safe_conductivity
from intake.rules.conductivity import DAVIES_LIMIT, K_HYDROGEN_SULFATE, davies
from intake.rules.species import SPECIES

#: Ionic strength of an acidified bottle when nothing else is known, mol/L; a middle value.
USUAL_IONIC_STRENGTH = 0.02
#: Ionic strength from the acid itself, and per µS/cm of EC25 (a hydrochemistry page; computed
#: for natural waters 0.8 to 1.9e-5).
_STRENGTH_OF_ACID = 0.01
_STRENGTH_PER_US_CM = 1.6e-5

#: Added to every calculated dose, so that titration and syringe errors do not leave it short.
DOSE_RESERVE = 1.10

#: Below this pH no alkalinity is left to titrate.
ALKALINITY_ENDS_AT_PH = 4.5

#: Alkalinity of seawater and sodium chloride waters, meq/L: the bound from EC is no use there.
SALT_WATER_ALKALINITY_MEQ_L = 2.5

#: mL of carbon dioxide per mmol at 25 °C and 1 atm.
_ML_PER_MMOL_GAS = 24.5


def ionic_strength_from_ec(ec25: float | None) -> float:
    """Ionic strength in mol/L of the acidified bottle, kept where Davies is meant to be used."""
    if ec25 is None:
        return USUAL_IONIC_STRENGTH
    return min(_STRENGTH_OF_ACID + _STRENGTH_PER_US_CM * ec25, DAVIES_LIMIT)


def acid_left(volume_ml: float, acid_ml: float, acid_mol_l: float, alkalinity_meq_l: float) -> float:
    """Acid in mol/L that alkalinity has not used up; not above zero: all of it is gone."""
    return (acid_ml * acid_mol_l - volume_ml * alkalinity_meq_l / 1000.0) / (volume_ml + acid_ml)


def ph_after_acid(
    volume_ml: float,
    acid_ml: float,
    alkalinity_meq_l: float,
    *,
    acid_mol_l: float = 1.0,
    sulfate_mmol_l: float = 0.0,
    ionic_strength_mol_l: float = USUAL_IONIC_STRENGTH,
) -> float | None:
    """pH that the dose reaches, or ``None`` when it is used up and the pH stays above 4."""
    _check(volume_ml, acid_ml, acid_mol_l)
    left = acid_left(volume_ml, acid_ml, acid_mol_l, alkalinity_meq_l)
    if left <= 0.0:
        return None
    gamma = davies(ionic_strength_mol_l)
    free = left
    if sulfate_mmol_l > 0.0:
        sulfate = sulfate_mmol_l / 1000.0 * volume_ml / (volume_ml + acid_ml)
        constant = _sulfate_constant(gamma)
        # h + S h / (h + K) = x, solved for h.
        half = (constant + sulfate - left) / 2.0
        free = sqrt(half * half + left * constant) - half
        if free <= 0.0:  # only by rounding, where nearly all is bound
            return None
    return -log10(gamma * free)


def acid_ml_for_ph(
    volume_ml: float,
    alkalinity_meq_l: float,
    *,
    target_ph: float = 2.0,
    acid_mol_l: float = 1.0,
    sulfate_mmol_l: float = 0.0,
    ionic_strength_mol_l: float = USUAL_IONIC_STRENGTH,
) -> float | None:
    """Dose in mL that reaches the target, without reserve; ``None``: this acid is too weak."""
    _check(volume_ml, 0.0, acid_mol_l)
    gamma = davies(ionic_strength_mol_l)
    free: float = 10.0**-target_ph / gamma
    if acid_mol_l <= free:
        return None
    need = alkalinity_meq_l / 1000.0 + free
    if sulfate_mmol_l > 0.0:
        need += sulfate_mmol_l / 1000.0 * free / (free + _sulfate_constant(gamma))
    return max(volume_ml * need / (acid_mol_l - free), 0.0)


def alkalinity_limit_meq_l(
    volume_ml: float,
    acid_ml: float,
    *,
    target_ph: float = 2.0,
    acid_mol_l: float = 1.0,
    ionic_strength_mol_l: float = USUAL_IONIC_STRENGTH,
) -> float:
    """Alkalinity up to which the dose reaches the target; below zero: not even in pure water."""
    _check(volume_ml, acid_ml, acid_mol_l)
    free: float = 10.0**-target_ph / davies(ionic_strength_mol_l)
    return (acid_ml * acid_mol_l - free * (volume_ml + acid_ml)) / volume_ml * 1000.0


def volume_factor(volume_ml: float, added_ml: float) -> float:
    """By how much the added volume thins the sample: multiplies every cation result."""
    _check(volume_ml, added_ml, 1.0)
    return (volume_ml + added_ml) / volume_ml


def nitrate_added_mg_l(volume_ml: float, acid_ml: float, acid_mol_l: float = 1.0) -> float:
    """Nitrate in mg/L that a dose of nitric acid puts into the bottle."""
    _check(volume_ml, acid_ml, acid_mol_l)
    return acid_ml * acid_mol_l / (volume_ml + acid_ml) * SPECIES["nitrate"].molar_mass * 1000.0


def gas_ml(volume_ml: float, alkalinity_meq_l: float) -> float:
    """Carbon dioxide in mL that acid can free: one mmol for each meq of alkalinity."""
    return max(volume_ml * alkalinity_meq_l / 1000.0, 0.0) * _ML_PER_MMOL_GAS


def alkalinity_from_ec(ec25: float, ph: float | None) -> float:
    """The most alkalinity in meq/L that EC25 allows; nothing below pH 4.5."""
    if ph is not None and ph <= ALKALINITY_ENDS_AT_PH:
        return 0.0
    return ec25 / safe_conductivity("bicarbonate", ec25)


def _sulfate_constant(gamma: float) -> float:
    """Concentration constant of hydrogen sulfate; charge two has gamma to the fourth (Davies)."""
    return K_HYDROGEN_SULFATE / gamma**4


def _check(volume_ml: float, acid_ml: float, acid_mol_l: float) -> None:
    """``ValueError`` for volumes and strengths that no bottle has."""
    if not 0.0 < volume_ml < inf:
        raise ValueError("the sample volume must be above zero")
    if not 0.0 <= acid_ml < inf:
        raise ValueError("the acid volume must not be below zero")
    if not 0.0 < acid_mol_l < inf:
        raise ValueError("the strength of the acid must be above zero")
