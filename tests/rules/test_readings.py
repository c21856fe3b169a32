"""Can these pH, EC and temperature be true together? One line a case, in words."""

from collections.abc import Iterable
from dataclasses import replace
from itertools import product
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.rules import readings
from intake.rules.conductivity import US_CM_PER_UNIT, ec25
from intake.rules.examples import SAMPLE
from intake.rules.facts import EcReference, EcUnit, WaterKind
from intake.rules.floor import ec_floor, floor_allows, needed_ec, usual_lowest_ec
from intake.rules.judgement import Weight
from intake.rules.measured import highest_alkalinity, usable_alkalinity, usable_ec25, usable_ph
from tests.rules.waters import SOLUTIONS, WATERS

K = WaterKind


def names(cases: Iterable[tuple[Any, ...]]) -> list[str]:
    return [case[0] for case in cases]


def codes(**changes: Any) -> list[str]:
    return [
        finding.code.removeprefix("readings.") for finding in readings.findings(replace(SAMPLE, **changes))
    ]


def only(**changes: Any) -> Any:
    (finding,) = readings.findings(replace(SAMPLE, **changes))
    return finding


CASES: list[tuple[str, dict[str, Any], list[str]]] = [
    ("a well measured stream", {}, []),
    ("nothing measured", {"ph": None, "ec_value": None, "water_temperature_c": None}, []),
    ("decimal point of the pH lost", {"ph": 74}, ["ph_impossible"]),
    ("pH below any ever met", {"ph": -5}, ["ph_impossible"]),
    ("pH not a number", {"ph": float("nan")}, ["ph_impossible"]),
    ("pH of strong acid", {"ph": -0.5, "ec_value": 200_000, "water_kind": K.BRINE}, ["ph_extreme"]),
    ("pH the floor does not judge", {"ph": 0.9, "ec_value": 60_000, "water_kind": K.BRINE}, ["ph_extreme"]),
    ("pH of lye", {"ph": 13.4, "ec_value": 60_000, "water_kind": K.BRINE}, ["ph_extreme"]),
    ("negative EC", {"ec_value": -3}, ["ec_impossible"]),
    ("EC of nothing", {"ec_value": 0}, ["ec_impossible"]),
    ("EC below pure water", {"ec_value": 0.054}, ["ec_impossible"]),
    ("EC not a number", {"ec_value": float("nan")}, ["ec_impossible"]),
    ("EC without end", {"ec_value": float("inf")}, ["ec_impossible"]),
    ("EC above the strongest acid", {"ec_value": 901, "ec_unit": EcUnit.MS_CM}, ["ec_impossible"]),
    ("EC of pure water, a unit slip", {"ec_value": 0.3, "water_kind": K.UNKNOWN}, ["ec_below_air_water"]),
    ("acid water typed in the wrong unit", {"ph": 2.3, "ec_value": 6.28}, ["ec_below_floor"]),
    ("pH 7.4 typed as 2.4", {"ph": 2.4}, ["ec_below_floor"]),
    ("lime water with too little EC", {"ph": 12.0, "ec_value": 500, "water_temperature_c": 25},
     ["ec_below_floor"]),
    ("soil extract, pH from the slurry", {"ph": 3.0, "ec_value": 90, "water_kind": K.SOIL_EXTRACT},
     ["ec_below_floor"]),
    ("a pH meter a little off", {"ph": 3.5, "ec_value": 90}, ["ec_low_for_ph"]),
    ("river typed in mS/cm", {"ec_value": 2.1, "water_kind": K.RIVER}, ["ec_unusual_for_kind"]),
    ("sea with too little EC", {"ec_value": 30_000, "water_kind": K.SEA}, ["ec_unusual_for_kind"]),
    ("brine has no window", {"ec_value": 200_000, "water_kind": K.BRINE}, []),
    ("unknown water, stronger than the sea", {"ec_value": 70_000, "water_kind": K.UNKNOWN}, ["ec_very_high"]),
    ("unknown water, as strong as the sea", {"ec_value": 60_000, "water_kind": K.UNKNOWN}, []),
    ("nobody said what the EC refers to", {"ec_reference": EcReference.UNKNOWN}, ["ec_reference_unknown"]),
    ("no matter at 25 °C", {"ec_reference": EcReference.UNKNOWN, "water_temperature_c": 24.2}, []),
    ("unknown reference, no temperature", {"ec_reference": EcReference.UNKNOWN, "water_temperature_c": None},
     ["ec_reference_unknown"]),
    ("referred to 20 °C", {"ec_reference": EcReference.AT_20}, []),
    ("raw, with temperature", {"ec_reference": EcReference.RAW}, []),
    ("raw, without temperature", {"ec_reference": EcReference.RAW, "water_temperature_c": None},
     ["ec_needs_temperature"]),
    ("raw, below zero", {"ec_reference": EcReference.RAW, "water_temperature_c": -1},
     ["ec_needs_temperature"]),
    ("raw, hot: the temperature alone speaks", {"ec_reference": EcReference.RAW, "water_temperature_c": 60},
     ["temperature_unusual"]),
    ("hot spring", {"water_temperature_c": 60}, ["temperature_unusual"]),
    ("frozen brine", {"water_temperature_c": -10}, ["temperature_unusual"]),
    ("no water is that hot", {"water_temperature_c": 900}, ["temperature_impossible"]),
    ("no water is that cold", {"water_temperature_c": -80}, ["temperature_impossible"]),
    ("temperature not a number", {"water_temperature_c": float("nan")}, ["temperature_impossible"]),
    ("alkalinity typed as mg/L", {"alkalinity_meq_l": 180}, ["alkalinity_above_ec"]),
    ("alkalinity that nothing explains", {"alkalinity_meq_l": 5000}, ["alkalinity_above_ec"]),
    ("alkalinity not a number", {"alkalinity_meq_l": float("inf")}, ["alkalinity_above_ec"]),
    ("alkalinity that fits", {"alkalinity_meq_l": 3.6}, []),
    ("alkalinity without EC", {"alkalinity_meq_l": 80, "ec_value": None}, []),
]  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "expected"), [case[1:] for case in CASES], ids=[case[0] for case in CASES]
)
def test_finding(changes: dict[str, Any], expected: list[str]) -> None:
    assert codes(**changes) == expected


