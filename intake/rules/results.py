"""Checks on measured values: conversions, charge balance, EC ratio, bicarbonate.

Functions only; the bench uses them once values exist. Concentrations are mg/L where the name
says so, else meq/L. Ion names as in :mod:`intake.rules.species`.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import inf, isfinite, isnan
from types import MappingProxyType

from intake.rules.conductivity import davies, pkw
from intake.rules.species import ATOMIC_WEIGHTS, SPECIES, mass, species

#: Ions that are also stated as an element of theirs.
ELEMENT_OF: Mapping[str, str] = MappingProxyType(
    {"nitrate": "N", "nitrite": "N", "ammonium": "N", "phosphate": "P", "sulfate": "S"}
)
#: mg/L of the ion from mg/L of its element: nitrate from nitrate-nitrogen is 4.4267, and so on.
FROM_ELEMENT: Mapping[str, float] = MappingProxyType(
    {ion: SPECIES[ion].molar_mass / ATOMIC_WEIGHTS[element] for ion, element in ELEMENT_OF.items()}
)

#: Grams of calcium carbonate per mole of charge: mg/L CaCO3 / 50.04 = meq/L of alkalinity.
CALCIUM_CARBONATE_PER_EQUIVALENT = mass(Ca=1, C=1, O=3) / 2
#: mg/L of bicarbonate from mg/L of alkalinity stated as calcium carbonate.
BICARBONATE_PER_CALCIUM_CARBONATE = SPECIES["bicarbonate"].molar_mass / CALCIUM_CARBONATE_PER_EQUIVALENT

#: Standard Methods 1030 E as quoted second-hand in two public files: sum of anions up to
#: (meq/L), then the limit as a difference in meq/L or as a percentage of the sum.
BALANCE_DIFFERENCE_BELOW_MEQ_L = 3.0
BALANCE_DIFFERENCE_MEQ_L = 0.2
BALANCE_STEPS_PERCENT: tuple[tuple[float, float], ...] = ((10.0, 2.0), (inf, 5.0))

#: Exactly at a limit is inside, whatever binary fractions make of it.
_ROUNDING = 1e-9

#: EC from ions over EC measured: Standard Methods 1030 E, from memory; a Dutch groundwater
#: protocol asks for the same 10 % (read).
EC_RATIO_BAND = (0.9, 1.1)
#: For soda lakes and mine drainage, whose ion pairs EC from ions leaves out; computed here
#: against PHREEQC speciation, no published source.
EC_RATIO_BAND_PAIRED = (0.8, 1.25)

#: Second step of phosphoric acid at 25 °C, textbook value, from memory.
PK2_PHOSPHORIC = 7.2

#: Bicarbonate by difference may fall short of zero by this much: 0.2 meq/L (the balance limit
#: of dilute waters) or 5 % of the sum of cations.
GAP_SHORTFALL_MEQ_L = 0.2
GAP_SHORTFALL_SHARE = 0.05

#: Typed unit against true unit, with the factor by which the field reading is too small.
_UNIT_SLIPS: tuple[float, ...] = (0.001, 10.0, 100.0, 1000.0, 10_000.0)


def meq_from_mg(ion: str, mg_l: float) -> float:
    """meq/L of ``mg_l`` of an ion; phosphate counts its full charge of three."""
    return mg_l / species(ion).equivalent_mass


def mg_from_meq(ion: str, meq_l: float) -> float:
    """mg/L of ``meq_l`` of an ion; phosphate counts its full charge of three."""
    return meq_l * species(ion).equivalent_mass


def ion_from_element(ion: str, mg_l: float) -> float:
    """mg/L of the ion from mg/L stated as its element (NO3-N, NH4-N, PO4-P, SO4-S ...)."""
    return mg_l * _element_factor(ion)


def element_from_ion(ion: str, mg_l: float) -> float:
    """mg/L as the element (NO3-N, NH4-N, PO4-P, SO4-S ...) from mg/L of the ion."""
    return mg_l / _element_factor(ion)


def _element_factor(ion: str) -> float:
    try:
        return FROM_ELEMENT[ion]
    except KeyError:
        raise ValueError(f"{ion} is not stated as an element") from None


def alkalinity_from_calcium_carbonate(mg_l: float) -> float:
    """meq/L of alkalinity from mg/L stated as calcium carbonate."""
    return mg_l / CALCIUM_CARBONATE_PER_EQUIVALENT


def phosphate_meq(mg_l: float, ph: float) -> float:
    """Charge in meq/L that ``mg_l`` of phosphate carries at this pH.

    One charge well below pH 7.2, two well above. The first and third step (pK 2.15 and 12.35)
    are left out: good from pH 4 to 10.5.
    """
    second: float = 1.0 / (1.0 + 10.0 ** (PK2_PHOSPHORIC - ph))
    return mg_l / species("phosphate").molar_mass * (1.0 + second)


def hydrogen_meq(ph: float, ionic_strength_mol_l: float = 0.0) -> float:
    """Free hydrogen ion in meq/L at this pH; counts in the balance below pH 5."""
    return float(10.0 ** (3.0 - ph) / davies(ionic_strength_mol_l))


def hydroxide_meq(ph: float, ionic_strength_mol_l: float = 0.0) -> float:
    """Free hydroxide in meq/L at this pH and 25 °C; counts in the balance above pH 9."""
    return float(10.0 ** (3.0 + ph - pkw(25.0)) / davies(ionic_strength_mol_l))


def charge_balance_percent(cations_meq_l: float, anions_meq_l: float) -> float:
    """100 x (cations - anions) / (cations + anions); ``ValueError`` when both are nothing."""
    total = cations_meq_l + anions_meq_l
    if not (isfinite(total) and total > 0):
        raise ValueError("a charge balance needs finite sums, and one of them above zero")
    return 100.0 * (cations_meq_l - anions_meq_l) / total


def balance_acceptable(cations_meq_l: float, anions_meq_l: float) -> bool:
    """Whether the charge balance is inside the limits of Standard Methods 1030 E.

    Up to 3 meq/L of anions a difference of 0.2 meq/L, up to 10 meq/L 2 %, above 5 %. The
    document stops at 800 meq/L; the last step is carried on above that.
    """
    if isnan(cations_meq_l) or isnan(anions_meq_l):
        return False
    if anions_meq_l <= BALANCE_DIFFERENCE_BELOW_MEQ_L:
        return abs(cations_meq_l - anions_meq_l) <= BALANCE_DIFFERENCE_MEQ_L + _ROUNDING
    limit = next(percent for top, percent in BALANCE_STEPS_PERCENT if anions_meq_l <= top)
    return abs(charge_balance_percent(cations_meq_l, anions_meq_l)) <= limit + _ROUNDING


def ec_ratio_acceptable(
    ec_calculated_us_cm: float, ec_measured_us_cm: float, band: tuple[float, float] = EC_RATIO_BAND
) -> bool:
    """Whether EC from ions and EC measured agree; ``False`` when either is not above zero."""
    if not (ec_measured_us_cm > 0 and ec_calculated_us_cm > 0):
        return False
    return band[0] <= ec_calculated_us_cm / ec_measured_us_cm <= band[1]


def ec_unit_slip(
    ec_calculated_us_cm: float, ec_measured_us_cm: float, band: tuple[float, float] = EC_RATIO_BAND
) -> float | None:
    """Factor that would bring the measured EC into agreement, when it is one between units.

    1000 says: the field value was mS/cm, noted as µS/cm. ``None`` when no unit explains it.
    """
    for factor in _UNIT_SLIPS:
        if ec_ratio_acceptable(ec_calculated_us_cm, ec_measured_us_cm * factor, band):
            return factor
    return None


def bicarbonate_by_difference(
    cations_meq_l: float, anions_meq_l: float, ph: float, ionic_strength_mol_l: float = 0.0
) -> float | None:
    """Bicarbonate in meq/L that closes the balance of a chromatogram, from pH 4.5 to 9.

    The balance is used up by it; the independent test is EC. ``None`` outside that pH:
    below, the measured ions must balance by themselves; above, carbonate shares the charge.
    """
    if not 4.5 <= ph <= 9.0:
        return None
    return (
        cations_meq_l
        + hydrogen_meq(ph, ionic_strength_mol_l)
        - anions_meq_l
        - hydroxide_meq(ph, ionic_strength_mol_l)
    )


def gap_plausible(bicarbonate_meq_l: float, cations_meq_l: float) -> bool:
    """Whether bicarbonate by difference is not below zero by more than its allowance.

    A larger shortfall says that an anion is too high, a cation too low, or one is missing.
    """
    return bicarbonate_meq_l >= -max(GAP_SHORTFALL_MEQ_L, GAP_SHORTFALL_SHARE * cations_meq_l)
