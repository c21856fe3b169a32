"""Can these pH, EC and temperature be true together?

Only what physics forbids bars a sample; what is merely unusual is a caution. At most one
finding speaks of the EC, the one that explains most, and it proposes the unit that would fit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import isfinite
from types import MappingProxyType

from intake.rules.conductivity import COMPENSATION_RANGE_C, US_CM_PER_UNIT, to_us_cm
from intake.rules.facts import EcReference, EcUnit, SampleFacts, WaterKind
from intake.rules.findings import Rule
from intake.rules.floor import UNKNOWN_TEMPERATURE_C, VALID_PH, floor_allows, needed_ec, usual_lowest_ec
from intake.rules.judgement import Finding, Weight
from intake.rules.measured import HIGHEST_EC, POSSIBLE_PH, highest_alkalinity, usable_ec25, usable_ph
from intake.rules.reading_rules import (
    ALKALINITY_ABOVE_EC,
    EC_BELOW_AIR_WATER,
    EC_BELOW_FLOOR,
    EC_BELOW_USUAL,
    EC_IMPOSSIBLE,
    EC_NEEDS_TEMPERATURE,
    EC_REFERENCE_UNKNOWN,
    EC_UNUSUAL,
    EC_VERY_HIGH,
    PH_EXTREME,
    PH_IMPOSSIBLE,
    RULES,
    TEMPERATURE_IMPOSSIBLE,
    TEMPERATURE_UNUSUAL,
)
from intake.rules.results import CALCIUM_CARBONATE_PER_EQUIVALENT
from intake.rules.words import say_number

__all__ = ["RULES", "WINDOWS", "findings"]

#: EC25 in µS/cm that is usual for each kind of water; common practice, cautions only. A brine
#: and an unknown water have no window.
WINDOWS: Mapping[WaterKind, tuple[float, float]] = MappingProxyType(
    {
        WaterKind.RAIN: (2.0, 400.0),
        WaterKind.STREAM: (5.0, 3000.0),
        WaterKind.PEAT: (10.0, 500.0),
        WaterKind.RIVER: (10.0, 5000.0),
        WaterKind.GROUNDWATER: (20.0, 15_000.0),
        WaterKind.TAP: (30.0, 3000.0),
        WaterKind.PURE: (0.5, 200.0),
        WaterKind.WASTE: (100.0, 50_000.0),
        WaterKind.BRACKISH: (500.0, 48_000.0),
        WaterKind.SEA: (40_000.0, 60_000.0),
        WaterKind.AQUACULTURE: (50.0, 60_000.0),
        WaterKind.FIELD_DRAINAGE: (100.0, 30_000.0),
        WaterKind.SOIL_EXTRACT: (20.0, 150_000.0),
        WaterKind.NUTRIENT_SOLUTION: (300.0, 8000.0),
        WaterKind.MINE_DRAINAGE: (100.0, 100_000.0),
    }
)

#: Pure water that has met air has 1.0 µS/cm (CRC Handbook 1.10); half of that is a unit slip.
AIR_WATER_EC = 0.5
#: Above seawater of salinity 40 (59 734 µS/cm, TEOS-10) only brines and salt extracts go.
STRONGEST_ORDINARY_EC = 60_000.0

#: Water temperatures that samplers meet: seawater freezes at -1.9 °C, compensation ends at 40 °C.
USUAL_TEMPERATURE_C = (-2.0, COMPENSATION_RANGE_C[1])
#: Between calcium chloride brine and the critical point, there is liquid water (from memory).
POSSIBLE_TEMPERATURE_C = (-60.0, 374.0)

#: The pH reading's temperature counts up to here only: hot water is often left to cool first.
_WARMEST_PH_READING_C = 25.0
#: So near to 25 °C compensation changes EC by no more than 2 %.
_COMPENSATION_IDLE_C = 1.0

#: Units in the order in which they are mistaken for another.
_LIKELY_UNITS = (EcUnit.MS_CM, EcUnit.US_CM, EcUnit.MS_M, EcUnit.S_M)


def findings(sample: SampleFacts) -> tuple[Finding, ...]:
    """What the field readings of one sample say about each other."""
    found = (_ph(sample), _temperature(sample), _ec(sample), _compensation(sample), _alkalinity(sample))
    return tuple(finding for finding in found if finding is not None)


def _ph(sample: SampleFacts) -> Finding | None:
    ph = sample.ph
    if ph is None or VALID_PH[0] <= ph <= VALID_PH[1]:
        return None
    if not POSSIBLE_PH[0] <= ph <= POSSIBLE_PH[1]:
        meant = f" Did you mean {say_number(ph / 10)}?" if 0 <= ph / 10 <= 14 else ""
        return PH_IMPOSSIBLE.finding(f"No water has pH {say_number(ph)}.{meant}", "ph")
    low = ph < VALID_PH[0]
    side, end = ("extremely acid", VALID_PH[0]) if low else ("extremely alkaline", VALID_PH[1])
    ec = usable_ec25(sample)
    lacking = ec is not None and not floor_allows(end, ec, _ph_reading_c(sample))
    doubt = ""
    if lacking:
        meant = f" Did you mean {say_number(ph * 10)}?" if VALID_PH[0] <= ph * 10 < VALID_PH[1] else ""
        doubt = f" An EC of {_say_ec(sample)} does not go with it.{meant}"
    return PH_EXTREME.finding(
        f"pH {say_number(ph)} is {side}, and EC cannot confirm a pH outside "
        f"{say_number(VALID_PH[0])} to {say_number(VALID_PH[1])}.{doubt}",
        "ph",
        weight=Weight.CAUTION if lacking or not 0 <= ph <= 14 else Weight.NOTE,
    )


def _temperature(sample: SampleFacts) -> Finding | None:
    water = sample.water_temperature_c
    if water is None or USUAL_TEMPERATURE_C[0] <= water <= USUAL_TEMPERATURE_C[1]:
        return None
    if not POSSIBLE_TEMPERATURE_C[0] <= water <= POSSIBLE_TEMPERATURE_C[1]:
        return TEMPERATURE_IMPOSSIBLE.finding(
            f"There is no liquid water at {say_number(water)} °C.", "water_temperature_c"
        )
    celsius = (water - 32.0) / 1.8
    likely = 0.0 <= celsius <= USUAL_TEMPERATURE_C[1]
    meant = f" {say_number(water)} °F would be {say_number(round(celsius, 1))} °C." if likely else ""
    with_ec = " The raw EC cannot be brought to 25 °C with it." if _raw_ec(sample) else ""
    return TEMPERATURE_UNUSUAL.finding(
        f"A water temperature of {say_number(water)} °C is unusual.{meant}{with_ec}", "water_temperature_c"
    )


def _raw_ec(sample: SampleFacts) -> bool:
    return sample.ec_value is not None and sample.ec_reference is EcReference.RAW


def _compensation(sample: SampleFacts) -> Finding | None:
    """Whether the EC refers to 25 °C is asked once, and only where the answer changes it."""
    reference, water = sample.ec_reference, sample.water_temperature_c
    if reference is EcReference.AT_25 or reference is EcReference.AT_20 or usable_ec25(sample) is None:
        return None
    reading = f"EC {_say_ec(sample)}"
    if reference is EcReference.UNKNOWN:
        if water is not None and abs(water - 25.0) <= _COMPENSATION_IDLE_C:
            return None
        return EC_REFERENCE_UNKNOWN.finding(
            f"{reading}: is that at 25 °C, at 20 °C, or as the water was? It is taken as it stands.",
            "ec_reference",
        )
    if water is None or USUAL_TEMPERATURE_C[0] <= water < COMPENSATION_RANGE_C[0]:
        given = "no water temperature is given" if water is None else f"the water had {say_number(water)} °C"
        return EC_NEEDS_TEMPERATURE.finding(
            f"{reading} is a raw reading and {given}: it cannot be brought to 25 °C.", "water_temperature_c"
        )
    return None


def _alkalinity(sample: SampleFacts) -> Finding | None:
    stated = sample.alkalinity_meq_l
    if stated is None:
        return None
    if not isfinite(stated):
        return ALKALINITY_ABOVE_EC.finding("The alkalinity is not a number.", "alkalinity_meq_l")
    highest = highest_alkalinity(sample)
    if highest is None or stated <= highest:
        return None
    meant = stated / CALCIUM_CARBONATE_PER_EQUIVALENT
    fits = (
        f" If {say_number(stated)} is in mg/L as CaCO3, it is {say_number(meant, 3)} meq/L, and that fits."
        if meant <= highest
        else ""
    )
    return ALKALINITY_ABOVE_EC.finding(
        f"An alkalinity of {say_number(stated)} meq/L is more than EC {_say_ec(sample)} allows, "
        f"{say_number(highest, 2)} meq/L.{fits}",
        "alkalinity_meq_l",
    )


def _ec(sample: SampleFacts) -> Finding | None:
    """The one finding about the EC itself, gravest cause first."""
    if sample.ec_value is None:
        return None
    ec = usable_ec25(sample)
    if ec is None:
        return _finding_with_unit(
            sample, EC_IMPOSSIBLE, f"No water has an EC of {_say_ec(sample)}; the range is 0.055 to "
            f"{say_number(HIGHEST_EC)} µS/cm.",
        )  # fmt: skip
    against_ph = _ec_against_ph(sample, ec)
    if against_ph is not None and against_ph.code == EC_BELOW_FLOOR.code:
        return against_ph
    if ec < AIR_WATER_EC:
        return _finding_with_unit(
            sample, EC_BELOW_AIR_WATER, f"EC {_say_ec(sample)} is less than pure water in air has, 1 µS/cm."
        )
    return against_ph or _ec_against_kind(sample, ec)


def _ec_against_ph(sample: SampleFacts, ec: float) -> Finding | None:
    ph = usable_ph(sample)
    if ph is None or not VALID_PH[0] <= ph <= VALID_PH[1]:
        return None
    water = _ph_reading_c(sample)
    if not floor_allows(ph, ec, water):
        return _below_floor(sample, ph, needed_ec(ph, ec, water))
    usual = usual_lowest_ec(ph, water)
    if ec < usual:
        # So near to the floor a meter is a little wrong, not the unit.
        return EC_BELOW_USUAL.finding(
            f"Water of pH {say_number(ph)} usually has an EC of at least {say_number(usual, 3)} µS/cm; "
            f"{_say_ec(sample)} is given.",
            "ec_value",
        )
    return None


def _below_floor(sample: SampleFacts, ph: float, least: float) -> Finding:
    given = (
        f"pH {say_number(ph)} asks for an EC of at least {say_number(least, 3)} µS/cm, but {_say_ec(sample)}"
    )
    if sample.water_kind is WaterKind.SOIL_EXTRACT:
        sentence = f"{given} is given: pH and EC were hardly read in the same liquid."
        return _finding_with_unit(sample, EC_BELOW_FLOOR, sentence, Weight.CAUTION)
    sentence = f"{given} is given: these two readings cannot belong to one water."
    return _finding_with_unit(sample, EC_BELOW_FLOOR, sentence, Weight.BAR)


def _ec_against_kind(sample: SampleFacts, ec: float) -> Finding | None:
    if sample.water_kind is WaterKind.UNKNOWN:
        if ec <= STRONGEST_ORDINARY_EC:
            return None
        return _finding_with_unit(
            sample,
            EC_VERY_HIGH,
            f"EC {_say_ec(sample)} is more than the saltiest sea has, "
            f"{say_number(STRONGEST_ORDINARY_EC)} µS/cm.",
        )
    window = WINDOWS.get(sample.water_kind)
    if window is None or window[0] <= ec <= window[1]:
        return None
    return _finding_with_unit(
        sample,
        EC_UNUSUAL,
        f"EC {_say_ec(sample)} is unusual for water declared as {sample.water_kind.value}: "
        f"{say_number(window[0])} to {say_number(window[1])} µS/cm is common.",
    )


def _finding_with_unit(
    sample: SampleFacts, rule: Rule, sentence: str, weight: Weight | None = None
) -> Finding:
    return rule.finding(f"{sentence}{_likely_unit(sample)}", "ec_value", weight=weight)


def _likely_unit(sample: SampleFacts) -> str:
    """The unit with which the typed value passes every test, as a proposal, or nothing."""
    typed = sample.ec_value
    if typed is None or not isfinite(typed):
        return ""
    stated = US_CM_PER_UNIT[sample.ec_unit]
    for unit in _LIKELY_UNITS:
        if US_CM_PER_UNIT[unit] != stated and _passes(replace(sample, ec_unit=unit)):
            value = say_number(to_us_cm(typed, unit), 6)
            return f" If {say_number(typed)} is in {unit.value}, it is {value} µS/cm, and that fits."
    return ""


def _passes(sample: SampleFacts) -> bool:
    ec, ph = usable_ec25(sample), usable_ph(sample)
    if ec is None:
        return False
    low, high = WINDOWS.get(sample.water_kind, (AIR_WATER_EC, STRONGEST_ORDINARY_EC))
    return low <= ec <= high and (ph is None or floor_allows(ph, ec, _ph_reading_c(sample)))


def _ph_reading_c(sample: SampleFacts) -> float:
    """Temperature the floor takes for the pH reading; the unknown and the hot count as mild."""
    water = sample.water_temperature_c
    if water is None or not water > UNKNOWN_TEMPERATURE_C:
        return UNKNOWN_TEMPERATURE_C
    return min(water, _WARMEST_PH_READING_C)


def _say_ec(sample: SampleFacts) -> str:
    """The reading as it was typed, and what it comes to where that differs."""
    typed = f"{say_number(sample.ec_value or 0.0)} {sample.ec_unit.value}"
    ec = usable_ec25(sample)
    if ec is None or ec == sample.ec_value:
        return typed
    return f"{typed} ({say_number(ec)} µS/cm at 25 °C)"