def test_a_bar_only_where_physics_forbids() -> None:
    bars = {rule.code for rule in readings.RULES if Weight.BAR in rule.weights}
    assert bars == {
        "readings.ph_impossible",
        "readings.ec_impossible",
        "readings.ec_below_floor",
        "readings.temperature_impossible",
    }


def test_soil_extracts_are_only_warned() -> None:
    assert only(ph=3.0, ec_value=90, water_kind=K.SOIL_EXTRACT).weight is Weight.CAUTION
    assert only(ph=3.0, ec_value=90).weight is Weight.BAR


def test_extreme_ph_is_a_note_on_the_scale_and_a_caution_off_it() -> None:
    assert only(ph=0.5, ec_value=150_000, water_kind=K.BRINE).weight is Weight.NOTE
    assert only(ph=-0.5, ec_value=250_000, water_kind=K.BRINE).weight is Weight.CAUTION


@pytest.mark.parametrize(
    ("ph", "ec", "weight", "said"),
    [
        (0.74, 420, Weight.CAUTION, "does not go with it. Did you mean 7.4?"),
        (0.05, 420, Weight.CAUTION, "does not go with it."),
        (13.6, 420, Weight.CAUTION, "does not go with it."),
        (0.74, 90_000, Weight.NOTE, "outside 1 to 13."),
        (13.6, 90_000, Weight.NOTE, "outside 1 to 13."),
        (0.74, None, Weight.NOTE, "outside 1 to 13."),
    ],
)
def test_an_extreme_ph_wants_an_ec_to_match(ph: float, ec: float | None, weight: Weight, said: str) -> None:
    """Not barred, since the floor holds from pH 1 to 13 only, but doubted."""
    finding = only(ph=ph, ec_value=ec, water_kind=K.BRINE)
    assert finding.weight is weight
    assert finding.sentence.endswith(said)


