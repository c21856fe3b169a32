"""Measured values: units to mg/L with every factor applied once, and whether they can be true.

The checks are those of :mod:`intake.rules.results`. Bicarbonate is not in a chromatogram: where
alkalinity was titrated it joins the balance; where not, from pH 4.5 to 9 it is what closes the
balance, so the balance shows nothing and EC is the test.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from intake.rules import results
from intake.rules.conductivity import ec_from_ions
from intake.rules.facts import Line
from intake.rules.ions import BY_NAME
from intake.rules.species import SPECIES, species
from intake.rules.words import say_list, say_number

#: Units of amount a litre: factor to mg/L, mmol/L or meq/L, by which of these they are.
MASS_UNITS: Mapping[str, float] = MappingProxyType({"mg/L": 1.0, "µg/L": 0.001, "g/L": 1000.0})
MOLAR_UNITS: Mapping[str, float] = MappingProxyType({"mmol/L": 1.0, "µmol/L": 0.001})
EQUIVALENT_UNITS: Mapping[str, float] = MappingProxyType({"meq/L": 1.0, "µeq/L": 0.001})
UNITS = (*MASS_UNITS, *MOLAR_UNITS, *EQUIVALENT_UNITS)

#: Without these a balance is not worth making: the ions that carry nearly all charge of ordinary
#: waters. House choice.
NEEDED = ("sodium", "magnesium", "calcium", "chloride", "sulfate")

_LIMITS = "Standard Methods 1030 E, limits read second-hand"


@dataclass(frozen=True, slots=True)
class Stated:
    """A value as a file states it. ``dilution`` 5 means five times the volume.

    ``as_element``: stated as nitrogen, phosphorus or sulfur. ``dilution_applied`` and
    ``acid_applied``: the value was multiplied by that factor before it came here.
    """

    ion: str
    value: float
    unit: str = "mg/L"
    as_element: bool = False
    dilution: float = 1.0
    dilution_applied: bool = False
    acid_factor: float = 1.0
    acid_applied: bool = False

    def in_sample_mg_l(self) -> float:
        """mg/L of the ion in the water as it was collected; each factor applied exactly once."""
        value = _to_mg_l(self.ion, self.value, self.unit, as_element=self.as_element)
        if not self.dilution_applied:
            value *= self.dilution
        if not self.acid_applied:
            value *= self.acid_factor
        return value

    def above(self, top: float | None) -> bool:
        """Whether what was injected lies above ``top``, the highest standard, in the stated unit."""
        return top is not None and self._injected() > top

    def dilution_wanted(self, top: float | None) -> float | None:
        """By how much the sample has to be diluted for its value to lie at ``top``.

        ``None`` where it is not above. Above the range a value is no more than an estimate, so the
        next step of a ladder that is at least this may still be too little.
        """
        if top is None or top <= 0 or not self.above(top):
            return None
        return self._injected() / top * self.dilution

    def _injected(self) -> float:
        return self.value / self.dilution if self.dilution_applied else self.value


def _to_mg_l(ion: str, value: float, unit: str, *, as_element: bool) -> float:
    if unit in MASS_UNITS:
        mass = value * MASS_UNITS[unit]
        return results.ion_from_element(ion, mass) if as_element else mass
    if unit in MOLAR_UNITS:
        return value * MOLAR_UNITS[unit] * species(ion).molar_mass
    return results.mg_from_meq(ion, value * EQUIVALENT_UNITS[unit])


@dataclass(frozen=True, slots=True)
class Check:
    """One check of a sample: ``passed`` is ``None`` where it could not be made."""

    name: str
    passed: bool | None
    sentence: str
    source: str = ""


def checks(
    mg_l: Mapping[str, float], ph: float | None, ec25_us_cm: float | None, alkalinity_meq_l: float | None
) -> tuple[Check, ...]:
    """Charge balance and EC closure of one sample from its ions in mg/L."""
    missing = [ion for ion in NEEDED if ion not in mg_l]
    if missing or ph is None:
        without = say_list([*missing, *(["pH"] if ph is None else [])])
        return (Check("balance", None, f"Charge balance and EC were not checked: no {without}."),)
    cations, anions = _sums(mg_l, ph)
    if alkalinity_meq_l is not None:
        anions += alkalinity_meq_l
        bicarbonate = alkalinity_meq_l
        balance = _balance(cations, anions)
    else:
        gap = results.bicarbonate_by_difference(cations, anions, ph)
        bicarbonate = max(gap or 0.0, 0.0)
        balance = _balance(cations + _hydrogen(ph), anions) if gap is None else _gap(gap, cations)
    return balance, _closure(mg_l, bicarbonate, ph, ec25_us_cm)


def _hydrogen(ph: float) -> float:
    return results.hydrogen_meq(ph) if ph < 5 else 0.0


def _sums(mg_l: Mapping[str, float], ph: float) -> tuple[float, float]:
    """Sums of cations and anions in meq/L."""
    sums = {Line.CATION: 0.0, Line.ANION: 0.0}
    for ion, value in mg_l.items():
        charge = results.phosphate_meq(value, ph) if ion == "phosphate" else results.meq_from_mg(ion, value)
        sums[BY_NAME[ion].line] += charge
    return sums[Line.CATION], sums[Line.ANION]


def _balance(cations: float, anions: float) -> Check:
    if cations + anions <= 0:
        return Check("balance", None, "Charge balance was not checked: nothing was found.")
    percent = results.charge_balance_percent(cations, anions)
    passed = results.balance_acceptable(cations, anions)
    return Check(
        "balance",
        passed,
        f"Charge balance {say_number(percent, 2)} % (cations {say_number(cations, 3)}, anions "
        f"{say_number(anions, 3)} meq/L): {'inside' if passed else 'outside'} the limits.",
        _LIMITS,
    )


def _gap(gap: float, cations: float) -> Check:
    passed = results.gap_plausible(gap, cations)
    told = f"Bicarbonate by difference {say_number(gap, 3)} meq/L"
    if passed:
        return Check("balance", True, f"{told}; alkalinity was not measured, so the balance shows no more.")
    return Check(
        "balance", False, f"{told}, below zero: an anion is too high, a cation too low, or one is missing."
    )


def _closure(mg_l: Mapping[str, float], bicarbonate_meq_l: float, ph: float, ec25: float | None) -> Check:
    if ec25 is None or ec25 <= 0:
        return Check("ec", None, "EC was not checked: no usable field EC.")
    mmol = {
        ion: value / species(ion).molar_mass
        for ion, value in mg_l.items()
        if ion != "phosphate" and SPECIES[ion].conductivity is not None
    }
    if "phosphate" in mg_l:
        whole = mg_l["phosphate"] / species("phosphate").molar_mass
        twice = results.phosphate_meq(mg_l["phosphate"], ph) - whole
        mmol["hydrogen phosphate"], mmol["dihydrogen phosphate"] = twice, whole - twice
    mmol["bicarbonate"] = bicarbonate_meq_l
    calculated = ec_from_ions(mmol, ph)
    ratio = calculated / ec25
    if results.ec_ratio_acceptable(calculated, ec25):
        said = "agree"
    else:
        slip = results.ec_unit_slip(calculated, ec25)
        said = (
            "differ" if slip is None else f"differ; a field EC {say_number(slip)} times as large would agree"
        )
    return Check(
        "ec",
        results.ec_ratio_acceptable(calculated, ec25),
        f"EC from the ions {say_number(calculated, 3)} µS/cm, measured {say_number(ec25, 3)}: ratio "
        f"{ratio:.2f}, they {said}.",
        "Standard Methods 1030 E, 0.9 to 1.1, from memory",
    )
