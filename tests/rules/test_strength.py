"""How strong is this water, and how far must it be diluted? One line a case, in words."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.rules import bounds, dilution, strength
from intake.rules.dilution import USUAL_STEPS, UnitStrength, dilution_for, dilution_step, matrix_of
from intake.rules.examples import ANION, CATION, SAMPLE
from intake.rules.facts import Line, WaterKind
from intake.rules.judgement import Advice
from intake.rules.species import SPECIES
from tests.rules.waters import WATERS

K = WaterKind
A, C = Line.ANION, Line.CATION
MAJOR_ANIONS = frozenset({"chloride", "nitrate", "sulfate"})
MAJOR_CATIONS = frozenset({"sodium", "ammonium", "potassium", "magnesium", "calcium"})


def one_of(*names: str) -> frozenset[str]:
    return frozenset(names)


def advice(
    line: Line, ions: frozenset[str], unit: UnitStrength = strength.USUAL_UNIT, **changes: Any
) -> Advice:
    bottle = replace(ANION if line is Line.ANION else CATION, ions=ions)
    (said,) = strength.advise(replace(SAMPLE, **changes), bottle, unit)
    return said


def figures(
    line: Line, ions: frozenset[str], unit: UnitStrength = strength.USUAL_UNIT, **changes: Any
) -> Any:
    return dict(advice(line, ions, unit, **changes).figures)


@pytest.mark.parametrize(
    ("ion", "worst"),
    [("chloride", 238), ("nitrate", 431), ("sulfate", 446), ("sodium", 209), ("calcium", 189),
     ("magnesium", 118), ("potassium", 272), ("ammonium", 136)],
)  # fmt: skip
def test_worst_case_at_ph_7_5_and_700_us_cm(ion: str, worst: float) -> None:
    """Worked by hand beforehand."""
    assert bounds.worst_mg_l(ion, 700, 7.5) == pytest.approx(worst, abs=0.6)


def test_free_acid_leaves_less_for_the_ions() -> None:
    """pH 3 and 500 µS/cm, worked by hand: the hydrogen ion carries a third of it."""
    assert bounds.worst_mg_l("chloride", 500, 3) == pytest.approx(111, abs=0.6)
    assert bounds.worst_mg_l("chloride", 500, None) == pytest.approx(169, abs=0.6)
    assert bounds.worst_mg_l("sodium", 500, 3) == pytest.approx(82, abs=0.6)


@pytest.mark.parametrize(
    ("ion", "ph", "factor"),
    [
        ("chloride", 2, 1.0),
        ("fluoride", 3.37, 2.0),
        ("nitrite", 3.5, 2.0),
        ("phosphate", 2.35, 2.0),
        ("ammonium", 9.05, 2.0),
        ("sulfate", 2.188, 4 / 3),
        ("sulfate", 9, 1.0),
    ],
)
def test_the_uncharged_share_is_added(ion: str, ph: float, factor: float) -> None:
    """At the pK (with 0.2 of tolerance) half of an acid is uncharged."""
    acid = 10 ** (3 - ph - 0.2)
    rest = 5000 - (350 if ion == "ammonium" else 270) * acid
    rest -= (120 if ion == "ammonium" else 170) * 10 ** (ph - 0.2 - 11)
    charged = max(rest, 100) / bounds.safe_conductivity(ion, 5000)
    assert bounds.worst_meq_l(ion, 5000, ph) / charged == pytest.approx(factor, rel=1e-3)


def test_without_ph_the_uncharged_share_is_that_of_ordinary_waters() -> None:
    assert bounds.worst_meq_l("ammonium", 500, None) == pytest.approx(
        bounds.worst_meq_l("ammonium", 500, 9), rel=0.01
    )
    assert bounds.worst_meq_l("fluoride", 500, None) == pytest.approx(
        bounds.worst_meq_l("fluoride", 500, 5), rel=0.01
    )


@pytest.mark.parametrize(
    ("ec", "conductivity"),
    [(1, 110), (100, 110), (316.23, 106.5), (1000, 103), (10_000, 85), (60_000, 75), (120_000, 70),
     (250_000, 70)],
)  # fmt: skip
def test_the_safe_conductivity_between_its_nodes(ec: float, conductivity: float) -> None:
    assert bounds.safe_conductivity("chloride", ec) == pytest.approx(conductivity, rel=1e-4)


#: Safe conductivity at 100, 1000, 10 000, 60 000 and 120 000 µS/cm, as it was computed.
SAFE = {
    "chloride": (110, 103, 85, 75, 70), "bromide": (110, 103, 85, 75, 60),
    "nitrate": (105, 100, 82, 55, 42), "nitrite": (104, 92, 70, 60, 60),
    "sulfate": (105, 70, 30, 16, 16), "fluoride": (88, 80, 70, 56, 56),
    "phosphate": (75, 53, 50, 45, 45), "bicarbonate": (82, 70, 50, 25, 25),
    "sodium": (83, 76, 59, 25, 25), "potassium": (104, 100, 88, 68, 52),
    "ammonium": (99, 95, 82, 53, 40), "magnesium": (83, 70, 30, 16, 16),
    "calcium": (87, 72, 56, 56, 56), "lithium": (73, 69, 52, 27, 27),
}  # fmt: skip


@pytest.mark.parametrize("ion", sorted(bounds.SAFE_CONDUCTIVITY))
def test_the_safe_conductivity_as_tabled(ion: str) -> None:
    nodes = (100, 1000, 10_000, 60_000, 120_000)
    assert [bounds.safe_conductivity(ion, ec) for ec in nodes] == pytest.approx(SAFE[ion])


def test_free_base_leaves_less_for_the_ions() -> None:
    """pH 12, 10 mmol/L of hydroxide less 0.2 of pH: 6.31 mmol/L, 170 and 120 µS/cm each."""
    assert bounds.worst_meq_l("chloride", 3142, 12) == pytest.approx(
        (3142 - 170 * 6.3096) / bounds.safe_conductivity("chloride", 3142), rel=1e-4
    )
    assert bounds.worst_meq_l("sodium", 3142, 12) == pytest.approx(
        (3142 - 120 * 6.3096) / bounds.safe_conductivity("sodium", 3142), rel=1e-4
    )


def test_something_is_always_left_for_the_ions() -> None:
    """Where acid or base seem to carry all, 2 % of the EC still counts."""
    for ion, safe in (("chloride", 110), ("sodium", 83)):
        assert bounds.worst_meq_l(ion, 80, 2) == pytest.approx(0.02 * 80 / safe)
        assert bounds.worst_meq_l(ion, 80, 13) == pytest.approx(0.02 * 80 / safe)


def test_ions_without_a_bound_are_refused_by_name() -> None:
    assert "acetate" not in bounds.BOUNDS
    with pytest.raises(ValueError, match="acetate"):
        bounds.worst_meq_l("acetate", 500, 7)
    with pytest.raises(ValueError, match="iodide"):
        bounds.safe_conductivity("iodide", 500)


@pytest.mark.parametrize(("name", "kind", "ph", "ec", "load"), WATERS, ids=[water[0] for water in WATERS])
def test_the_load_is_within_a_third_but_for_ion_pairs(
    name: str, kind: WaterKind, ph: float, ec: float, load: float
) -> None:
    """Sulfate, carbonate and metals pair; pairs carry no current, so the estimate is low there."""
    paired = {"gypsum groundwater", "carbonated mineral water", "soda lake", "irrigation drainage",
              "mild mine drainage", "strong mine drainage"}  # fmt: skip
    error = bounds.load_meq_l(ec, ph) / load - 1
    assert -0.54 <= error <= -0.20 if name in paired else -0.13 <= error <= 0.28


def test_the_load_without_a_ph_is_the_plain_rule() -> None:
    assert bounds.load_meq_l(50, None) == pytest.approx(0.425)
    assert bounds.load_meq_l(700, None) == 7
    assert bounds.load_meq_l(20_000, None) == pytest.approx(220)


DILUTIONS: list[tuple[Any, ...]] = [
    ("hard groundwater, major anions", A, MAJOR_ANIONS, {"ec_value": 700, "ph": 7.5}, (5, 1), (5, 1)),
    ("soft water needs none", A, MAJOR_ANIONS, {"ec_value": 60, "ph": 7}, (1, 1), (1, 1)),
    ("sewage, major cations", C, MAJOR_CATIONS, {"ec_value": 1206, "ph": 7.4}, (5, 1), (10, 1)),
    ("minor ions alone: the column still meets the rest", A, one_of("fluoride", "nitrite"),
     {"ec_value": 700, "ph": 7.5}, (5, 1), (5, 1)),
    ("ions without a bound", A, one_of("acetate"), {"ec_value": 700, "ph": 7.5}, (5, 1), (5, 1)),
    ("ammonium has no useful bound above pH 10", C, one_of("ammonium"),
     {"ec_value": 700, "ph": 10.5}, (2, 1), (5, 1)),
    ("seawater", A, one_of("chloride"), {"ec_value": 53071, "water_kind": K.SEA},
     (200, 1), (200, 1)),
    ("seawater nobody measured", A, one_of("chloride"), {"ec_value": None, "water_kind": K.SEA},
     (200, 1), (200, 1)),
    ("nitrite in seawater: chloride decides", A, one_of("nitrite"),
     {"ec_value": 53071, "water_kind": K.SEA}, (200, 1), (200, 1)),
    ("seawater above the usual: by hand first", A, one_of("chloride"),
     {"ec_value": 58_000, "water_kind": K.SEA}, (500, 10), (500, 10)),
    ("brine", C, one_of("sodium"), {"ec_value": None, "water_kind": K.BRINE},
     (2000, 10), (2000, 10)),
    ("1 mol/L extract", C, MAJOR_CATIONS, {"ec_value": 111_660, "water_kind": K.SOIL_EXTRACT},
     (1000, 10), (1000, 10)),
    ("water extract of a soil is no salt extract", A, MAJOR_ANIONS,
     {"ec_value": 146, "ph": 6.4, "water_kind": K.SOIL_EXTRACT}, (1, 1), (1, 1)),
]  # fmt: skip


@pytest.mark.parametrize(
    ("line", "ions", "changes", "suggested", "safe"),
    [case[1:] for case in DILUTIONS],
    ids=[c[0] for c in DILUTIONS],
)
def test_dilution(
    line: Line, ions: frozenset[str], changes: dict[str, Any], suggested: tuple[float, float],
    safe: tuple[float, float],
) -> None:  # fmt: skip
    """Whole factor and its part by hand: as suggested, and as the column is surely safe."""
    found = figures(line, ions, **changes)
    assert (found["suggested_dilution"], found["suggested_by_hand"]) == suggested
    assert (found["column_safe_dilution"], found["column_safe_by_hand"]) == safe


def test_a_unit_with_little_room_asks_for_a_hand() -> None:
    unit = UnitStrength(largest_automatic=10)
    said = advice(Line.ANION, MAJOR_ANIONS, unit, ec_value=9000, ph=7.4)
    assert dict(said.figures)["suggested_by_hand"] == 10
    assert "dilute by hand 1:10 first and then 1:10 on the unit" in said.sentence
    only_by_hand = advice(Line.ANION, MAJOR_ANIONS, UnitStrength(largest_automatic=1), ec_value=700, ph=7.5)
    assert "dilute by hand 1:10 first;" in only_by_hand.sentence


def test_a_unit_with_its_own_tops_and_one_without() -> None:
    wide = UnitStrength(tops_mg_l={"chloride": 1000.0, "nitrate": 1000.0, "sulfate": 1000.0})
    assert figures(Line.ANION, MAJOR_ANIONS, wide, ec_value=700)["column_safe_dilution"] == 1
    said = advice(Line.ANION, MAJOR_ANIONS, UnitStrength(tops_mg_l={}), ec_value=700)
    assert said.sentence.endswith("Suggested: no dilution.")


def test_what_cannot_be_a_unit() -> None:
    with pytest.raises(ValueError, match="rise"):
        UnitStrength(steps=(1, 5, 2))
    with pytest.raises(ValueError, match="begin"):
        UnitStrength(steps=(2, 5))
    with pytest.raises(ValueError, match="begin"):
        UnitStrength(steps=())
    with pytest.raises(ValueError, match="top"):
        UnitStrength(tops_mg_l={"chloride": 0.0})
    with pytest.raises(ValueError, match="largest"):
        UnitStrength(largest_automatic=0.5)


def test_without_ec_the_bench_is_told_to_measure() -> None:
    said = advice(Line.ANION, MAJOR_ANIONS, ec_value=None)
    assert said.code == "strength.unknown" and said.figures == ()
    assert (
        advice(Line.ANION, MAJOR_ANIONS, ec_value=None, water_kind=K.SOIL_EXTRACT).code == "strength.unknown"
    )


def test_strong_samples_run_late() -> None:
    assert "after weaker samples" in advice(Line.ANION, MAJOR_ANIONS, ec_value=20_000).sentence
    assert "after weaker samples" not in advice(Line.ANION, MAJOR_ANIONS, ec_value=700).sentence


def test_the_figures_for_the_planner() -> None:
    found = figures(Line.ANION, frozenset({"chloride", "bromide"}), ec_value=700, ph=7.5)
    assert found["load_meq_l"] == 7
    assert (found["load_low_meq_l"], found["load_high_meq_l"]) == (pytest.approx(4.9), pytest.approx(9.1))
    assert found["injected_meq_l"] == pytest.approx(7 / found["suggested_dilution"])
    assert found["worst_chloride_mg_l"] == pytest.approx(238.4, abs=0.1)
    assert found["worst_bromide_mg_l"] == pytest.approx(537, abs=1)


def test_ions_that_were_dropped_do_not_count() -> None:
    bottle = replace(ANION, ions=frozenset({"chloride", "sulfate"}), dropped=frozenset({"sulfate"}))
    (said,) = strength.advise(replace(SAMPLE, ec_value=1800, ph=7.5), bottle)
    assert "worst_sulfate_mg_l" not in dict(said.figures)
    assert "chloride" in said.sentence


def test_seawater_is_not_halved_and_keeps_its_proportions() -> None:
    found = figures(Line.CATION, MAJOR_CATIONS, ec_value=53_071, water_kind=K.SEA)
    assert found["worst_sodium_mg_l"] == pytest.approx(11_090, rel=0.01)
    assert found["worst_calcium_mg_l"] == pytest.approx(424, rel=0.01)
    assert "worst_ammonium_mg_l" not in found
    assert found["load_meq_l"] == pytest.approx(620, rel=0.03)


def test_which_kind_is_a_matrix() -> None:
    assert matrix_of(K.RIVER, 500) is None
    assert matrix_of(K.SOIL_EXTRACT, 19_999) is None
    assert matrix_of(K.SOIL_EXTRACT, 20_000) is not None


positive = st.floats(0.055, 900_000)
ph_values = st.none() | st.floats(-4, 15)
ion_names = st.sampled_from(sorted(bounds.SAFE_CONDUCTIVITY))


@given(ion=ion_names, ec=positive, ph=ph_values)
def test_a_worst_case_is_never_below_nothing(ion: str, ec: float, ph: float | None) -> None:
    assert bounds.worst_meq_l(ion, ec, ph) > 0
    assert bounds.load_meq_l(ec, ph) >= 0


@given(ion=ion_names, ec=positive, more=st.floats(1, 10), ph=st.floats(5, 9))
def test_more_ec_never_allows_less(ion: str, ec: float, more: float, ph: float) -> None:
    higher = bounds.worst_meq_l(ion, ec * more, ph)
    assert higher >= bounds.worst_meq_l(ion, ec, ph) * (1 - 1e-12)


@given(need=st.floats(0, 1e6))
def test_a_dilution_is_the_smallest_of_the_ladder(need: float) -> None:
    step = dilution_step(need)
    if step is None:
        assert need > USUAL_STEPS[-1]
    else:
        assert step in USUAL_STEPS and step >= need
        assert all(smaller < need for smaller in USUAL_STEPS if smaller < step)


@given(need=st.floats(0, 1e9), largest=st.none() | st.sampled_from(USUAL_STEPS))
def test_a_dilution_always_reaches_the_top_within_the_unit(need: float, largest: float | None) -> None:
    unit = UnitStrength(largest_automatic=largest)
    found = dilution_for(need, unit)
    assert found.total >= need * (1 - 1e-12)
    assert found.automatic in unit.automatic
    assert found.by_hand in {10.0**power for power in range(10)}


def test_a_dilution_of_no_number_is_refused() -> None:
    for need in (float("nan"), float("inf")):
        with pytest.raises(ValueError, match="finite"):
            dilution_for(need)


@given(
    ph=st.none() | st.floats(), ec_value=st.none() | st.floats(), water_kind=st.sampled_from(K),
    ions=st.frozensets(st.sampled_from([*bounds.SAFE_CONDUCTIVITY, "acetate", "a word nobody knows"])),
    line=st.sampled_from(Line),
)  # fmt: skip
def test_no_sample_makes_it_stumble(line: Line, ions: frozenset[str], **typed: Any) -> None:
    found = dict(advice(line, ions, **typed).figures)
    if found:
        assert 1 <= found["suggested_dilution"] <= found["column_safe_dilution"]
        assert min(found.values()) >= 0


SENTENCES: list[tuple[str, dict[str, Any], UnitStrength, str]] = [
    (
        "half and full worst case agree",
        {"ec_value": 700, "ph": 7.5},
        strength.USUAL_UNIT,
        "EC 700 µS/cm: about 7 meq/L of ions, give or take 30 %. Suggested: 1:5; that covers even the "
        "worst case, sulfate of 446 mg/L.",
    ),
    (
        "half and full worst case differ",
        {"ec_value": 900, "ph": 7.5},
        strength.USUAL_UNIT,
        "EC 900 µS/cm: about 9 meq/L of ions, give or take 30 %. Suggested: 1:5; 1:10 covers even the "
        "worst case, sulfate of 604 mg/L.",
    ),
    (
        "no dilution",
        {"ec_value": 66.6, "ph": 7.5},
        strength.USUAL_UNIT,
        "EC 66.6 µS/cm: about 0.57 meq/L of ions, give or take 30 %. Suggested: no dilution; that covers "
        "even the worst case, nitrate of 39.3 mg/L.",
    ),
    (
        "by hand only",
        {"ec_value": 900, "ph": 7.5},
        UnitStrength(largest_automatic=1),
        "EC 900 µS/cm: about 9 meq/L of ions, give or take 30 %. Suggested: dilute by hand 1:10 first; "
        "that covers even the worst case, sulfate of 604 mg/L.",
    ),
    (
        "a declared sea",
        {"ec_value": 53_000, "ph": 8.1, "water_kind": K.SEA},
        strength.USUAL_UNIT,
        "Declared as seawater: about 620 meq/L of ions, give or take 30 %. Suggested: 1:200, for chloride "
        "of 19875 mg/L. Run it after weaker samples, with a blank behind it.",
    ),
]


@pytest.mark.parametrize(
    ("changes", "unit", "sentence"), [case[1:] for case in SENTENCES], ids=[case[0] for case in SENTENCES]
)
def test_the_advice_in_words(changes: dict[str, Any], unit: UnitStrength, sentence: str) -> None:
    said = advice(A, MAJOR_ANIONS, unit, **changes)
    assert said.sentence == sentence
    assert ("declared" in said.source) is ("water_kind" in changes)


def test_where_a_sample_becomes_one_to_run_late() -> None:
    """100 meq/L, about 10 000 µS/cm; the factor of the load rises above that."""
    assert "weaker samples" in advice(A, MAJOR_ANIONS, ec_value=10_000, ph=7).sentence
    assert "weaker samples" not in advice(A, MAJOR_ANIONS, ec_value=9999, ph=7).sentence


@pytest.mark.parametrize(
    ("ion", "top"),
    [("chloride", 100), ("nitrate", 100), ("sulfate", 100), ("sodium", 100), ("calcium", 100),
     ("potassium", 50), ("magnesium", 50), ("ammonium", 40)],
)  # fmt: skip
def test_the_usual_tops(ion: str, top: float) -> None:
    assert strength.USUAL_UNIT.tops_mg_l[ion] == top


def test_declared_matrices_as_worked() -> None:
    """Saturated sodium chloride 5.4 mol/L; the extract exactly 1 mol/L; seawater 19 900 mg/L."""
    brine = matrix_of(K.BRINE, None)
    extract = matrix_of(K.SOIL_EXTRACT, 111_300)
    sea = matrix_of(K.SEA, None)
    assert brine and extract and sea
    assert brine[0].mg_l_per_us_cm["chloride"] * brine[1] == pytest.approx(5.4 * 35_450, rel=0.02)
    assert extract[0].mg_l_per_us_cm["potassium"] * extract[1] == pytest.approx(39_098)
    assert sea[0].mg_l_per_us_cm["chloride"] * sea[1] == pytest.approx(19_900, rel=0.001)


def test_a_ladder_rises_strictly() -> None:
    with pytest.raises(ValueError, match="rise"):
        UnitStrength(steps=(1, 2, 2))


@pytest.mark.parametrize(
    ("words", "ec", "ph", "load"),
    [
        ("up to 100 µS/cm a meq/L carries more", 99.9, 7.0, 0.849),
        ("from 100 the plain rule", 100.0, 7.0, 1.0),
        ("to 10 000", 10_000.0, 7.0, 100.0),
        ("above it carries less", 10_001.0, 7.0, 110.0),
        ("pH 6 is no free acid yet", 100.0, 6.0, 1.0),
        ("pH 6.3 neither", 200.0, 6.3, 2.0),
        ("pH 5.9 is: 0.00126 meq/L", 200.0, 5.9, 1.9959),
        ("pH 9 is no free base yet", 200.0, 9.0, 2.0),
        ("pH 9.5 is: 0.0316 meq/L", 200.0, 9.5, 1.9532),
        ("pH 12: 10 meq/L of hydroxide and the rest of 3142", 3142.0, 12.0, 16.62),
        ("acid that carries more than the EC leaves nothing", 10.0, 3.0, 1.0),
    ],
)
def test_the_load_step_by_step(words: str, ec: float, ph: float, load: float) -> None:
    """By hand: h + oh + f (EC - 424.65 h - 248 oh) / 100."""
    assert bounds.load_meq_l(ec, ph) == pytest.approx(load, rel=2e-4), words


def test_ammonium_is_bounded_up_to_ph_10() -> None:
    ions = frozenset({"ammonium", "sodium"})
    at_ten = dilution.strength_of(ions, Line.CATION, 700.0, 10.0)
    above = dilution.strength_of(ions, Line.CATION, 700.0, 10.01)
    assert at_ten is not None
    assert above is not None
    assert {ion for ion, _ in at_ten.most_mg_l} == {"ammonium", "sodium"}
    assert {ion for ion, _ in above.most_mg_l} == {"sodium"}


def test_weak_water_still_says_which_ion_counts() -> None:
    weak = dilution.strength_of(frozenset({"chloride"}), Line.ANION, 20.0, 7.0)
    assert weak is not None
    assert weak.driver == "chloride"
    assert 0 < weak.need < 1


def test_half_of_the_worst_case_is_suggested() -> None:
    """A need of 3.9 times the top: half of it goes into 1:2, the whole into 1:5."""
    strength = dilution.Strength([], "chloride", 390.0, 3.9, 1000.0, 10.0)
    assert strength.suggested().total == 2
    assert strength.column_safe().total == 5
    assert dilution.Strength([], "chloride", 400.1, 4.001, 1000.0, 10.0).suggested().total == 5


def test_the_load_of_a_matrix_is_the_larger_of_its_sums() -> None:
    """Seawater by hand, meq/L at 53 071 µS/cm: cations 605, anions 578, without bicarbonate."""
    matrix, ec = dilution.matrix_of(WaterKind.SEA, None)
    cations = anions = 0.0
    for ion, factor in matrix.mg_l_per_us_cm.items():
        charge = factor * ec / SPECIES[ion].molar_mass * SPECIES[ion].charge
        cations, anions = (cations + charge, anions) if charge > 0 else (cations, anions - charge)
    assert matrix.load_meq_l(ec) == pytest.approx(max(cations, anions))
    assert cations != pytest.approx(anions, rel=1e-3)
