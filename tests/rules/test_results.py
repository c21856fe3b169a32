"""Checks on measured values, and the figures of conductivity they rest on."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.rules import conductivity, results
from intake.rules.species import SPECIES, species


@pytest.mark.parametrize(
    ("ion", "mass", "charge"),
    [("sodium", 22.990, 1), ("potassium", 39.098, 1), ("ammonium", 18.039, 1), ("magnesium", 24.305, 2),
     ("calcium", 40.078, 2), ("lithium", 6.94, 1), ("fluoride", 18.998, -1), ("chloride", 35.45, -1),
     ("bromide", 79.904, -1), ("nitrite", 46.005, -1), ("nitrate", 62.004, -1), ("phosphate", 94.970, -3),
     ("sulfate", 96.056, -2)],
)  # fmt: skip
def test_molar_mass_and_charge(ion: str, mass: float, charge: int) -> None:
    assert SPECIES[ion].molar_mass == pytest.approx(mass, abs=0.001)
    assert SPECIES[ion].charge == charge


@given(ion=st.sampled_from(sorted(SPECIES)), mg_l=st.floats(0, 1e6))
def test_there_and_back(ion: str, mg_l: float) -> None:
    assert results.mg_from_meq(ion, results.meq_from_mg(ion, mg_l)) == pytest.approx(mg_l)


@pytest.mark.parametrize(
    ("ion", "factor"),
    [
        ("nitrate", 4.4267),
        ("nitrite", 3.2845),
        ("ammonium", 1.28785),
        ("phosphate", 3.0661),
        ("sulfate", 2.9961),
    ],
)
def test_ion_from_element(ion: str, factor: float) -> None:
    assert results.ion_from_element(ion, 1) == pytest.approx(factor, rel=2e-4)
    assert results.element_from_ion(ion, factor) == pytest.approx(1, rel=2e-4)


def test_what_has_no_element_is_refused() -> None:
    with pytest.raises(ValueError, match="chloride"):
        results.ion_from_element("chloride", 1)
    with pytest.raises(ValueError, match="unobtainium"):
        species("unobtainium")


def test_alkalinity() -> None:
    assert results.alkalinity_from_calcium_carbonate(50.04) == pytest.approx(1, rel=1e-3)
    assert pytest.approx(1.2193, rel=1e-4) == results.BICARBONATE_PER_CALCIUM_CARBONATE


@pytest.mark.parametrize(("ph", "charges"), [(4.5, 1.0), (7.2, 1.5), (10, 2.0)])
def test_charge_of_phosphate(ph: float, charges: float) -> None:
    assert results.phosphate_meq(94.970, ph) == pytest.approx(charges, abs=0.01)


def test_free_hydrogen_and_hydroxide() -> None:
    assert results.hydrogen_meq(4) == pytest.approx(0.1)
    assert results.hydroxide_meq(10) == pytest.approx(0.1, rel=0.02)
    assert results.hydrogen_meq(4, 0.01) > results.hydrogen_meq(4)


@pytest.mark.parametrize(
    ("cations", "anions", "acceptable"),
    [(2.19, 2.0, True), (2.21, 2.0, False), (3.2, 3.0, True), (3.25, 3.05, False), (5.2, 5.0, True),
     (5.3, 5.0, False), (10.4, 10.0, True), (10.9, 10.1, True), (22.5, 20.0, False), (21.9, 20.0, True),
     (900, 1000, False), (950, 1000, True), (float("nan"), 2, False), (2, float("nan"), False)],
)  # fmt: skip
def test_charge_balance(cations: float, anions: float, acceptable: bool) -> None:
    """Steps of Standard Methods 1030 E: 0.2 meq/L up to 3, 2 % up to 10, then 5 %."""
    assert results.balance_acceptable(cations, anions) is acceptable


@pytest.mark.parametrize("sums", [(0.0, 0.0), (float("inf"), 1.0), (-2.0, 1.0)])
def test_a_balance_of_nothing_is_refused(sums: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="charge balance"):
        results.charge_balance_percent(*sums)


@pytest.mark.parametrize(
    ("calculated", "measured", "acceptable"),
    [(100, 100, True), (90, 100, True), (110, 100, True), (89, 100, False), (111, 100, False),
     (100, 0, False),
     (0, 100, False), (float("nan"), 100, False)],
)  # fmt: skip
def test_ec_ratio(calculated: float, measured: float, acceptable: bool) -> None:
    assert results.ec_ratio_acceptable(calculated, measured) is acceptable


def test_mine_drainage_has_a_wider_band() -> None:
    assert results.ec_ratio_acceptable(119, 100, results.EC_RATIO_BAND_PAIRED)
    assert not results.ec_ratio_acceptable(119, 100)


@pytest.mark.parametrize(
    ("calculated", "measured", "factor"),
    [
        (2100, 2.1, 1000),
        (500, 50, 10),
        (0.42, 420, 0.001),
        (53_000, 5.3, 10_000),
        (130, 100, None),
        (100, 100, None),
    ],
)
def test_unit_slip_seen_from_the_ions(calculated: float, measured: float, factor: float | None) -> None:
    assert results.ec_unit_slip(calculated, measured) == factor


def test_bicarbonate_by_difference() -> None:
    """Chalk groundwater: the gap is its bicarbonate and carbonate, within 1 %."""
    cations = 2 * 2.74465 + 2 * 0.16458 + 0.47847 + 0.05115
    anions = 0.62059 + 0.48384 + 2 * 0.22903
    gap = results.bicarbonate_by_difference(cations, anions, 7.2)
    # The free ions listed leave out ion pairs of calcium, which carry both charges away.
    assert gap == pytest.approx(4.75698 + 2 * 0.01424, rel=0.01)
    assert results.gap_plausible(gap, cations)


def test_where_bicarbonate_cannot_be_had_by_difference() -> None:
    assert results.bicarbonate_by_difference(1, 0.5, 4.4) is None
    assert results.bicarbonate_by_difference(1, 0.5, 9.1) is None
    assert results.bicarbonate_by_difference(1, 0.5, float("nan")) is None


@pytest.mark.parametrize(
    ("gap", "cations", "plausible"),
    [(-0.1, 1, True), (-0.3, 1, False), (-0.4, 10, True), (-0.6, 10, False), (3, 10, True)],
)
def test_a_gap_below_zero(gap: float, cations: float, plausible: bool) -> None:
    assert results.gap_plausible(gap, cations) is plausible


@pytest.mark.parametrize(
    ("temperature", "seen"), [(-27.4, False), (-28, False), (-27.3, True), (float("nan"), False)]
)
def test_where_linear_compensation_ends(temperature: float, seen: bool) -> None:
    if seen:
        assert conductivity.ec25_linear(100, temperature) > 0
    else:
        with pytest.raises(ValueError, match="compensation"):
            conductivity.ec25_linear(100, temperature)


@pytest.mark.parametrize("temperature", [-0.1, 35.1, float("nan")])
def test_where_the_natural_water_table_ends(temperature: float) -> None:
    with pytest.raises(ValueError, match="table"):
        conductivity.f25(temperature)


def test_the_natural_water_table_to_its_last_degree() -> None:
    assert conductivity.f25(35) == pytest.approx(0.822)
    assert conductivity.f25(25) == pytest.approx(1.0)


@given(temperature=st.floats(0, 34.9), more=st.floats(0, 0.1))
def test_warmer_water_needs_less_correction(temperature: float, more: float) -> None:
    assert conductivity.f25(temperature + more) <= conductivity.f25(temperature) + 1e-12


def test_ec_of_nothing_and_of_what_is_not_held() -> None:
    assert conductivity.ec_from_ions({}) == 0
    assert conductivity.ec_from_ions({"chloride": -1}) == 0
    with pytest.raises(ValueError, match="iodide"):
        conductivity.ec_from_ions({"iodide": 1})
    with pytest.raises(ValueError, match="finite"):
        conductivity.ec_from_ions({"chloride": float("nan")})
    with pytest.raises(ValueError, match="nobody"):
        conductivity.ec_from_ions({"nobody": 1})


def test_pairs_carry_no_current() -> None:
    """Gypsum solution conducts a fifth less than its ions would apart."""
    paired = conductivity.ec_from_ions({"calcium": 15, "sulfate": 15})
    apart = conductivity.ec_from_ions({"calcium": 15, "chloride": 30})
    assert paired < 0.8 * apart
    assert conductivity.ec_from_ions({"magnesium": 15, "sulfate": 15}) < 0.8 * apart


@pytest.mark.parametrize(("mmol_l", "ec"), [(5, 3322)])
def test_sulfuric_acid(mmol_l: float, ec: float) -> None:
    """Computed with PHREEQC speciation: 5 mmol/L has pH 2.124 and 3322 µS/cm."""
    given_total = conductivity.ec_from_ions({"hydrogen": 2 * mmol_l, "sulfate": mmol_l})
    given_ph = conductivity.ec_from_ions({"sulfate": mmol_l}, 2.124)
    assert given_total == pytest.approx(ec, rel=0.02)
    assert given_ph == pytest.approx(ec, rel=0.02)


salts = st.dictionaries(
    st.sampled_from([name for name, held in SPECIES.items() if held.conductivity is not None]),
    st.floats(0, 2000),
    max_size=8,
)


@given(mmol_l=salts, ph=st.none() | st.floats(0, 14))
def test_ec_from_ions_is_never_negative_and_always_a_number(
    mmol_l: dict[str, float], ph: float | None
) -> None:
    assert conductivity.ec_from_ions(mmol_l, ph) >= 0


@pytest.mark.parametrize(("strength", "gamma"), [(0, 1), (0.01, 0.902), (0.1, 0.781)])
def test_davies(strength: float, gamma: float) -> None:
    """Textbook values, from memory."""
    assert conductivity.davies(strength) == pytest.approx(gamma, abs=0.002)
    assert conductivity.davies(strength, 2) == pytest.approx(gamma**4, rel=0.01)


def test_ionic_strength() -> None:
    assert conductivity.ionic_strength({"sodium": 100, "chloride": 100}) == pytest.approx(0.1)
    assert conductivity.ionic_strength({"magnesium": 10, "sulfate": 10}) == pytest.approx(0.04)


@pytest.mark.parametrize(("ph", "possible"), [(4.5, True), (4.49, False), (9.0, True), (9.01, False)])
def test_the_ph_for_bicarbonate_by_difference(ph: float, possible: bool) -> None:
    assert (results.bicarbonate_by_difference(2, 1, ph) is not None) is possible


@pytest.mark.parametrize(
    ("cations", "anions", "acceptable"),
    [(9.36, 9.0, True), (9.39, 9.0, False), (22.1, 20.0, True), (22.15, 20.0, False)],
)
def test_the_steps_of_the_balance_at_their_edge(cations: float, anions: float, acceptable: bool) -> None:
    """1.96 and 2.12 % on 9 meq/L; 4.99 and 5.1 % on 20 meq/L."""
    assert results.balance_acceptable(cations, anions) is acceptable


def test_the_wider_band_ends_too() -> None:
    assert results.ec_ratio_acceptable(125, 100, results.EC_RATIO_BAND_PAIRED)
    assert not results.ec_ratio_acceptable(126, 100, results.EC_RATIO_BAND_PAIRED)
    assert not results.ec_ratio_acceptable(79, 100, results.EC_RATIO_BAND_PAIRED)


def test_mS_m_noted_as_mS_cm_is_a_factor_of_a_hundred() -> None:
    assert results.ec_unit_slip(42_000, 420) == 100


def test_a_gap_exactly_at_its_allowance() -> None:
    assert results.gap_plausible(-0.2, 1)
    assert results.gap_plausible(-0.5, 10)


def test_activity_makes_more_free_ions_than_activity_alone() -> None:
    """At 0.1 mol/L the Davies coefficient is 0.781 (textbook): 1 mmol/L of activity is 1.28 meq/L."""
    assert results.hydrogen_meq(3.0, 0.1) == pytest.approx(1 / 0.781, rel=2e-3)
    assert results.hydroxide_meq(11.0, 0.1) == pytest.approx(1.0116 / 0.781, rel=3e-3)


def test_free_acid_and_base_join_bicarbonate_by_difference() -> None:
    """pH 4.5 leaves 0.0316 meq/L of hydrogen; at pH 9 0.0099 meq/L of hydroxide is no bicarbonate."""
    assert results.bicarbonate_by_difference(1.0, 1.0, 4.5) == pytest.approx(0.0316, rel=1e-2)
    assert results.bicarbonate_by_difference(1.0, 0.5, 9.0) == pytest.approx(0.4901, rel=1e-3)


def test_two_per_cent_is_inside_and_not_less() -> None:
    """10.2 against 9.8 meq/L is 2 %, 10.5 against 9.5 is 5 %: exactly at the limit is inside."""
    assert results.balance_acceptable(10.2, 9.8)
    assert results.balance_acceptable(52.5, 47.5)
    assert not results.balance_acceptable(10.3, 9.8)


def test_sodium_hydroxide_by_its_ph() -> None:
    """10 mmol/L: molar conductivity 238 S·cm²/mol (handbooks, from memory); pH 11.95 with gamma 0.90."""
    assert conductivity.ec_from_ions({"sodium": 10}, 11.95) == pytest.approx(2380, rel=5e-3)
    assert conductivity.ec_from_ions({"sodium": 10, "hydroxide": 10}) == pytest.approx(2380, rel=5e-3)


def test_hydrogen_sulfate_that_is_listed_stays_beside_what_forms() -> None:
    """2 mmol/L of it carry 2 x 52 = 104 µS/cm at the most, with sodium 2 x 50 more."""
    salt = {"sodium": 5.0, "sulfate": 5.0, "hydrogen": 5.0}
    more = conductivity.ec_from_ions(salt | {"sodium": 7.0, "hydrogen sulfate": 2.0})
    assert 150 < more - conductivity.ec_from_ions(salt) < 204
