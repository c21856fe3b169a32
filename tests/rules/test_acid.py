"""How far does the acid bring the pH down? One line a case, in words."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.rules import acid, dosing
from intake.rules.conductivity import davies
from intake.rules.examples import ANION, BOOK, CATION, SAMPLE, SEEN
from intake.rules.facts import AcidKind, BottleFacts, WaterKind
from intake.rules.judgement import Advice
from intake.rules.reached import Water, dose_of, need_ml, water_of
from intake.shipped import shipped_book

K = WaterKind
ADDED = replace(SEEN, ph_high=3, acid_added_ml=0.01, acid_added_mol_l=1.0, acid_added_at=SEEN.checked_at)
SEAWATER = {"ph": 8.1, "ec_value": 53_000, "water_kind": K.SEA}
NO_ACID = {"acidified": False, "acid_kind": AcidKind.NONE, "acid_ml": None, "acid_mol_l": None}


def cation(sample: dict[str, Any], bottle: dict[str, Any]) -> tuple[Any, BottleFacts]:
    return replace(SAMPLE, **sample), replace(CATION, **bottle)


def codes(sample: dict[str, Any], bottle: dict[str, Any], **book: Any) -> list[str]:
    found = acid.findings(*cation(sample, bottle), replace(BOOK, **book))
    return [finding.code.removeprefix("acid.") for finding in found]


def advice(sample: dict[str, Any], bottle: dict[str, Any], **book: Any) -> dict[str, Advice]:
    said = acid.advise(*cation(sample, bottle), replace(BOOK, **book))
    return {one.code.removeprefix("acid."): one for one in said}


FINDINGS: list[tuple[str, dict[str, Any], dict[str, Any], dict[str, Any], list[str]]] = [
    ("the usual dose, ordinary stream", {}, {}, {}, []),
    ("the usual dose, alkalinity that it can take", {"alkalinity_meq_l": 4}, {}, {}, []),
    ("the usual dose, hard water", {"alkalinity_meq_l": 8, "ec_value": 800}, {}, {}, ["dose_short"]),
    ("a full mL for hard water", {"alkalinity_meq_l": 8, "ec_value": 800}, {"acid_ml": 1.0}, {}, []),
    ("the usual dose, used up", {"alkalinity_meq_l": 14, "ec_value": 1400}, {}, {}, ["dose_used_up", "gas"]),
    ("enough acid, but gas", {"alkalinity_meq_l": 12, "ec_value": 1400}, {"acid_ml": 1.5}, {}, ["gas"]),
    ("EC 900, alkalinity unknown", {"ec_value": 900}, {}, {}, ["alkalinity_unknown"]),
    ("EC 700, alkalinity unknown, not used up", {"ec_value": 640}, {}, {}, ["alkalinity_unknown"]),
    ("EC 550, alkalinity unknown: not asked yet", {"ec_value": 550}, {}, {}, []),
    ("EC 900, but acid enough for the worst", {"ec_value": 900}, {"acid_ml": 1.2}, {}, []),
    ("EC unknown: only the dose itself is judged", {"ec_value": None}, {}, {}, []),
    ("too small a dose even for pure water", {}, {"acid_ml": 0.1}, {}, ["dose_short"]),
    ("ten times the dose and more", {}, {"acid_ml": 7}, {}, ["dose_strong"]),
    ("a lab that wants pH 2: never reached by 0.5 mL", {}, {}, {"acid_ph_target": 2.0}, ["dose_short"]),
    ("a lab that wants pH 2 and 1 mL", {}, {"acid_ml": 1.0}, {"acid_ph_target": 2.0}, []),
    ("acid too weak for the pH wanted", {}, {"acid_mol_l": 0.01}, {"acid_dose_mol_l": 0.001}, ["dose_short"]),
    ("acid water needs no more", {"ph": 3.4, "ec_value": 1531, "water_kind": K.MINE_DRAINAGE}, {}, {}, []),
    ("seawater: alkalinity known, sulfate counts", SEAWATER, {}, {}, []),
    ("seawater, a lab that wants pH 2", SEAWATER, {"acid_ml": 0.75}, {"acid_ph_target": 2.0}, ["dose_short"]),
    ("brackish water counts as salt water", {"ec_value": 4000, "water_kind": K.BRACKISH}, {}, {}, []),
    ("hydrochloric acid counts alike", {}, {"acid_kind": AcidKind.HYDROCHLORIC, "acid_ml": 0.1}, {},
     ["dose_short"]),
    ("sulfuric acid is not reckoned with", {}, {"acid_kind": AcidKind.SULFURIC, "acid_ml": 0.1}, {}, []),
    ("no acid, nothing to judge", {}, NO_ACID, {}, []),
    ("dose not stated", {}, {"acid_ml": None}, {}, []),
    ("strength not stated", {}, {"acid_mol_l": None}, {}, []),
    ("volume not stated", {}, {"volume_ml": None}, {}, []),
    ("more acid than sample", {}, {"acid_ml": 60}, {}, []),
    ("nothing of acid", {}, {"acid_ml": 0}, {}, []),
    ("the strip outweighs the sum", {"alkalinity_meq_l": 8, "ec_value": 800},
     {"seen": replace(SEEN, ph_low=2, ph_high=2)}, {}, []),
    ("acid given since: the sum counts again", {"alkalinity_meq_l": 8, "ec_value": 800},
     {"seen": ADDED}, {}, ["dose_short"]),
    ("acid given since, strength unknown", {"alkalinity_meq_l": 8, "ec_value": 800},
     {"seen": replace(ADDED, acid_added_mol_l=None)}, {}, []),
    ("alkalinity typed as mg/L is not believed", {"alkalinity_meq_l": 180}, {}, {}, []),
    ("alkalinity not a number is not believed", {"alkalinity_meq_l": float("nan")}, {}, {}, []),
]  # fmt: skip


@pytest.mark.parametrize(
    ("sample", "bottle", "book", "expected"),
    [case[1:] for case in FINDINGS],
    ids=[case[0] for case in FINDINGS],
)
def test_finding(
    sample: dict[str, Any], bottle: dict[str, Any], book: dict[str, Any], expected: list[str]
) -> None:
    assert codes(sample, bottle, **book) == expected


def test_every_rule_is_raised_by_its_example() -> None:
    for rule in acid.RULES:
        example = rule.example
        raised = {
            found.code
            for bottle in example.bottles
            for found in acid.findings(example.sample, bottle, example.book)
        }
        assert rule.code in raised


@pytest.mark.parametrize(
    ("alkalinity", "half", "one", "one_and_a_half", "two", "for_ph_2"),
    [
        (0, 2.04, 1.76, 1.59, 1.48, 0.56),
        (1, 2.09, 1.78, 1.61, 1.49, 0.61),
        (2, 2.14, 1.80, 1.62, 1.50, 0.66),
        (5, 2.34, 1.88, 1.67, 1.54, 0.82),
        (8, 2.74, 1.98, 1.73, 1.57, 0.97),
        (10, None, 2.06, 1.77, 1.60, 1.07),
        (20, None, None, 2.07, 1.78, 1.59),
        (50, None, None, None, None, 3.14),
    ],
)
def test_the_dose_table(
    alkalinity: float, half: float, one: float, one_and_a_half: float, two: float, for_ph_2: float
) -> None:
    """50 mL and 1 mol/L nitric acid, computed with PHREEQC; ``None``: used up, pH above 4."""
    for ml, expected in ((0.5, half), (1.0, one), (1.5, one_and_a_half), (2.0, two)):
        found = dosing.ph_after_acid(50, ml, alkalinity)
        assert found is None if expected is None else found == pytest.approx(expected, abs=0.07)
    assert dosing.acid_ml_for_ph(50, alkalinity) == pytest.approx(for_ph_2, rel=0.06)


def test_the_usual_dose_never_reaches_ph_2() -> None:
    """In pure water 2.04; it reaches 2.5 up to 6.3 and 3 up to 8.8 meq/L; 1 mL holds to 8.3."""
    assert dosing.ph_after_acid(50, 0.5, 0, ionic_strength_mol_l=0.01) == pytest.approx(2.04, abs=0.01)
    assert dosing.alkalinity_limit_meq_l(50, 0.5) < 0
    assert dosing.alkalinity_limit_meq_l(50, 0.5, target_ph=2.5) == pytest.approx(6.3, abs=0.2)
    assert dosing.alkalinity_limit_meq_l(50, 0.5, target_ph=3) == pytest.approx(8.8, abs=0.2)
    assert dosing.alkalinity_limit_meq_l(50, 1.0) == pytest.approx(8.3, abs=0.3)


@pytest.mark.parametrize(("sulfate", "ml"), [(10, 0.76), (28, 1.04)])
def test_sulfate_takes_acid(sulfate: float, ml: float) -> None:
    """Computed with PHREEQC; the formula errs to the side of more acid, by up to 27 %."""
    assert 0.98 * ml <= dosing.acid_ml_for_ph(50, 0, sulfate_mmol_l=sulfate) <= 1.27 * ml


def test_the_house_is_told_what_its_dose_does() -> None:
    said = advice({}, {})["expected_ph"]
    assert said.sentence.startswith(
        "0.5 mL of 1 mol/L acid in 50 mL: expect pH 2.06 to 2.42; rulebooks for metals"
    )
    assert dict(said.figures)["dose_ml_for_ph_2"] == pytest.approx(0.95, abs=0.01)


@pytest.mark.parametrize(
    ("sample", "bottle", "part"),
    [
        ({"alkalinity_meq_l": 2}, {}, "expect pH 2.16;"),
        ({"ec_value": 900}, {}, "expect pH 2.07 or more, the alkalinity may use the dose up"),
        ({"alkalinity_meq_l": 14, "ec_value": 1400}, {}, "the alkalinity uses the dose up;"),
        ({"alkalinity_meq_l": 2}, {"acid_ml": 1}, "expect pH 1.81."),
        ({"ec_value": None}, {}, "expect pH 2.06;"),
    ],
)
def test_the_expected_ph_in_words(sample: dict[str, Any], bottle: dict[str, Any], part: str) -> None:
    assert part in advice(sample, bottle)["expected_ph"].sentence


def test_acid_too_weak_for_ph_2_is_not_advised() -> None:
    said = advice({}, {}, acid_dose_mol_l=0.01)["expected_ph"]
    assert "rulebooks" not in said.sentence and "dose_ml_for_ph_2" not in dict(said.figures)


@pytest.mark.parametrize(
    ("volume", "declared", "added", "factor"),
    [(50, 0.5, None, 1.01), (50, 1, None, 1.02), (15, 0.15, None, 1.01), (50, 0.5, 0.5, 1.02),
     (50, None, 1, 1.02)],
)  # fmt: skip
def test_volume_factor(volume: float, declared: float | None, added: float | None, factor: float) -> None:
    """Acid given in the field and at the bench both thin the sample."""
    seen = None if added is None else replace(SEEN, acid_added_ml=added, acid_added_mol_l=1.0)
    bottle = NO_ACID if declared is None else {"acid_ml": declared}
    said = advice({}, {**bottle, "volume_ml": volume, "seen": seen})["volume_factor"]
    assert dict(said.figures)["volume_factor"] == pytest.approx(factor)
    assert f"{factor:.3f}" in said.sentence


def test_a_bottle_without_acid_is_told_the_dose() -> None:
    said = advice({"alkalinity_meq_l": 5}, NO_ACID, acid_ph_target=2.0)["dose"]
    assert dict(said.figures)["dose_ml"] == pytest.approx(0.815 * 1.1, rel=0.05)
    assert "0.5 mL of 1 mol/L" in said.sentence and "goggles" in said.sentence
    weak = advice({}, NO_ACID, acid_dose_mol_l=0.001)["dose"]
    assert "too weak" in weak.sentence


def test_a_book_without_acid_gives_no_dose() -> None:
    rows = tuple(row for row in BOOK.rows if not row.conditions.acid)
    assert advice({}, NO_ACID, rows=rows) == {}
    said = advice({}, {"seen": replace(SEEN, ph_high=6), **NO_ACID}, rows=rows)
    assert said == {}


def test_the_wanted_ph() -> None:
    assert acid.wanted_ph(CATION, BOOK) == 2.5
    assert acid.wanted_ph(CATION, replace(BOOK, acid_ph_target=1.8)) == 1.8
    assert acid.wanted_ph(CATION, replace(BOOK, rows=())) is None
    strict = replace(BOOK.by_ion["ammonium"][0], number=99)
    strict = replace(strict, conditions=replace(strict.conditions, acid_ph_max=2.0))
    assert acid.wanted_ph(CATION, replace(BOOK, rows=(*BOOK.rows, strict))) == 2.0
    assert "dose_short" not in codes({"alkalinity_meq_l": 4}, {}, rows=())


@pytest.mark.parametrize(
    ("strip", "sample", "bottle", "ml"),
    [
        (2.4, {}, {}, None),
        (2.5, {}, {}, 0.0241),
        (3.0, {}, {}, 0.145),
        (3.0, {}, {"acid_ml": None}, 0.143),
        (6.5, {"alkalinity_meq_l": 12, "ec_value": 1400}, {}, 0.319),
        (6.5, {"alkalinity_meq_l": 5}, NO_ACID, 0.475),
        (6.5, {"ec_value": None}, NO_ACID, 0.20),
    ],
)
def test_acid_to_add_at_reception(
    strip: float, sample: dict[str, Any], bottle: dict[str, Any], ml: float | None
) -> None:
    """The strip shows too little acid: so much more for the book's pH 2.5, at most."""
    said = advice(sample, {**bottle, "seen": replace(SEEN, ph_low=strip, ph_high=strip)}).get("add")
    if ml is None:
        assert said is None
    else:
        assert said is not None and dict(said.figures)["add_ml"] == pytest.approx(ml, rel=0.03)
        assert "stand 16 h" in said.sentence and "goggles" in said.sentence


