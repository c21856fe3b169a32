"""The field readings of a sample in the shape the chemistry can use, or nothing.

A reading that cannot be (:mod:`intake.rules.readings` says so) is not calculated with.
"""

from __future__ import annotations

from math import isfinite

from intake.rules.bounds import safe_conductivity
from intake.rules.conductivity import PURE_WATER_EC, US_CM_PER_UNIT, ec25
from intake.rules.facts import SampleFacts

#: Strong acids reach about 850 000 µS/cm, more than any salt (from memory).
HIGHEST_EC = 900_000.0

#: Lowest and highest pH anybody can have met: -3.6 was published for water of a mine at Iron
#: Mountain, California; lye reaches about 15 (both from memory).
POSSIBLE_PH = (-4.0, 15.0)

#: A stated alkalinity may exceed the most that EC allows by a tenth: titration and EC err.
ALKALINITY_TOLERANCE = 1.1


def usable_ec25(sample: SampleFacts) -> float | None:
    """EC in µS/cm at 25 °C, or ``None`` when there is no possible reading.

    A reading whose compensation is not known is taken as it was typed: most meters
    compensate, and a raw reading of cold water only makes the checks milder.
    """
    if sample.ec_value is None:
        return None
    stated = sample.ec_value * US_CM_PER_UNIT[sample.ec_unit]
    value = ec25(stated, sample.ec_reference, sample.water_temperature_c)
    if value is None:
        value = stated
    return value if PURE_WATER_EC <= value <= HIGHEST_EC else None


def usable_ph(sample: SampleFacts) -> float | None:
    """The pH, or ``None`` when there is none that can be."""
    ph = sample.ph
    return ph if ph is not None and POSSIBLE_PH[0] <= ph <= POSSIBLE_PH[1] else None


def highest_alkalinity(sample: SampleFacts) -> float | None:
    """The most alkalinity in meq/L that the EC allows, with its tolerance, or ``None``."""
    ec = usable_ec25(sample)
    return None if ec is None else ec / safe_conductivity("bicarbonate", ec) * ALKALINITY_TOLERANCE


def usable_alkalinity(sample: SampleFacts) -> float | None:
    """The stated alkalinity in meq/L, or ``None`` when there is none that the EC allows."""
    stated = sample.alkalinity_meq_l
    if stated is None or not isfinite(stated):
        return None
    highest = highest_alkalinity(sample)
    return stated if highest is None or stated <= highest else None
