"""Charge balance, EC closure and conversions against published figures, each with its source."""

import pytest

from intake.rules import results
from intake.rules.values import Stated, checks


@pytest.mark.parametrize(
    ("cations", "anions", "acceptable"),
    [
        # Standard Methods 1030 E (read second-hand in two public files): anion sum 0-3 meq/L, a
        # difference of 0.2; 3-10, 2 %; 10-800, 5 %.
        (1.2, 1.0, True),
        (1.21, 1.0, False),
        (5.2, 5.0, True),
        (5.21, 5.0, False),
        (110.0, 100.0, True),
        (111.0, 100.0, False),
    ],
)
def test_the_limits_of_standard_methods_1030_e(cations, anions, acceptable):
    assert results.balance_acceptable(cations, anions) is acceptable


#: Reference composition of seawater, S = 35, g/kg: Millero and others 2008, from memory; density
#: 1.0233 kg/L at 25 °C and EC 53.1 mS/cm at 25 °C: TEOS-10 (computed with its toolbox).
SEAWATER = {
    "sodium": 10.7815,
    "magnesium": 1.2837,
    "calcium": 0.4121,
    "potassium": 0.3991,
    "chloride": 19.3527,
    "sulfate": 2.7124,
    "bromide": 0.0673,
}
DENSITY, ALKALINITY_MEQ_KG = 1.0233, 2.3


def seawater(**changes):
    mg_l = {ion: amount * 1000 * DENSITY for ion, amount in {**SEAWATER, **changes}.items()}
    return {check.name: check.passed for check in checks(mg_l, 8.1, 53_071.0, ALKALINITY_MEQ_KG * DENSITY)}


def test_seawater_balances_and_its_ec_closes():
    assert seawater() == {"balance": True, "ec": True}


def test_a_dilution_left_out_or_applied_twice_is_seen():
    assert seawater(sodium=1.07815)["balance"] is False
    assert seawater(sodium=107.815) == {"balance": False, "ec": False}


def test_a_field_ec_in_the_wrong_unit_is_named():
    mg_l = {ion: amount * 1000 * DENSITY for ion, amount in SEAWATER.items()}
    (_, ec) = checks(mg_l, 8.1, 53.071, 2.35)
    assert ec.passed is False
    assert "1000 times as large" in ec.sentence


@pytest.mark.parametrize(
    ("stated", "mg_l"),
    [
        # 10 mg/L nitrate-nitrogen is 44.3 mg/L nitrate: the United States' drinking-water limit as the
        # World Health Organization's guideline states it (from memory).
        (Stated("nitrate", 10.0, as_element=True), 44.27),
        (Stated("nitrite", 1.0, as_element=True), 3.2845),
        (Stated("ammonium", 1.0, as_element=True), 1.28785),
        (Stated("phosphate", 1.0, as_element=True), 3.0661),
        (Stated("sulfate", 1.0, as_element=True), 2.9961),
        # IUPAC atomic weights: chloride 35.45, calcium 40.078.
        (Stated("chloride", 1.0, "mmol/L"), 35.45),
        (Stated("calcium", 1.0, "meq/L"), 20.039),
        (Stated("calcium", 40_078.0, "µg/L"), 40.078),
    ],
)
def test_units_are_converted_as_published(stated, mg_l):
    assert stated.in_sample_mg_l() == pytest.approx(mg_l, rel=2e-4)


def test_every_factor_is_applied_exactly_once():
    # By hand: 4 mg/L in the vial, 1:5, acid made the volume 1.02 times as large: 4 * 5 * 1.02 = 20.4.
    forms = {
        Stated("sodium", 4.0, dilution=5, acid_factor=1.02).in_sample_mg_l(),
        Stated("sodium", 20.0, dilution=5, dilution_applied=True, acid_factor=1.02).in_sample_mg_l(),
        Stated("sodium", 20.4, "mg/L", False, 5, True, 1.02, True).in_sample_mg_l(),
    }
    assert {round(value, 9) for value in forms} == {20.4}