@pytest.mark.parametrize(("code", "hours"), [("epa-200-7", 16), ("house", 16), ("us-wastewater", 24)])
def test_each_book_lets_a_bottle_stand_its_own_time(code: str, hours: float) -> None:
    """EPA Method 200.7 Rev 4.4 (1994) 8.1 to 8.3: 16 h; 40 CFR 136.3 Table II footnote 19: 24 h."""
    seen = replace(SEEN, ph_low=3, ph_high=3)
    [said] = [
        one for one in acid.advise(*cation({}, {"seen": seen}), shipped_book(code)) if one.code == "acid.add"
    ]
    assert dict(said.figures)["wait_h"] == hours
    assert f"stand {hours} h" in said.sentence


def test_acid_to_add_by_another_limit() -> None:
    seen = replace(SEEN, ph_high=2.4)
    assert "add" not in advice({}, {"seen": seen})
    assert "add" in advice({}, {"seen": seen}, acid_ph_target=2.0)
    assert "add" not in advice({}, {"seen": seen}, acid_ph_target=2.0, acid_dose_mol_l=0.001)


@pytest.mark.parametrize(("ml", "nitrate"), [(0.5, 613.9), (0.05, 61.9), (0.01, 12.4)])
def test_nitrate_in_a_bottle_for_anions(ml: float, nitrate: float) -> None:
    bottle = replace(ANION, acidified=True, acid_kind=AcidKind.NITRIC, acid_ml=ml, acid_mol_l=1)
    (said,) = acid.advise(SAMPLE, bottle, BOOK)
    assert dict(said.figures)["nitrate_added_mg_l"] == pytest.approx(nitrate, abs=0.05)


