"""Measured values: each factor once, and whether they can be true together."""

import pytest

from intake.rules.conductivity import ec_from_ions
from intake.rules.values import Stated, checks
from intake.rules.words import say_number

#: An invented lowland water that balances: mg/L.
WATER = {
    "sodium": 23.0,
    "magnesium": 12.2,
    "calcium": 60.1,
    "potassium": 3.9,
    "chloride": 35.5,
    "sulfate": 48.0,
    "nitrate": 12.4,
}


@pytest.mark.parametrize(
    ("stated", "mg_l"),
    [
        (Stated("nitrate", 10), 10),
        (Stated("nitrate", 10, "µg/L"), 0.01),
        (Stated("nitrate", 1, as_element=True), 4.4267),
        (Stated("sulfate", 1, "mmol/L"), 96.056),
        (Stated("sulfate", 1, "meq/L"), 48.028),
        (Stated("sulfate", 1000, "µmol/L"), 96.056),
        (Stated("sulfate", 1000, "µeq/L"), 48.028),
        (Stated("sodium", 10, dilution=5), 50),
        (Stated("sodium", 10, dilution=5, dilution_applied=True), 10),
        (Stated("sodium", 10, acid_factor=1.01), 10.1),
        (Stated("sodium", 10, acid_factor=1.01, acid_applied=True), 10),
    ],
)
def test_a_value_comes_to_the_water_with_every_factor_once(stated, mg_l):
    assert stated.in_sample_mg_l() == pytest.approx(mg_l, rel=2e-4)


@pytest.mark.parametrize(
    ("stated", "top", "above"),
    [
        (Stated("chloride", 101), 100, True),
        (Stated("chloride", 100), 100, False),
        (Stated("chloride", 900, dilution=10, dilution_applied=True), 100, False),
        (Stated("chloride", 1001, dilution=10, dilution_applied=True), 100, True),
        (Stated("chloride", 1e9), None, False),
    ],
)
def test_the_range_is_judged_by_what_was_injected(stated, top, above):
    assert stated.above(top) is above


def test_without_the_main_ions_or_ph_nothing_is_checked():
    (check,) = checks({"sodium": 1.0}, None, 100.0, None)
    assert check.passed is None
    assert "pH" in check.sentence


def test_with_alkalinity_the_balance_and_ec_are_judged():
    balance, closure = checks(WATER, 7.6, 520.0, 2.9)
    assert balance.passed is True
    assert closure.passed is True


def test_an_anion_too_high_shows_as_bicarbonate_below_zero():
    balance, _closure = checks(WATER | {"chloride": 400.0}, 7.6, 520.0, None)
    assert balance.passed is False
    assert "below zero" in balance.sentence


def test_without_alkalinity_bicarbonate_closes_the_balance_and_ec_is_the_test():
    balance, closure = checks(WATER, 7.6, 520.0, None)
    assert balance.passed is True
    assert "by difference" in balance.sentence
    assert closure.passed is True


def test_a_field_ec_in_the_wrong_unit_is_named():
    _balance, closure = checks(WATER, 7.6, 0.52, 2.9)
    assert closure.passed is False
    assert "1000 times" in closure.sentence


def test_an_ec_that_only_differs_is_said_to_differ():
    _balance, closure = checks(WATER, 7.6, 300.0, 2.9)
    assert closure.passed is False
    assert "times as large" not in closure.sentence


def test_below_ph_4_5_the_ions_have_to_balance_by_themselves():
    balance, _closure = checks(WATER, 3.5, 520.0, None)
    assert balance.passed is False
    assert "cations" in balance.sentence


def test_water_in_which_nothing_was_found_has_no_balance():
    balance, closure = checks(dict.fromkeys(WATER, 0.0), 7.0, None, 0.0)
    assert balance.passed is None
    assert closure.passed is None


def test_phosphate_counts_by_the_ph():
    _balance, closure = checks(WATER | {"phosphate": 9.5}, 7.2, 520.0, 2.9)
    assert closure.passed is not None


