"""What can be wrong with the field readings: the catalogue entries of :mod:`intake.rules.readings`."""

from __future__ import annotations

from intake.rules.examples import example
from intake.rules.facts import EcReference, WaterKind
from intake.rules.findings import COMMON_PRACTICE, Consequence, Rule, at_the_bench, before_sending
from intake.rules.judgement import Weight

_READ_AGAIN = before_sending(
    "Read the value and its unit again from the field sheet or the meter and correct it."
)
_MEASURE_AGAIN = at_the_bench(
    "Measure pH and EC in a portion poured off and write both down beside the field values."
)
_FLOOR_SOURCE = (
    "ionic conductivities of H⁺ and OH⁻, CRC Handbook; tolerances proved with PHREEQC speciation; "
    "below 70 µS/cm US Geological Survey, Quality of Water memorandum 81.08"
)

PH_IMPOSSIBLE = Rule(
    "readings.ph_impossible",
    (Weight.BAR,),
    "A pH that no water has",
    "No water is more acid than pH -4 or more alkaline than pH 15; usually the decimal point is lost.",
    (before_sending("Read the pH again from the field sheet and correct it."), _MEASURE_AGAIN),
    "range of the pH scale, from memory",
    example(sample={"ph": 74}),
    Consequence.WORD,
)

PH_EXTREME = Rule(
    "readings.ph_extreme",
    (Weight.CAUTION, Weight.NOTE),
    "A pH at the end of the scale",
    "Below pH 1 and above pH 13 meters fail and EC cannot confirm the pH. Such a water burns.",
    (
        before_sending(
            "Check the value. If it is true, tell the laboratory before sending, mark the bottle as "
            "corrosive and follow your local rules for handling and shipping it."
        ),
        at_the_bench("Wear goggles and gloves; dilute by adding the sample to water."),
    ),
    f"limits of validity of the pH-EC floor; {COMMON_PRACTICE}",
    example(sample={"ph": 0.4, "ec_value": 160_000, "water_kind": WaterKind.BRINE}),
    Consequence.NONE,
)

EC_IMPOSSIBLE = Rule(
    "readings.ec_impossible",
    (Weight.BAR,),
    "An EC that no water has",
    "Pure water has 0.055 µS/cm and the strongest acids reach about 850 000 µS/cm.",
    (_READ_AGAIN, _MEASURE_AGAIN),
    "pure water: meter manuals and handbooks; strong acids: from memory",
    example(sample={"ec_value": -3}),
    Consequence.WORD,
)

EC_BELOW_FLOOR = Rule(
    "readings.ec_below_floor",
    (Weight.BAR, Weight.CAUTION),
    "pH and EC that cannot belong to one water",
    "The hydrogen or hydroxide ion of this pH alone conducts more than the EC given, whatever else is in the "
    "water and with both meters a little wrong. In soil extracts it is a caution only, since the pH may have "
    "been read in the slurry.",
    (
        before_sending(
            "Read pH, EC and the EC unit again from the field sheet and correct the one that is wrong."
        ),
        _MEASURE_AGAIN,
    ),
    _FLOOR_SOURCE,
    example(sample={"ph": 2.3, "ec_value": 6.28, "water_kind": WaterKind.MINE_DRAINAGE}),
    Consequence.WORD,
)

EC_BELOW_USUAL = Rule(
    "readings.ec_low_for_ph",
    (Weight.CAUTION,),
    "An EC that is barely enough for the pH",
    "Both values can be true only if a meter is a little wrong: even with the slowest counter-ion this pH "
    "asks for more.",
    (before_sending("Check the calibration of the pH meter and read both values again."), _MEASURE_AGAIN),
    _FLOOR_SOURCE,
    example(sample={"ph": 3.5, "ec_value": 90}),
    Consequence.NONE,
)

EC_BELOW_AIR_WATER = Rule(
    "readings.ec_below_air_water",
    (Weight.CAUTION,),
    "An EC lower than that of pure water in air",
    "Pure water takes up carbon dioxide and reaches 1 µS/cm; a smaller value is almost surely another unit.",
    (_READ_AGAIN, _MEASURE_AGAIN),
    "air-saturated pure water 1.1 µS/cm, CRC Handbook",
    example(sample={"ec_value": 0.31, "water_kind": WaterKind.UNKNOWN}),
    Consequence.NONE,
)

EC_VERY_HIGH = Rule(
    "readings.ec_very_high",
    (Weight.CAUTION,),
    "An EC above that of the saltiest sea",
    "Only brines, salt extracts and strong acids or alkalis conduct that much; the kind of water decides how "
    "far the laboratory dilutes.",
    (
        before_sending(
            "Check the unit. If the value is true, state the kind of water: brine or soil extract."
        ),
        at_the_bench("Dilute by hand before the first injection and measure the EC of the dilution."),
    ),
    "seawater of salinity 40: 59 734 µS/cm, TEOS-10",
    example(sample={"ec_value": 85_000, "water_kind": WaterKind.UNKNOWN}),
    Consequence.NONE,
)