SLIPS: list[tuple[str, dict[str, Any], str]] = [
    ("mS/cm typed as µS/cm", {"ec_value": 2.1, "water_kind": K.RIVER}, "it is 2100 µS/cm, and that fits."),
    ("mine drainage in mS/cm", {"ph": 2.3, "ec_value": 6.28, "water_kind": K.MINE_DRAINAGE},
     "If 6.28 is in mS/cm, it is 6280 µS/cm, and that fits."),
    ("µS/cm typed as mS/cm", {"ec_value": 420, "ec_unit": EcUnit.MS_CM}, "it is 420 µS/cm, and that fits."),
    ("the sea in S/m", {"ec_value": 5.31, "water_kind": K.SEA}, "it is 53100 µS/cm, and that fits."),
    ("decimal point of the pH", {"ph": 74}, "Did you mean 7.4?"),
    ("degrees Fahrenheit", {"water_temperature_c": 52}, "52 °F would be 11.1 °C."),
    ("alkalinity in mg/L", {"alkalinity_meq_l": 180}, "in mg/L as CaCO3, it is 3.6 meq/L, and that fits."),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "proposal"), [slip[1:] for slip in SLIPS], ids=names(SLIPS))
def test_the_likely_slip_is_proposed(changes: dict[str, Any], proposal: str) -> None:
    assert proposal in only(**changes).sentence


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"ph": 700}, "a tenth is no pH either"),
        ({"water_temperature_c": -10}, "Fahrenheit would be colder still"),
        ({"alkalinity_meq_l": 5000}, "mg/L would be too much as well"),
        ({"ec_value": float("nan")}, "not a number in any unit"),
        ({"ec_value": -3}, "negative in any unit"),
        ({"ph": 2.4, "water_kind": K.STREAM}, "no unit explains a wrong pH"),
    ],
)
def test_nothing_is_proposed_that_does_not_fit(changes: dict[str, Any], why: str) -> None:
    sentence = only(**changes).sentence
    assert "Then" not in sentence and "would be" not in sentence and "mean" not in sentence, why


def test_the_sentence_says_both_numbers() -> None:
    sentence = only(ph=2.3, ec_value=0.5, ec_unit=EcUnit.MS_CM, water_kind=K.WASTE).sentence
    assert "pH 2.3" in sentence and "0.5 mS/cm (500 µS/cm at 25 °C)" in sentence and "1050 µS/cm" in sentence


def test_the_raw_reading_of_a_hot_spring_is_spoken_of_once() -> None:
    assert "raw EC" in only(ec_reference=EcReference.RAW, water_temperature_c=60).sentence
    assert "raw EC" not in only(water_temperature_c=60).sentence


def test_compensation_is_done_once() -> None:
    assert ec25(352, EcReference.RAW, 11.4) == pytest.approx(475.5, abs=0.1)
    assert ec25(352, EcReference.AT_25, 11.4) == 352
    assert ec25(352, EcReference.AT_20, 11.4) == pytest.approx(352 * 1.116)
    assert ec25(352, EcReference.UNKNOWN, 11.4) is None
    assert ec25(352, EcReference.RAW, 41) is None


@pytest.mark.parametrize(("name", "kind", "ph", "ec", "load"), WATERS, ids=names(WATERS))
def test_no_true_water_is_ever_barred(name: str, kind: WaterKind, ph: float, ec: float, load: float) -> None:
    """As typed in any unit, at 25 °C, at 20 °C or raw, at any temperature, and nothing else is said."""
    for unit, reference, water in product(EcUnit, EcReference, (None, 0.0, 8.0, 25.0, 35.0)):
        typed = ec / US_CM_PER_UNIT[unit]
        if reference is EcReference.AT_20:
            typed /= 1.116
        if reference is EcReference.RAW:
            typed *= 1 + 0.0191 * ((10 if water is None else water) - 25)
        sample = replace(
            SAMPLE, ph=ph, ec_value=typed, ec_unit=unit, ec_reference=reference, water_kind=kind,
            water_temperature_c=water,
        )  # fmt: skip
        found = readings.findings(sample)
        assert Weight.BAR not in {finding.weight for finding in found}
        if reference is not EcReference.RAW or water is not None:
            assert {finding.code for finding in found} <= {"readings.ec_reference_unknown"}


@pytest.mark.parametrize(("name", "ph", "ec"), SOLUTIONS, ids=names(SOLUTIONS))
def test_no_true_acid_or_base_is_barred(name: str, ph: float, ec: float) -> None:
    assert codes(ph=ph, ec_value=ec, water_kind=K.UNKNOWN, water_temperature_c=25) == []


finite = st.floats(allow_nan=False, allow_infinity=False)
anything = st.none() | st.floats()