@pytest.mark.parametrize(("mg_l", "ph", "without"), [(WATER, None, "pH"), ({}, 7.0, "sodium, magnesium")])
def test_each_thing_that_a_balance_needs_is_asked_for(mg_l, ph, without):
    (check,) = checks(mg_l, ph, 520.0, 2.9)
    assert f"not checked: no {without}" in check.sentence


def test_the_balance_in_words():
    """By hand: 1.0004 + 1.0039 + 2.9992 + 0.0997 against 1.0014 + 0.9994 + 0.2 + 2.9 meq/L."""
    balance, closure = checks(WATER, 7.6, 520.0, 2.9)
    assert balance.sentence == ("Charge balance 0.024 % (cations 5.1, anions 5.1 meq/L): inside the limits.")
    assert closure.sentence.endswith(", they agree.")
    outside, _ = checks(WATER, 7.6, 520.0, 4.0)
    assert outside.sentence == "Charge balance -9.7 % (cations 5.1, anions 6.2 meq/L): outside the limits."


@pytest.mark.parametrize(
    ("words", "sodium", "chloride", "ph", "percent"),
    [
        ("acid: 1 meq/L of hydrogen stands beside 1 of sodium", 22.99, 70.9, 3.0, "0"),
        ("alkaline: no hydrogen, nothing to add", 22.99, 35.45, 9.5, "0"),
    ],
)
def test_where_bicarbonate_cannot_close_the_balance_free_acid_counts(words, sodium, chloride, ph, percent):
    mg_l = {"sodium": sodium, "magnesium": 0, "calcium": 0, "chloride": chloride, "sulfate": 0}
    balance, _ = checks(mg_l, ph, None, None)
    assert balance.passed, words
    assert balance.sentence.startswith("Charge balance"), words


def test_ec_from_the_ions_takes_phosphate_as_it_is_charged_and_leaves_out_what_has_no_conductivity():
    """At pH 7.2 half of the phosphate, 1 mmol/L, carries two charges."""
    mg_l = {"sodium": 22.99, "magnesium": 0, "calcium": 0, "chloride": 35.45, "sulfate": 0}
    _, closure = checks(mg_l | {"phosphate": 94.97, "formate": 45.0}, 7.2, 200.0, 0.0)
    calculated = ec_from_ions(
        {"sodium": 1, "chloride": 1, "hydrogen phosphate": 0.5, "dihydrogen phosphate": 0.5}, 7.2
    )
    assert f"EC from the ions {say_number(calculated, 3)} µS/cm, measured 200" in closure.sentence
    assert f"ratio {calculated / 200:.2f}" in closure.sentence


def test_without_bicarbonate_the_ec_is_that_of_the_ions_alone():
    mg_l = {"sodium": 22.99, "magnesium": 0, "calcium": 0, "chloride": 70.9, "sulfate": 0}
    _, closure = checks(mg_l, 3.0, 500.0, None)
    calculated = ec_from_ions({"sodium": 1, "chloride": 2}, 3.0)
    assert f"ratio {calculated / 500:.2f}" in closure.sentence


@pytest.mark.parametrize("ec25", [None, 0.0, -1.0])
def test_an_ec_of_nothing_is_no_ec(ec25):
    _, closure = checks(WATER, 7.6, ec25, 2.9)
    assert closure.passed is None


@pytest.mark.parametrize(
    ("stated", "top", "wanted"),
    [
        ({"value": 120.0}, 100.0, 1.2),
        ({"value": 120.0, "dilution": 5.0}, 100.0, 6.0),
        ({"value": 600.0, "dilution": 5.0, "dilution_applied": True}, 100.0, 6.0),
        ({"value": 100.0}, 100.0, None),
        ({"value": 120.0}, None, None),
        ({"value": 120.0}, 0.0, None),
    ],
)
def test_a_value_above_the_highest_standard_wants_so_much_dilution(stated, top, wanted):
    found = Stated("nitrate", **stated).dilution_wanted(top)
    assert found == (None if wanted is None else pytest.approx(wanted))