def test_bottles_for_anions_are_left_alone_otherwise() -> None:
    assert acid.assess(SAMPLE, ANION, BOOK) == ((), ())
    salt = replace(ANION, acidified=True, acid_kind=AcidKind.HYDROCHLORIC, acid_ml=1, acid_mol_l=1)
    assert acid.assess(SAMPLE, salt, BOOK) == ((), ())


def test_gas_as_worked() -> None:
    """27 meq/L in 50 mL: 1.35 mmol of carbon dioxide, up to 33 mL."""
    assert dosing.gas_ml(50, 27) == pytest.approx(33, abs=0.5)
    assert dosing.gas_ml(50, -1) == 0


@pytest.mark.parametrize(
    ("volume", "ml", "mol_l", "word"),
    [(0, 1, 1, "sample"), (float("nan"), 1, 1, "sample"), (50, -1, 1, "acid volume"),
     (50, float("inf"), 1, "acid"),
     (50, 1, 0, "strength"), (50, 1, float("nan"), "strength")],
)  # fmt: skip
def test_volumes_that_no_bottle_has(volume: float, ml: float, mol_l: float, word: str) -> None:
    with pytest.raises(ValueError, match=word):
        dosing.ph_after_acid(volume, ml, 0, acid_mol_l=mol_l)