EC_UNUSUAL = Rule(
    "readings.ec_unusual_for_kind",
    (Weight.CAUTION,),
    "An EC that is unusual for the declared kind of water",
    "Nothing forbids the value; often the unit or the kind of water was mistaken.",
    (
        before_sending("Check value, unit and kind of water; leave them as they are if they are true."),
        _MEASURE_AGAIN,
    ),
    COMMON_PRACTICE,
    example(sample={"ec_value": 2.1, "water_kind": WaterKind.RIVER}),
    Consequence.NONE,
)

EC_REFERENCE_UNKNOWN = Rule(
    "readings.ec_reference_unknown",
    (Weight.CAUTION,),
    "It is not said which temperature the EC refers to",
    "Most meters show EC at 25 °C. A raw reading of water at 10 °C is 29 % lower; compensating twice is as "
    "wrong.",
    (
        before_sending(
            "Look it up in the meter's manual or settings and answer: at 25 °C, at 20 °C, or raw."
        ),
        at_the_bench("Measure the EC at 25 °C in a portion poured off."),
    ),
    "linear compensation, Standard Methods 2510 B, read second-hand",
    example(sample={"ec_reference": EcReference.UNKNOWN}),
    Consequence.NONE,
)

EC_NEEDS_TEMPERATURE = Rule(
    "readings.ec_needs_temperature",
    (Weight.CAUTION,),
    "A raw EC without a usable water temperature",
    "A raw reading can be brought to 25 °C only with the water temperature, between 0 and 40 °C.",
    (
        before_sending("Add the water temperature at which the EC was read, or give the EC at 25 °C."),
        at_the_bench("Measure the EC at 25 °C in a portion poured off."),
    ),
    "linear compensation, Standard Methods 2510 B, read second-hand",
    example(sample={"ec_reference": EcReference.RAW, "water_temperature_c": None}),
    Consequence.NONE,
)

TEMPERATURE_IMPOSSIBLE = Rule(
    "readings.temperature_impossible",
    (Weight.BAR,),
    "A temperature at which there is no liquid water",
    "Outside -60 to 374 °C no water is liquid, however salty or hot.",
    (before_sending("Read the water temperature again and correct it."),),
    "range of liquid water and brines, from memory",
    example(sample={"water_temperature_c": 900}),
    Consequence.WORD,
)

TEMPERATURE_UNUSUAL = Rule(
    "readings.temperature_unusual",
    (Weight.CAUTION,),
    "A water temperature that samplers rarely meet",
    "Below -2 °C seawater is frozen; above 40 °C only hot springs and process waters go, and degrees "
    "Fahrenheit read like that.",
    (
        before_sending(
            "Check value and unit: degrees Celsius, of the water. Leave it as it is if it is true."
        ),
    ),
    COMMON_PRACTICE,
    example(sample={"water_temperature_c": 52}),
    Consequence.NONE,
)

ALKALINITY_ABOVE_EC = Rule(
    "readings.alkalinity_above_ec",
    (Weight.CAUTION,),
    "An alkalinity that the EC does not allow",
    "Alkalinity conducts. More than the EC allows is usually mg/L as CaCO3 typed as meq/L; the EC is "
    "reckoned with instead.",
    (
        before_sending("Check value and unit: mg/L as CaCO3 divided by 50.04 is meq/L."),
        at_the_bench("Check the pH of acidified bottles on a portion poured off; the dose is uncertain."),
    ),
    "most alkalinity that EC allows, computed with PHREEQC speciation",
    example(sample={"alkalinity_meq_l": 180}),
    Consequence.NONE,
)

RULES: tuple[Rule, ...] = (
    PH_IMPOSSIBLE, PH_EXTREME, EC_IMPOSSIBLE, EC_BELOW_FLOOR, EC_BELOW_USUAL, EC_BELOW_AIR_WATER,
    EC_VERY_HIGH, EC_UNUSUAL, EC_REFERENCE_UNKNOWN, EC_NEEDS_TEMPERATURE, TEMPERATURE_IMPOSSIBLE,
    TEMPERATURE_UNUSUAL, ALKALINITY_ABOVE_EC,
)  # fmt: skip

#: What says that a value is out of its range or its window, or does not go with another: a person has
#: to correct it or confirm it. The two left out miss a word about the EC, and there is no value to doubt.
OUT_OF_RANGE: frozenset[str] = frozenset(rule.code for rule in RULES) - {
    EC_REFERENCE_UNKNOWN.code,
    EC_NEEDS_TEMPERATURE.code,
}
