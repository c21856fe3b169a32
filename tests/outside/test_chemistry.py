"""The chemistry against numbers from outside: published tables, other programs, hand sums.

``data/chemistry.json`` holds one case a line with its own source and tolerance. The table
below says which of our functions answers which question.
"""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from intake.rules import bounds, conductivity, dilution, dosing, floor, results
from intake.rules.facts import EcUnit

CASES = json.loads((Path(__file__).parent / "data" / "chemistry.json").read_text(encoding="utf-8"))

WORDS = {
    "H": "hydrogen", "Na": "sodium", "K": "potassium", "NH4": "ammonium", "Li": "lithium",
    "Mg": "magnesium", "Ca": "calcium", "Sr": "strontium", "F": "fluoride", "Cl": "chloride",
    "Br": "bromide", "NO2": "nitrite", "NO3": "nitrate", "HCO3": "bicarbonate", "CO3": "carbonate",
    "SO4": "sulfate", "PO4": "phosphate", "H2PO4": "dihydrogen phosphate", "HPO4": "hydrogen phosphate",
}  # fmt: skip

FACTORS = {
    "NO3/N": results.FROM_ELEMENT["nitrate"],
    "NO2/N": results.FROM_ELEMENT["nitrite"],
    "NH4/N": results.FROM_ELEMENT["ammonium"],
    "PO4/P": results.FROM_ELEMENT["phosphate"],
    "SO4/S": results.FROM_ELEMENT["sulfate"],
    "HCO3 per CaCO3": results.BICARBONATE_PER_CALCIUM_CARBONATE,
}


def seawater_ec(t: float) -> float:
    """The reference for seawater is TEOS-10 itself; the product needs no formula of its own."""
    gsw = pytest.importorskip("gsw", reason="gsw could not be installed")
    return float(gsw.C_from_SP(35, t, 0)) * 1000


def ph_after(
    v_ml: float, acid: float, alk_meq_l: float, so4_mmol_l: float = 0, i: float = 0.02
) -> float | None:
    return dosing.ph_after_acid(v_ml, acid, alk_meq_l, sulfate_mmol_l=so4_mmol_l, ionic_strength_mol_l=i)


ANSWERS: dict[str, Callable[..., Any]] = {
    "to_us_cm": lambda value, unit: conductivity.to_us_cm(value, EcUnit(unit)),
    "ec25_linear": lambda ec_t, t, alpha: conductivity.ec25_linear(ec_t, t, alpha),
    "f25_nlf": lambda t: conductivity.f25(t),
    "ec_seawater35": seawater_ec,
    "pkw": lambda t: conductivity.pkw(t),
    "ec_floor": lambda ph, t: floor.ec_floor(ph, t),
    "floor_ok": lambda ph, ec25, t: floor.floor_allows(ph, ec25, t),
    "load_meq": bounds.load_meq_l,
    "worst_mg": lambda ion, ec25, ph: bounds.worst_mg_l(WORDS[ion], ec25, ph),
    "worst_ge": lambda ion, ec25, ph, true_meq: bounds.worst_meq_l(WORDS[ion], ec25, ph) >= true_meq,
    "dilution_step": lambda conc_mg_l, top_mg_l: dilution.dilution_step(conc_mg_l / top_mg_l),
    "dilution_factor": lambda v_ml, acid: dosing.volume_factor(v_ml, acid),
    "nitrate_added_mg_l": lambda v_ml, acid: dosing.nitrate_added_mg_l(v_ml, acid),
    "acid_ph": ph_after,
    "acid_ml": lambda v_ml, alk_meq_l: dosing.acid_ml_for_ph(v_ml, alk_meq_l),
    "alk_limit": lambda v_ml, acid: dosing.alkalinity_limit_meq_l(v_ml, acid),
    "meq": lambda ion, mg_l: results.meq_from_mg(WORDS[ion], mg_l),
    "factor": lambda name: FACTORS[name],
    "cbe": lambda cat, an: results.charge_balance_percent(cat, an),
    "cb_ok": lambda cat, an: results.balance_acceptable(cat, an),
    "ec_ions": lambda mmol, ph=None, raw=False: conductivity.ec_from_ions(
        {WORDS[ion]: amount for ion, amount in mmol.items()}, ph
    ),
}


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case['id']} {case['topic']}")
def test_case(case: dict[str, Any]) -> None:
    answer = ANSWERS[case["function"]](**case["inputs"])
    expected, tolerance = case["expected"], case["tolerance"]
    if expected is None:
        assert answer is None
    elif tolerance["kind"] == "rel":
        assert answer == pytest.approx(expected, rel=tolerance["value"], abs=0), case["source"]
    else:
        assert answer == pytest.approx(expected, rel=0, abs=tolerance["value"]), case["source"]


def test_every_case_is_there() -> None:
    """A case lost from the data would otherwise go unnoticed."""
    assert len(CASES) == 127
    assert {case["function"] for case in CASES} == set(ANSWERS)
    assert all(case["source"] and case["tolerance"]["kind"] in {"rel", "abs"} for case in CASES)