def test_nothing_left_when_nearly_all_is_bound() -> None:
    assert dosing.ph_after_acid(50, 1e-13, 0, sulfate_mmol_l=1e9) is None


def test_the_alkalinity_to_fear() -> None:
    assert dosing.alkalinity_from_ec(500, 4.5) == 0
    assert dosing.alkalinity_from_ec(1000, 7) == pytest.approx(1000 / 70)
    assert dosing.ionic_strength_from_ec(None) == 0.02
    assert dosing.ionic_strength_from_ec(500) == pytest.approx(0.018)
    assert dosing.ionic_strength_from_ec(500_000) == 0.5


doses = st.floats(0.01, 20)
alkalinities = st.floats(-20, 200)


@given(ml=doses, more=st.floats(0, 10), alkalinity=alkalinities, sulfate=st.floats(0, 100))
def test_more_acid_never_raises_the_ph(ml: float, more: float, alkalinity: float, sulfate: float) -> None:
    less = dosing.ph_after_acid(50, ml, alkalinity, sulfate_mmol_l=sulfate)
    then = dosing.ph_after_acid(50, ml + more, alkalinity, sulfate_mmol_l=sulfate)
    if less is not None and alkalinity >= 0:
        assert then is not None and then <= less + 1e-9


@given(alkalinity=st.floats(0, 100), sulfate=st.floats(0, 50), target=st.floats(1, 3))
def test_the_dose_for_a_ph_reaches_it(alkalinity: float, sulfate: float, target: float) -> None:
    ml = dosing.acid_ml_for_ph(50, alkalinity, target_ph=target, sulfate_mmol_l=sulfate)
    assert ml is not None
    reached = dosing.ph_after_acid(50, ml, alkalinity, sulfate_mmol_l=sulfate)
    assert reached is not None and reached <= target + 1e-6


