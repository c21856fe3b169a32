"""Electrical conductivity (EC): units, temperature, what water itself carries, EC from ions.

EC is in µS/cm throughout. "EC25" is EC referred to 25 °C. With concentrations in meq/L and
ionic conductivities in S·cm² per equivalent, EC is their plain sum of products.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from math import floor, isfinite, sqrt
from types import MappingProxyType

from intake.rules.facts import EcReference, EcUnit
from intake.rules.species import SPECIES, species

#: Definition of the units: 1 mS/cm = 1 dS/m = 1000 µS/cm, 1 mS/m = 10, 1 S/m = 10 000.
US_CM_PER_UNIT: Mapping[EcUnit, float] = MappingProxyType(
    {EcUnit.US_CM: 1.0, EcUnit.MS_CM: 1000.0, EcUnit.DS_M: 1000.0, EcUnit.MS_M: 10.0, EcUnit.S_M: 10_000.0}
)

#: Linear compensation per °C: Standard Methods 2510 B, read second-hand in public code, and
#: read in a probe manual. Against KCl 0.01 mol/kg (CRC) within 1 % from 10 to 35 °C.
ALPHA_PER_C = 0.0191

#: The linear formula is used inside these water temperatures only.
COMPENSATION_RANGE_C = (0.0, 40.0)

#: ISO 7888 / EN 27888, natural-water factors for whole degrees from 0 °C, as printed in the
#: manual of a field meter. Scope there: ground, surface, drinking and waste water.
F25_TABLE: tuple[float, ...] = (
    1.918, 1.857, 1.800, 1.745, 1.693, 1.643, 1.596, 1.551, 1.508,
    1.467, 1.428, 1.390, 1.354, 1.320, 1.287, 1.256, 1.225, 1.196,
    1.168, 1.141, 1.116, 1.091, 1.067, 1.044, 1.021, 1.000, 0.979,
    0.959, 0.940, 0.921, 0.903, 0.886, 0.869, 0.853, 0.837, 0.822,
)  # fmt: skip

#: EC25 of a reading referred to 20 °C: the same table at 20 °C.
FROM_20_C = 1.116

#: EC of pure water at 25 °C; handbooks and meter manuals agree.
PURE_WATER_EC = 0.055

LAMBDA_H = 349.65  # CRC Handbook, as in the table of species
LAMBDA_OH = 198.0  # CRC Handbook, from memory

#: Davies equation: A at 25 °C and the linear term, textbook values, from memory.
_DAVIES_A = 0.509
_DAVIES_LINEAR = 0.3
#: Davies is used up to this ionic strength, mol/L (usual limit, from memory).
DAVIES_LIMIT = 0.5

# Ion pairs, log10 of the formation constant at 25 °C, and the second step of sulfuric acid;
# values of the PHREEQC data base, from memory.
_K_CALCIUM_SULFATE = 10**2.30
_K_MAGNESIUM_SULFATE = 10**2.37
K_HYDROGEN_SULFATE = 10**-1.988

# Onsager's limiting slopes for water at 25 °C (relaxation with q = 1/2, electrophoresis) and
# the damping of an ion of 4.5 Å; textbook theory, from memory. Nothing here was fitted.
_RELAXATION = 0.23
_ELECTROPHORESIS = 30.3
_DAMPING = 1.5
#: Rounds after which pairs and ionic strength have settled within 0.01 %, strong sulfate included.
_ROUNDS = 40


def to_us_cm(value: float, unit: EcUnit) -> float:
    """EC in µS/cm of a reading in ``unit``."""
    return value * US_CM_PER_UNIT[unit]


def ec25_linear(ec: float, temperature_c: float, alpha: float = ALPHA_PER_C) -> float:
    """EC at 25 °C of an uncompensated reading, by the linear formula.

    Meant for 0 to 40 °C. ``ValueError`` where the formula has no meaning (its divisor is not
    above zero: below -27 °C with the usual ``alpha``).
    """
    divisor = 1.0 + alpha * (temperature_c - 25.0)
    if not divisor > 0:
        raise ValueError(f"no linear compensation at {temperature_c} °C")
    return ec / divisor


def f25(temperature_c: float) -> float:
    """Natural-water factor to 25 °C (ISO 7888), straight lines between whole degrees.

    The straight lines stay within 0.002 of the printed tenths. ``ValueError`` outside the
    table, 0 to 35 °C.
    """
    last = len(F25_TABLE) - 1
    if not 0.0 <= temperature_c <= last:
        raise ValueError(f"the natural-water table covers 0 to {last} °C, not {temperature_c} °C")
    below = min(floor(temperature_c), last - 1)
    return F25_TABLE[below] + (F25_TABLE[below + 1] - F25_TABLE[below]) * (temperature_c - below)


def ec25(ec: float, reference: EcReference, temperature_c: float | None) -> float | None:
    """EC at 25 °C of a reading in µS/cm, compensated exactly once.

    A reading at 25 °C stays as it is; one at 20 °C is multiplied by 1.116; a raw one goes
    through the linear formula, for water of 0 to 40 °C. ``None`` when that cannot be done:
    the reference is unknown, or the reading is raw and its temperature unknown or outside.
    """
    if reference is EcReference.AT_25:
        return ec
    if reference is EcReference.AT_20:
        return ec * FROM_20_C
    if reference is EcReference.RAW and temperature_c is not None:
        lowest, highest = COMPENSATION_RANGE_C
        if lowest <= temperature_c <= highest:
            return ec / (1.0 + ALPHA_PER_C * (temperature_c - 25.0))
    return None


def pkw(temperature_c: float) -> float:
    """Ionic product of water as pKw; a Harned-Owen type formula, from memory.

    13.995 at 25 °C, 14.73 at 5 °C; agrees with handbook values within 0.012 from 0 to 40 °C.
    """
    kelvin = temperature_c + 273.15
    return 4470.99 / kelvin - 6.0875 + 0.01706 * kelvin


def ionic_strength(mmol_l: Mapping[str, float]) -> float:
    """Ionic strength in mol/L of concentrations in mmol/L by species name."""
    return 0.0005 * sum(amount * species(name).charge ** 2 for name, amount in mmol_l.items())


def davies_log_gamma(strength_mol_l: float, charge: int = 1) -> float:
    """log10 of the activity coefficient of an ion, Davies equation, 25 °C.

    Meant up to 0.5 mol/L; not cut off here, so that callers see what the formula says.
    """
    root = sqrt(strength_mol_l)
    return -_DAVIES_A * charge * charge * (root / (1.0 + root) - _DAVIES_LINEAR * strength_mol_l)


@lru_cache(maxsize=256)
def davies(strength_mol_l: float, charge: int = 1) -> float:
    """Activity coefficient of an ion, Davies equation, 25 °C."""
    return float(10.0 ** davies_log_gamma(strength_mol_l, charge))


def ec_from_ions(mmol_l: Mapping[str, float], ph: float | None = None) -> float:
    """EC at 25 °C in µS/cm of a water of known composition, mmol/L by species name.

    Every limiting conductivity is lowered by Onsager's slope, damped; calcium and magnesium
    sulfate pairs (which carry no current) and hydrogen sulfate are taken out first. With
    ``ph`` given, free hydrogen and hydroxide come from it; without, "hydrogen" and
    "hydroxide" count if they are listed.

    Against PHREEQC speciation with the ionic conductivities of McCleskey et al. (2012): -2 to
    +4 % for waters of pH 5 to 9.5 up to seawater and 1 mol/L potassium chloride; +6 % for
    carbonated and acid sulfate waters, up to +20 % for soda lakes and mine drainage, whose
    pairs are not in the list. ``ValueError`` for a species without a held conductivity.
    """
    totals = {name: amount for name, amount in mmol_l.items() if amount > 0}
    if any(not isfinite(amount) for amount in mmol_l.values()):
        raise ValueError("concentrations must be finite numbers")
    free = dict(totals)
    for _ in range(_ROUNDS):
        free = _speciate(totals, free, min(ionic_strength(free), 1.0), ph)
    return _onsager_sum(free, ionic_strength(free))


def _speciate(
    totals: Mapping[str, float], before: Mapping[str, float], strength: float, ph: float | None
) -> dict[str, float]:
    """Free concentrations, mmol/L, one round of the iteration at this ionic strength."""
    gamma = davies(strength)
    gamma_two = davies(strength, 2)
    free = dict(totals)
    if ph is not None:
        free["hydrogen"] = 10.0 ** (3.0 - ph) / gamma
        free["hydroxide"] = 10.0 ** (3.0 + ph - pkw(25.0)) / gamma
    sulfate = totals.get("sulfate", 0.0)
    if not sulfate:
        return free
    # Each partner binds the sulfate that was free in the round before.
    bound_per_mmol = gamma_two * gamma_two / 1000.0
    calcium = before.get("calcium", 0.0) * _K_CALCIUM_SULFATE * bound_per_mmol
    magnesium = before.get("magnesium", 0.0) * _K_MAGNESIUM_SULFATE * bound_per_mmol
    proton = before.get("hydrogen", 0.0) * gamma_two / (1000.0 * K_HYDROGEN_SULFATE)
    left = sulfate / (1.0 + calcium + magnesium + proton)
    free["sulfate"] = left
    if "calcium" in totals:
        free["calcium"] = totals["calcium"] / (1.0 + left * _K_CALCIUM_SULFATE * bound_per_mmol)
    if "magnesium" in totals:
        free["magnesium"] = totals["magnesium"] / (1.0 + left * _K_MAGNESIUM_SULFATE * bound_per_mmol)
    if proton:
        free["hydrogen sulfate"] = left * proton + totals.get("hydrogen sulfate", 0.0)
        if ph is None:
            free["hydrogen"] = max(totals["hydrogen"] - left * proton, 0.0)
    return free


def _onsager_sum(free: Mapping[str, float], strength: float) -> float:
    """Sum of charge x concentration x conductivity lowered by Onsager's slope."""
    charge_sum = {True: 0.0, False: 0.0}
    square_sum = {True: 0.0, False: 0.0}
    for name, amount in free.items():
        charge = SPECIES[name].charge
        charge_sum[charge > 0] += amount * abs(charge)
        square_sum[charge > 0] += amount * charge * charge
    root = sqrt(strength)
    slope = root / (1.0 + _DAMPING * root)
    total = 0.0
    for name, amount in free.items():
        held = SPECIES[name]
        if held.conductivity is None:
            raise ValueError(f"no ionic conductivity is held for {name}")
        charge, opposite = abs(held.charge), held.charge < 0
        mean_opposite = square_sum[opposite] / charge_sum[opposite] if charge_sum[opposite] else 1.0
        lowered = held.conductivity - slope * charge * (
            _RELAXATION * mean_opposite * held.conductivity + _ELECTROPHORESIS
        )
        total += amount * charge * max(lowered, 0.0)
    return total
