"""The chemistry against independent libraries: molar masses, conductivity, acid, seawater."""

import warnings

import pytest

from intake.rules import conductivity, dosing
from intake.rules.dilution import MATRICES
from intake.rules.facts import WaterKind
from intake.rules.species import SPECIES, Species

FORMULAS = {
    "hydrogen": "H", "lithium": "Li", "sodium": "Na", "potassium": "K", "ammonium": "NH4",
    "magnesium": "Mg", "calcium": "Ca", "strontium": "Sr", "barium": "Ba", "manganese": "Mn",
    "iron": "Fe", "zinc": "Zn", "aluminium": "Al", "hydroxide": "OH", "fluoride": "F",
    "chloride": "Cl", "bromide": "Br", "nitrite": "NO2", "nitrate": "NO3", "bicarbonate": "HCO3",
    "carbonate": "CO3", "sulfate": "SO4", "hydrogen sulfate": "HSO4",
    "dihydrogen phosphate": "H2PO4", "hydrogen phosphate": "HPO4", "phosphate": "PO4",
    "acetate": "C2H3O2", "formate": "CHO2", "chlorite": "ClO2", "chlorate": "ClO3",
    "perchlorate": "ClO4", "bromate": "BrO3", "iodide": "I",
}  # fmt: skip


@pytest.mark.parametrize("held", SPECIES.values(), ids=lambda held: held.name)
def test_molar_mass(held: Species) -> None:
    """Two libraries with their own tables agree within 0.01 %; they hold older sulfur and chlorine."""
    molmass = pytest.importorskip("molmass", reason="molmass could not be installed")
    periodictable = pytest.importorskip("periodictable", reason="periodictable could not be installed")
    formula = FORMULAS[held.name]
    assert molmass.Formula(formula).mass == pytest.approx(held.molar_mass, rel=1e-4)
    assert periodictable.formula(formula).mass == pytest.approx(held.molar_mass, rel=1e-4)


@pytest.mark.parametrize(
    ("cation", "anion", "mmol_l", "tolerance"),
    [
        ("K+", "Cl-", 1, 0.02),
        ("K+", "Cl-", 10, 0.02),
        ("K+", "Cl-", 100, 0.03),
        ("Na+", "Cl-", 1, 0.02),
        ("Na+", "Cl-", 10, 0.02),
        ("H+", "Cl-", 1, 0.02),
        ("H+", "Cl-", 10, 0.02),
        ("Na+", "NO3-", 10, 0.03),
    ],
)
def test_ec_of_a_salt_against_pyeql(cation: str, anion: str, mmol_l: float, tolerance: float) -> None:
    """pyEQL is trusted for single 1:1 salts; against KCl standards it is itself -0.1 to -1.2 %."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        pyeql = pytest.importorskip("pyEQL", reason="pyEQL could not be installed")
        solution = pyeql.Solution({cation: f"{mmol_l} mmol/L", anion: f"{mmol_l} mmol/L"})
        reference = solution.conductivity.to("microsiemens/cm").magnitude
    names = {"K+": "potassium", "Na+": "sodium", "H+": "hydrogen", "Cl-": "chloride", "NO3-": "nitrate"}
    ours = conductivity.ec_from_ions({names[cation]: mmol_l, names[anion]: mmol_l})
    assert ours == pytest.approx(reference, rel=tolerance)


@pytest.mark.parametrize(
    ("acid_ml", "alkalinity", "sulfate", "tolerance"),
    [
        (0.25, 0, 0, 0.03),
        (0.5, 0, 0, 0.03),
        (1.0, 0, 0, 0.03),
        (2.0, 0, 0, 0.05),
        (0.5, 2, 0, 0.05),
        (0.5, 5, 0, 0.07),
        (1.0, 8, 0, 0.07),
        (2.0, 15, 0, 0.07),
        (1.0, 0, 5, 0.08),
        (1.0, 0, 10, 0.08),
    ],
)
def test_ph_after_acid_against_phreeqc(
    acid_ml: float, alkalinity: float, sulfate: float, tolerance: float
) -> None:
    """50 mL of sodium bicarbonate or sulfate solution take 1 mol/L nitric acid."""
    phreeqpython = pytest.importorskip("phreeqpython", reason="phreeqpython could not be installed")
    whole = 50 + acid_ml
    solution = phreeqpython.PhreeqPython().add_solution({})
    for salt, mmol_l in (("NaHCO3", alkalinity), ("Na2SO4", sulfate)):
        if mmol_l:
            solution.add(salt, mmol_l * 50 / whole)
    solution.add("HNO3", acid_ml / whole * 1000)
    strength = (acid_ml + 0.05 * (alkalinity + 3 * sulfate)) / whole
    ours = dosing.ph_after_acid(
        50, acid_ml, alkalinity, sulfate_mmol_l=sulfate, ionic_strength_mol_l=strength
    )
    assert ours == pytest.approx(solution.pH, abs=tolerance)


def test_the_usual_dose_uses_itself_up_on_ten_meq() -> None:
    """0.5 mmol of acid on 0.5 mmol of alkalinity: PHREEQC says pH 4.1, we say above 4."""
    assert dosing.ph_after_acid(50, 0.5, 10) is None


@pytest.mark.parametrize("salinity", [2, 5, 10, 20, 30, 35])
def test_chloride_of_diluted_seawater(salinity: float) -> None:
    """The matrix never says less chloride than TEOS-10 conductivity and Cl = S / 1.80655 say."""
    gsw = pytest.importorskip("gsw", reason="gsw could not be installed")
    ec = float(gsw.C_from_SP(salinity, 25, 0)) * 1000
    true_mg_l = salinity / 1.80655 * 1000 * 1.0233 * (1 - 0.00072 * (35 - salinity))
    ours = MATRICES[WaterKind.SEA].mg_l_per_us_cm["chloride"] * ec
    assert true_mg_l <= ours <= 1.35 * true_mg_l


def test_seawater_as_it_is_at_hand() -> None:
    """Salinity 35 at 25 °C, the EC taken when a seawater sample has none."""
    gsw = pytest.importorskip("gsw", reason="gsw could not be installed")
    assert MATRICES[WaterKind.SEA].usual_ec == pytest.approx(float(gsw.C_from_SP(35, 25, 0)) * 1000, rel=1e-4)
