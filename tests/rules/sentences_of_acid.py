# ruff: noqa: E501
"""What findings say of acid: rows for ``test_sentences.py``."""

from intake.rules.facts import AcidKind, SeenFacts
from intake.shipped import shipped_book
from tests.rules.cases import NITRIC, NO_ACID, after

ECN = shipped_book("uk-ecn")
METALS = shipped_book("epa-200-7")


def ions(*names: str) -> frozenset[str]:
    return frozenset(names)


CASES = [
    (
        "no acid, calcium among the ions",
        {"cation": NO_ACID},
        None,
        "C",
        "acidified",
        "This bottle for cations holds no acid; calcium may precipitate. With acid rulebook House, version 1, lets sodium, ammonium and calcium wait longer.",
    ),
    (
        "no acid, nothing that precipitates",
        {"cation": {**NO_ACID, "ions": ions("sodium")}},
        None,
        "C",
        "acidified",
        "This bottle for cations holds no acid. With acid rulebook House, version 1, lets sodium wait longer.",
    ),
    (
        "acid not mentioned at all",
        {"cation": {**NO_ACID, "acidified": None, "acid_kind": None}},
        None,
        "C",
        "acidified",
        "No acid is stated for this bottle for cations; calcium may precipitate. With acid rulebook House, version 1, lets sodium, ammonium and calcium wait longer.",
    ),
    (
        "no acid where only acid counts",
        {"cation": NO_ACID},
        METALS,
        "C",
        "acidified",
        "This bottle for cations holds no acid; calcium may precipitate. Rulebook EPA Method 200.7, version 1, sets times for sodium and calcium only with acid.",
    ),
    (
        "hydrochloric acid",
        {"cation": {"acid_kind": AcidKind.HYDROCHLORIC}},
        None,
        "C",
        "acid_kind",
        "Acidified with hydrochloric acid; rulebook House, version 1, asks for nitric acid. It may cost sodium, ammonium and calcium.",
    ),
    (
        "kind of acid not stated",
        {"cation": {"acid_kind": None}},
        None,
        "C",
        "acid_kind",
        "Acidified, but with which acid is not stated; rulebook House, version 1, asks for nitric acid. It may cost sodium, ammonium and calcium.",
    ),
    (
        "acid where the book keeps without",
        {"cation": {"ions": ions("sodium", "calcium")}},
        ECN,
        "C",
        "acid_kind",
        "Acidified with nitric acid; rulebook UK Environmental Change Network, water handling, version 1, keeps sodium and calcium without acid.",
    ),
    (
        "sulfuric acid where the book names none",
        {"cation": {"acid_kind": AcidKind.SULFURIC, "ions": ions("sodium", "calcium")}},
        ECN,
        "C",
        "acid_kind",
        "Acidified with sulfuric acid; rulebook UK Environmental Change Network, water handling, version 1, keeps sodium and calcium without acid.",
    ),
    (
        "sulfuric acid where the book names none",
        {"cation": {"acid_kind": AcidKind.SULFURIC, "ions": ions("sodium", "calcium")}},
        ECN,
        "C",
        "acid_kind",
        "Acidified with sulfuric acid; rulebook UK Environmental Change Network, water handling, version 1, names no acid. It may cost calcium.",
    ),
    (
        "nitric acid for anions",
        {"anion": NITRIC},
        None,
        "A",
        "acid_kind",
        "This bottle for anions was acidified with nitric acid, which adds nitrate and destroys what is to be measured: chloride, nitrate and phosphate.",
    ),
    (
        "sulfuric acid for anions",
        {"anion": {**NITRIC, "acid_kind": AcidKind.SULFURIC}},
        None,
        "A",
        "acid_kind",
        "This bottle for anions was acidified with sulfuric acid, which adds sulfate and destroys what is to be measured: chloride, nitrate and phosphate.",
    ),
    (
        "unnamed acid for anions",
        {"anion": {"acidified": True, "acid_kind": None}},
        None,
        "A",
        "acid_kind",
        "This bottle for anions was acidified, which destroys what is to be measured: chloride, nitrate and phosphate.",
    ),
    (
        "a strip that shows acid for anions",
        {"seen": {"ph_low": 2, "ph_high": 2.5}},
        None,
        "A",
        "seen.ph_high",
        "The strip shows pH 2.5 in a bottle for anions, so acid is in it, which destroys what is to be measured: chloride, nitrate and phosphate.",
    ),
    (
        "a strip that shows none for cations",
        {"seen": {"ph_low": 5, "ph_high": 6}},
        None,
        "C",
        "seen.ph_low",
        "Acid is declared, but the strip shows pH 5 to 6.",
    ),
    (
        "a strip of one value",
        {"seen": {"ph_high": 6}},
        None,
        "C",
        "seen.ph_low",
        "Acid is declared, but the strip shows pH 6.",
    ),
    (
        "a strip above what the book wants",
        {"cation": {"seen": SeenFacts(after(hours=21), ph_low=2.0, ph_high=3)}},
        METALS,
        "C",
        "seen.ph_high",
        "The strip shows up to pH 3; rulebook EPA Method 200.7, version 1, asks for less than 2 for sodium and calcium.",
    ),
    (
        "acid without strength",
        {"cation": {"acid_mol_l": None}},
        None,
        "C",
        "acid_mol_l",
        "Acid was added, but its strength is not stated.",
    ),
    (
        "acid without volume",
        {"cation": {"acid_ml": None}},
        None,
        "C",
        "acid_ml",
        "Acid was added, but its volume is not stated.",
    ),
    (
        "acid without either",
        {"cation": {"acid_ml": None, "acid_mol_l": None}},
        None,
        "C",
        "acid_mol_l",
        "Acid was added, but its strength and volume are not stated.",
    ),
    (
        "acid at the bench after five days",
        {
            "cation": {
                **NO_ACID,
                "seen": SeenFacts(after(days=5), acid_added_ml=0.5, acid_added_at=after(days=5)),
            }
        },
        None,
        "C",
        "seen.acid_added_at",
        "The acid was added 5 days after collection, later than rulebook House, version 1, allows for ammonium.",
    ),
    (
        "acid at the bench after five days",
        {
            "cation": {
                **NO_ACID,
                "seen": SeenFacts(after(days=5), acid_added_ml=0.5, acid_added_at=after(days=5)),
            }
        },
        None,
        "C",
        "seen.acid_added_mol_l",
        "Acid was added, but its strength is not stated.",
    ),
    (
        "acid after five days",
        {"cation": {"acid_at": after(days=5)}},
        None,
        "C",
        "acid_at",
        "The acid was added 5 days after collection, later than rulebook House, version 1, allows for ammonium.",
    ),
]