typed = st.none() | st.floats()


@given(
    sample=st.fixed_dictionaries({"ph": typed, "ec_value": typed, "alkalinity_meq_l": typed,
                                  "water_kind": st.sampled_from(K)}),
    bottle=st.fixed_dictionaries({"volume_ml": typed, "acid_ml": typed, "acid_mol_l": typed,
                                  "acidified": st.none() | st.booleans(),
                                  "acid_kind": st.none() | st.sampled_from(AcidKind)}),
    strip=typed, added=typed,
)  # fmt: skip
def test_no_bottle_makes_it_stumble(
    sample: dict[str, Any], bottle: dict[str, Any], strip: float | None, added: float | None
) -> None:
    seen = replace(SEEN, ph_high=strip, acid_added_ml=added, acid_added_mol_l=added)
    for template in (ANION, CATION):
        found, said = acid.assess(replace(SAMPLE, **sample), replace(template, seen=seen, **bottle), BOOK)
        assert all(one.bottle == template.key for one in (*found, *said))


def test_the_water_is_worked_out_once_for_several_bottles() -> None:
    assert acid.assess(SAMPLE, CATION, BOOK, water_of(SAMPLE)) == acid.assess(SAMPLE, CATION, BOOK)


def test_the_whole_dose() -> None:
    both = replace(CATION, seen=replace(SEEN, acid_added_ml=0.5, acid_added_mol_l=2.0))
    dose = dose_of(both)
    assert dose is not None and (dose.ml, dose.mol_l) == (1.0, 1.5)


def test_what_is_left_of_the_acid() -> None:
    """0.5 mmol on 50 mL with 4 meq/L: 0.3 mmol in 50.5 mL."""
    assert dosing.acid_left(50, 0.5, 1, 4) == pytest.approx(0.3 / 50.5)
    assert dosing.ph_after_acid(50, 0.5, 10 - 1e-9) is not None
    assert dosing.ph_after_acid(50, 0.5, 10) is None


def test_sulfate_binds_acid_by_its_constant() -> None:
    """With as much sulfate as its constant, acid is shared half and half where it is scarce."""
    constant = 10**-1.988 / 10 ** (-0.509 * 4 * (0.02**0.5 / (1 + 0.02**0.5) - 0.3 * 0.02))
    gamma = 10 ** (-0.509 * (0.02**0.5 / (1 + 0.02**0.5) - 0.3 * 0.02))
    found = dosing.ph_after_acid(50, 0.0005, 0, sulfate_mmol_l=constant * 1000)
    assert found is not None
    assert 10**-found / gamma == pytest.approx(1e-5 / 2, rel=1e-3)