@given(
    ph=anything, ec_value=anything, water_temperature_c=anything, alkalinity_meq_l=anything,
    ec_unit=st.sampled_from(EcUnit), ec_reference=st.sampled_from(EcReference), water_kind=st.sampled_from(K),
)  # fmt: skip
def test_no_reading_whatever_makes_it_stumble(**typed: Any) -> None:
    sample = replace(SAMPLE, **typed)
    found = readings.findings(sample)
    assert found == readings.findings(sample)
    assert len({finding.fact for finding in found}) == len(found), "one cause, one finding"
    assert all(finding.sentence.endswith((".", "?")) for finding in found)


ACIDS = st.floats(1, 7)
TOLERANCES = st.floats(0, 1)


@given(ph=ACIDS, lower=ACIDS, temperature=st.floats(0, 40))
def test_more_acid_never_asks_for_less(ph: float, lower: float, temperature: float) -> None:
    ph, lower = max(ph, lower), min(ph, lower)
    assert ec_floor(lower, temperature) >= ec_floor(ph, temperature) or ph > 6


@given(ph=st.floats(8, 13), higher=st.floats(8, 13), temperature=st.floats(0, 40))
def test_more_base_never_asks_for_less(ph: float, higher: float, temperature: float) -> None:
    ph, higher = min(ph, higher), max(ph, higher)
    assert ec_floor(higher, temperature) >= ec_floor(ph, temperature)


@given(ph=st.floats(1, 13), temperature=st.floats(0, 40), tolerance=TOLERANCES, more=TOLERANCES)
def test_the_floor_is_never_below_pure_water_and_tolerance_only_lowers_it(
    ph: float, temperature: float, tolerance: float, more: float
) -> None:
    assert ec_floor(ph, temperature, tolerance + more) <= ec_floor(ph, temperature, tolerance)
    assert ec_floor(ph, temperature) >= 0.055
    assert usual_lowest_ec(ph, temperature) >= ec_floor(ph, temperature)


@given(ph=st.floats(1, 13), ec=st.floats(0.1, 1e5), temperature=st.floats(0, 25))
def test_cold_or_unknown_water_is_refused_no_more_than_warm(ph: float, ec: float, temperature: float) -> None:
    if not floor_allows(ph, ec, 0):
        assert not floor_allows(ph, ec, temperature)
    assert needed_ec(ph, ec, 0) <= needed_ec(ph, ec, temperature)


@pytest.mark.parametrize(
    ("ph", "block", "dilute", "warn"),
    [(1.0, 20958, None, 36965), (2.0, 2096, None, 3697), (2.5, 663, None, 1169), (3.0, 210, 105, 370),
     (3.5, 66, 33, 117), (4.0, 21, 10.5, 37), (5.0, 2.1, 1.05, 3.7), (10.0, 12, 6.0, 22),
     (11.0, 120, 60, 221), (12.0, 1201, None, 2207), (12.5, 3799, None, 6978)],
)  # fmt: skip
def test_the_floor_as_tabled(ph: float, block: float, dilute: float | None, warn: float) -> None:
    """Computed independently of this code, at 25 °C; two or three digits were written down."""
    assert ec_floor(ph, 25) == pytest.approx(block, rel=0.03)
    if dilute is not None:
        assert ec_floor(ph, 25, 0.5) == pytest.approx(dilute, rel=0.02)
    assert usual_lowest_ec(ph, 25) == pytest.approx(warn, rel=0.01)


def test_dilute_water_is_allowed_a_wider_error_of_the_ph() -> None:
    assert needed_ec(3.6, 69.9, 25) == ec_floor(3.6, 25, 0.5)
    assert needed_ec(3.6, 70, 25) == ec_floor(3.6, 25, 0.2)


def test_exactly_at_the_floor_is_allowed() -> None:
    assert floor_allows(3, ec_floor(3, 25), 25)


def test_unknown_temperature_is_the_coldest() -> None:
    assert ec_floor(11) == ec_floor(11, 0)
    assert usual_lowest_ec(11) == usual_lowest_ec(11, 0)


def test_outside_its_range_the_floor_refuses_nothing() -> None:
    assert floor_allows(0.9, 1, 25)
    assert floor_allows(13.1, 1, 25)
    assert not floor_allows(1.0, 20_000, 25)
    assert not floor_allows(13.0, 10_000, 25)


