"""What the other shipped rulebooks say of the same bottles, case by case."""

from dataclasses import replace

import pytest

from intake.rules.facts import AcidKind, Container, Cooling, Precision
from intake.rules.judgement import Weight
from intake.shipped import shipped_book
from tests.rules.cases import NITRIC, NO_ACID, after, judged, raised, rows

SULFURIC = {**NITRIC, "acid_kind": AcidKind.SULFURIC}


def ions(*names: str) -> frozenset[str]:
    return frozenset(names)


CASES = [
    # The cation bottle always is the well-kept one, of which these books know little.
    (
        "300.0 asks no cold for chloride",
        "epa-300-0",
        {"anion": {"ions": ions("chloride"), "chilled": False}},
        {},
    ),
    ("300.0 at 4 °C takes a box at 5 °C", "epa-300-0", {"arrival": {"temperature_c": 5}}, {}),
    (
        "300.0 at 4 °C does not take 7 °C",
        "epa-300-0",
        {"arrival": {"temperature_c": 7}},
        {"cold.transport": ("nitrate", "phosphate")},
    ),
    ("300.0 asks for no full bottle", "epa-300-0", {"anion": {"to_brim": False}}, {}),
    (
        "300.0 wants a filter for the column",
        "epa-300-0",
        {"anion": {"filter_pore_um": 0, "filtered_at": None}},
        {"filter.none": ("chloride", "nitrate", "phosphate")},
    ),
    ("300.0 takes frozen water as cold", "epa-300-0", {"anion": {"frozen": True, "chilled": None}}, {}),
    (
        "300.1 wants an additive for chlorite",
        "epa-300-1",
        {"anion": {"ions": ions("chlorite")}},
        {"additive.missing": ("chlorite",)},
    ),
    (
        "wastewater wants phosphate filtered at once",
        "us-wastewater",
        {"anion": {"filtered_at": after(minutes=16)}},
        {"filter.late": ("phosphate",)},
    ),
    ("fifteen minutes are at once", "us-wastewater", {"anion": {"filtered_at": after(minutes=15)}}, {}),
    (
        "wastewater asks when it was filtered",
        "us-wastewater",
        {"anion": {"filtered_at": None}},
        {"filter.time_unstated": ("phosphate",)},
    ),
    (
        "unfiltered matters for phosphate alone",
        "us-wastewater",
        {"anion": {"filter_pore_um": 0, "filtered_at": None}},
        {"filter.none": ("phosphate",)},
    ),
    (
        "unfiltered chloride is no matter",
        "us-wastewater",
        {"anion": {"ions": ions("chloride"), "filter_pore_um": 0, "filtered_at": None}},
        {},
    ),
    (
        "a filter of unknown time on a dated sample",
        "us-wastewater",
        {"sample": {"precision": Precision.DATE}, "cation": {"filtered_at": None}},
        {"collection.date_only": ("chloride", "nitrate", "phosphate")},
    ),
    (
        "fluoride in a fluoropolymer",
        "us-wastewater",
        {"anion": {"ions": ions("fluoride"), "container": Container.FLUOROPOLYMER}},
        {"container.unfit": ("fluoride",)},
    ),
    (
        "drinking water, gel packs the same day",
        "us-drinking-water",
        {"arrival": {"temperature_c": 12, "received_at": after(hours=4), "cooling": Cooling.GEL_PACKS}},
        {"cold.transport": ("nitrate",), "ion.no_limit": ("chloride", "phosphate")},
    ),
    (
        "the network's cold begins at 1 °C",
        "uk-ecn",
        {"arrival": {"temperature_c": 0.5}},
        {"cold.transport": ("chloride", "nitrate", "phosphate")},
    ),
    (
        "the network wants liquid water",
        "uk-ecn",
        {"anion": {"frozen": True, "chilled": None}},
        {"frozen.not_allowed": ("chloride", "nitrate", "phosphate")},
    ),
    (
        "the network filters within 60 h",
        "uk-ecn",
        {"anion": {"filtered_at": after(hours=61)}},
        {"filter.late": ("chloride", "nitrate", "phosphate")},
    ),
    ("any filter will do for the network", "uk-ecn", {"anion": {"filter_pore_um": 5}}, {}),
    (
        "no filter will not",
        "uk-ecn",
        {"anion": {"filter_pore_um": 0, "filtered_at": None}},
        {"filter.none": ("chloride", "nitrate", "phosphate")},
    ),
    ("an empty book knows no limit", "own-copy", {}, {"ion.no_limit": ("chloride", "nitrate", "phosphate")}),
]


@pytest.mark.parametrize(("words", "code", "changes", "expected"), CASES, ids=[case[0] for case in CASES])
def test_bottles_for_anions(words: str, code: str, changes: dict, expected: dict):
    judgement = judged(shipped_book(code), **changes)
    own = replace(judgement, findings=tuple(f for f in judgement.findings if f.bottle in ("", "A")))
    found = raised(own)
    assert {
        c: tuple(i for i in found[c] if i not in ("sodium", "ammonium", "calcium")) for c in found
    } == expected