def test_below_ph_4_5_there_is_no_alkalinity() -> None:
    assert dosing.alkalinity_from_ec(500, 4.51) > 0
    assert dosing.alkalinity_from_ec(500, 4.49) == 0
    assert dosing.alkalinity_from_ec(500, None) > 0


def test_a_dose_is_never_negative() -> None:
    assert dosing.acid_ml_for_ph(50, -50) == 0


def test_the_findings_in_words() -> None:
    (short,) = acid.findings(replace(SAMPLE, ec_value=800, alkalinity_meq_l=8), CATION, BOOK)
    assert short.sentence == (
        "0.5 mL of 1 mol/L acid in 50 mL gives pH 2.77; wanted is less than 2.5. pH 2.5 takes up to "
        "0.64 mL of 1 mol/L in all."
    )
    (unknown,) = acid.findings(replace(SAMPLE, ec_value=640), CATION, BOOK)
    assert unknown.sentence == (
        "0.5 mL of 1 mol/L acid in 50 mL gives pH 2.06 without alkalinity; the most this EC allows, "
        "8.8 meq/L, leaves pH 3.00."
    )
    used_up, gas = acid.findings(replace(SAMPLE, ec_value=1400, alkalinity_meq_l=14), CATION, BOOK)
    assert used_up.sentence.startswith(
        "0.5 mL of 1 mol/L acid in 50 mL is used up by an alkalinity of 14 meq/L."
    )
    assert gas.sentence == (
        "With an alkalinity of 14 meq/L acid can free up to 17 mL of carbon dioxide in this bottle."
    )


@pytest.mark.parametrize(("alkalinity", "warned"), [(10.0, False), (10.1, True)])
def test_gas_is_warned_of_above_ten(alkalinity: float, warned: bool) -> None:
    found = codes({"alkalinity_meq_l": alkalinity, "ec_value": 2000}, {"acid_ml": 2})
    assert ("gas" in found) is warned


@pytest.mark.parametrize(("ec", "asked"), [(600, False), (601, True)])
def test_alkalinity_is_asked_for_above_600(ec: float, asked: bool) -> None:
    assert ("alkalinity_unknown" in codes({"ec_value": ec}, {})) is asked


WATERS = [
    ("stated alkalinity", {"alkalinity_meq_l": 3}, (3, True, 0)),
    ("acid water", {"ph": 4.4}, (0, True, 0)),
    ("seawater", SEAWATER, (2.5, True, 29.0)),
    ("seawater nobody measured", {"water_kind": K.SEA, "ec_value": None}, (2.5, True, 29.05)),
    ("brackish", {"water_kind": K.BRACKISH}, (2.5, True, 0)),
    ("brine holds no sulfate that we know of", {"water_kind": K.BRINE}, (2.5, True, 0)),
    ("a salt extract", {"water_kind": K.SOIL_EXTRACT, "ec_value": 100_000}, (2.5, True, 0)),
    ("a water extract", {"water_kind": K.SOIL_EXTRACT, "ec_value": 70}, (70 / 82, False, 0)),
    ("a stream, the most its EC allows", {"ec_value": 1000}, (1000 / 70, False, 0)),
    ("nothing known", {"ec_value": None, "ph": None}, (None, False, 0)),
]


@pytest.mark.parametrize(
    ("sample", "expected"), [case[1:] for case in WATERS], ids=[str(case[0]) for case in WATERS]
)
def test_the_water_that_takes_the_acid(sample: dict[str, Any], expected: tuple[Any, ...]) -> None:
    """Alkalinity in meq/L, whether it is known, sulfate in mmol/L."""
    water = water_of(replace(SAMPLE, **sample))
    assert water.alkalinity_meq_l == (None if expected[0] is None else pytest.approx(expected[0]))
    assert water.known is expected[1]
    assert water.sulfate_mmol_l == pytest.approx(expected[2], rel=0.01)