@pytest.mark.parametrize(
    ("ec", "usable"), [(0.0549, False), (0.055, True), (900_000, True), (900_001, False), (None, False)]
)
def test_which_ec_is_reckoned_with(ec: float | None, usable: bool) -> None:
    assert (usable_ec25(replace(SAMPLE, ec_value=ec)) is not None) is usable


@pytest.mark.parametrize(
    ("ph", "usable"), [(-4.01, False), (-4, True), (15, True), (15.01, False), (None, False)]
)
def test_which_ph_is_reckoned_with(ph: float | None, usable: bool) -> None:
    assert (usable_ph(replace(SAMPLE, ph=ph)) is not None) is usable


@pytest.mark.parametrize(
    ("alkalinity", "usable"), [(15.7, True), (15.72, False), (float("nan"), False), (None, False)]
)
def test_which_alkalinity_is_reckoned_with(alkalinity: float | None, usable: bool) -> None:
    """At 1000 µS/cm no more than 1000 / 70 meq/L, and a tenth above."""
    sample = replace(SAMPLE, ec_value=1000, alkalinity_meq_l=alkalinity)
    assert (usable_alkalinity(sample) is not None) is usable
    exactly = highest_alkalinity(sample)
    assert usable_alkalinity(replace(sample, alkalinity_meq_l=exactly)) == exactly


USUAL = {
    K.RAIN: (2, 400), K.STREAM: (5, 3000), K.PEAT: (10, 500), K.RIVER: (10, 5000),
    K.GROUNDWATER: (20, 15_000), K.TAP: (30, 3000), K.PURE: (0.5, 200), K.WASTE: (100, 50_000),
    K.BRACKISH: (500, 48_000), K.SEA: (40_000, 60_000), K.AQUACULTURE: (50, 60_000),
    K.FIELD_DRAINAGE: (100, 30_000), K.SOIL_EXTRACT: (20, 150_000), K.NUTRIENT_SOLUTION: (300, 8000),
    K.MINE_DRAINAGE: (100, 100_000),
}  # fmt: skip


@pytest.mark.parametrize("kind", sorted(USUAL))
def test_the_usual_ec_of_a_kind_of_water(kind: WaterKind) -> None:
    low, high = USUAL[kind]
    assert codes(ec_value=low, water_kind=kind) == codes(ec_value=high, water_kind=kind) == []
    below = "ec_below_air_water" if kind is K.PURE else "ec_unusual_for_kind"
    assert codes(ec_value=low * 0.99, water_kind=kind) == [below]
    assert codes(ec_value=high * 1.01, water_kind=kind) == ["ec_unusual_for_kind"]


@pytest.mark.parametrize(
    ("celsius", "expected"),
    [(-2, []), (-2.1, ["temperature_unusual"]), (40, []), (40.1, ["temperature_unusual"]),
     (-60, ["temperature_unusual"]), (-61, ["temperature_impossible"]), (374, ["temperature_unusual"]),
     (375, ["temperature_impossible"])],
)  # fmt: skip
def test_where_a_temperature_becomes_odd(celsius: float, expected: list[str]) -> None:
    assert codes(water_temperature_c=celsius) == expected


@pytest.mark.parametrize(
    ("ph", "expected"),
    [(1.0, []), (0.99, ["ph_extreme"]), (13.0, []), (13.01, ["ph_extreme"]), (-4, ["ph_extreme"]),
     (-4.01, ["ph_impossible"]), (15, ["ph_extreme"]), (15.01, ["ph_impossible"])],
)  # fmt: skip
def test_where_a_ph_becomes_odd(ph: float, expected: list[str]) -> None:
    assert codes(ph=ph, ec_value=300_000, water_kind=K.BRINE) == expected


@pytest.mark.parametrize(("fahrenheit", "proposed"), [(41, True), (104, True), (105, False)])
def test_fahrenheit_is_proposed_where_it_gives_usual_water(fahrenheit: float, proposed: bool) -> None:
    assert ("°F would be" in only(water_temperature_c=fahrenheit).sentence) is proposed


def test_exactly_the_usual_lowest_ec_is_enough() -> None:
    assert codes(ph=3.5, ec_value=usual_lowest_ec(3.5, 11)) == []