CATIONS = [
    (
        "metals without acid under 200.7",
        "epa-200-7",
        {**NO_ACID, "ions": ions("calcium")},
        {"acid.missing": ("calcium",)},
    ),
    (
        "metals with acid under the network",
        "uk-ecn",
        {"ions": ions("calcium")},
        {"acid.not_wanted": ("calcium",)},
    ),
    ("metals without acid under the network", "uk-ecn", {**NO_ACID, "ions": ions("calcium")}, {}),
    ("ammonium in sulfuric acid", "us-wastewater", {**SULFURIC, "ions": ions("ammonium")}, {}),
    (
        "ammonium in nitric acid",
        "us-wastewater",
        {"ions": ions("ammonium")},
        {"acid.other_kind": ("ammonium",)},
    ),
    (
        "sulfuric acid before calcium",
        "us-wastewater",
        {**SULFURIC, "ions": ions("ammonium", "calcium")},
        {"acid.other_kind": ("calcium",)},
    ),
    (
        "sulfuric acid where no acid is known",
        "own-copy",
        {**SULFURIC, "ions": ions("calcium")},
        {"acid.other_kind": ("calcium",), "ion.no_limit": ("calcium",)},
    ),
    (
        "acid in the laboratory after 13 days",
        "epa-200-7",
        {"ions": ions("calcium"), "acid_at": after(days=13)},
        {},
    ),
    (
        "acid in the laboratory after 15 days",
        "epa-200-7",
        {"ions": ions("calcium"), "acid_at": after(days=15)},
        {"acid.late": ("calcium",)},
    ),
]


@pytest.mark.parametrize(("words", "code", "changes", "expected"), CATIONS, ids=[case[0] for case in CATIONS])
def test_bottles_for_cations(words: str, code: str, changes: dict, expected: dict):
    judgement = judged(
        shipped_book(code), cation={"acid_mol_l": 2, "filtered_at": after(minutes=5), **changes}
    )
    own = replace(judgement, findings=tuple(f for f in judgement.findings if f.bottle == "C"))
    assert raised(own) == expected, words


@pytest.mark.parametrize(
    ("words", "chlorinated", "row"),
    [
        ("chlorinated tap water waits 14 days", True, 3),
        ("raw water 48 h", False, 2),
        ("unknown 48 h", None, 2),
    ],
)
def test_nitrate_in_drinking_water(words: str, chlorinated: bool | None, row: int):
    judgement = judged(shipped_book("us-drinking-water"), sample={"chlorinated": chlorinated})
    assert rows(judgement, "A")["nitrate"] == row, words


def test_a_strip_too_weak_for_the_method_names_its_limit():
    judgement = judged(
        shipped_book("epa-200-7"), cation={"ions": ions("sodium")}, seen={"ph_low": 2, "ph_high": 2}
    )
    [finding] = [f for f in judgement.findings if f.code == "acid.ph_not_reached"]
    assert finding.sentence == (
        "The strip shows up to pH 2; rulebook EPA Method 200.7, version 1, asks for less than 2 for sodium."
    )


def test_a_warm_bottle_whose_ions_do_not_care_gets_a_note():
    [finding] = judged(cation={"chilled": False}).findings
    assert finding.weight is Weight.NOTE
    assert "though no ion of this one needs it" in finding.sentence


def test_a_warm_bottle_whose_ions_do_care_gets_a_caution():
    [finding] = judged(anion={"chilled": False}).findings
    assert finding.weight is Weight.CAUTION


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"arrival": {"temperature_c": 9}}, "9 °C on the temperature blank on arrival"),
        ({"arrival": {"temperature_c": 9, "measured_on": None}}, "9 °C in the box on arrival"),
        ({"seen": {"temperature_c": 9}}, "9 °C in the bottle on arrival"),
        ({"seen": {"cold": False}}, "The bottle felt warm on arrival"),
    ],
)
def test_the_sentence_says_what_was_measured(changes: dict, words: str):
    sentences = [f.sentence for f in judged(**changes).findings if f.code == "cold.transport"]
    assert sentences[0].startswith(words)


def test_a_warm_touch_the_same_day_says_so():
    judgement = judged(arrival={"received_at": after(hours=4), "temperature_c": 12}, seen={"cold": False})
    assert any(f.sentence.startswith("Still warm on arrival") for f in judgement.findings)


def test_a_row_for_a_full_bottle_names_its_ions():
    house = shipped_book("house")
    row = replace(house.rows[1], conditions=replace(house.rows[1].conditions, to_brim=True))
    book = replace(house, rows=(row,), to_brim=False)
    chloride = {"ions": ions("chloride"), "to_brim": False}
    assert raised(judged(book, anion=chloride, cation={"ions": ions("sodium")}))["brim.headspace"] == (
        "chloride",
    )
    assert rows(judged(book, anion={"ions": ions("chloride")}), "A") == {"chloride": 2}


def test_an_anion_whose_row_wants_acid_is_not_barred_by_it():
    house = shipped_book("house")
    row = replace(house.rows[1], conditions=replace(house.rows[1].conditions, acid=(AcidKind.NITRIC,)))
    found = raised(judged(replace(house, rows=(row,)), anion={**NITRIC, "ions": ions("chloride")}))
    assert "acid.in_anion_bottle" not in found