@pytest.mark.parametrize(
    ("bottle", "ml"),
    [
        ({"acid_ml": 50}, 50),
        ({"acid_ml": 50.1}, None),
        ({"acid_mol_l": float("inf")}, None),
        ({"acid_mol_l": -1}, None),
        ({"acidified": False}, None),
        ({"acidified": None}, 0.5),
        ({"acid_kind": None}, None),
    ],
)
def test_what_counts_as_a_dose(bottle: dict[str, Any], ml: float | None) -> None:
    dose = dose_of(replace(CATION, **bottle))
    assert (None if dose is None else dose.ml) == ml


def test_a_book_that_wants_no_ph_is_advised_for_ph_2_and_judged_by_2_5() -> None:
    rows = tuple(
        replace(row, conditions=replace(row.conditions, acid_ph_max=None)) for row in BOOK.by_ion["sodium"]
    )
    bottle = {"ions": frozenset({"sodium"})}
    said = advice({"alkalinity_meq_l": 5}, {**NO_ACID, **bottle}, rows=rows)["dose"]
    assert dict(said.figures)["target_ph"] == 2.0
    (short,) = acid.findings(
        replace(SAMPLE, ec_value=800, alkalinity_meq_l=8), replace(CATION, **bottle), replace(BOOK, rows=rows)
    )
    assert "wanted is less than 2.5." in short.sentence


@pytest.mark.parametrize("volume", [0.0, -1.0, float("nan")])
def test_no_sum_is_made_of_a_volume_that_no_bottle_has(volume: float) -> None:
    for sum_of in (
        lambda: dosing.acid_ml_for_ph(volume, 0.0),
        lambda: dosing.alkalinity_limit_meq_l(volume, 0.5),
        lambda: dosing.volume_factor(volume, 0.5),
        lambda: dosing.nitrate_added_mg_l(volume, 0.5),
    ):
        with pytest.raises(ValueError, match="sample volume"):
            sum_of()


def test_half_as_strong_an_acid_does_half() -> None:
    """By hand: 1 mL of 0.5 mol/L in 50 mL; h at pH 2 is 10^-2 / 0.869 = 0.0115 mol/L."""
    free = 0.01 / davies(dosing.USUAL_IONIC_STRENGTH)
    limit = (0.5 - free * 51) / 50 * 1000
    assert dosing.alkalinity_limit_meq_l(50, 1, acid_mol_l=0.5) == pytest.approx(limit)
    assert dosing.nitrate_added_mg_l(50, 1, 0.5) == pytest.approx(0.5 / 51 * 62_004, rel=1e-4)


def test_acid_that_is_stated_without_its_dose_is_not_advised_again() -> None:
    assert "dose" not in advice({}, {"acid_ml": None})
    assert "dose" not in advice({}, {"acidified": None, "acid_ml": None, "acid_mol_l": None})
    assert "dose" not in advice({}, {"acid_kind": None, "acid_ml": None, "acid_mol_l": None})
    assert "dose" in advice({}, NO_ACID)


def test_one_ion_that_wants_acid_is_enough_for_the_advice() -> None:
    assert "dose" in advice({}, {**NO_ACID, "ions": frozenset({"sodium", "lithium"})})


def test_what_is_missing_is_reckoned_for_the_whole_bottle() -> None:
    """A strip of 4.6 after 0.5 mL of 0.5 mol/L in 50 mL of 8 meq/L: 3 meq/L of alkalinity are left.

    By hand for pH 2.5 in 50.5 mL, 10 % in reserve: the dose that 3 meq/L take.
    """
    sample = {"alkalinity_meq_l": 8, "ec_value": 800}
    bottle = {"acid_mol_l": 0.5, "seen": replace(SEEN, ph_low=4.6, ph_high=4.6)}
    added = dict(advice(sample, bottle)["add"].figures)["add_ml"]
    strength = dosing.ionic_strength_from_ec(800)
    need = dosing.acid_ml_for_ph(50.5, 3.0, target_ph=2.5, ionic_strength_mol_l=strength)
    assert need is not None
    assert added == pytest.approx(need * dosing.DOSE_RESERVE, rel=0.05)


def test_an_alkalinity_that_no_water_has_gets_no_dose():
    assert need_ml(Water(2e305, True, 0.0, 0.01, None), 7e7, 2.5, 1.0) is None
