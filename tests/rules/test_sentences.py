# ruff: noqa: E501
"""What findings say, word for word: the numbers, the ions, the moments, the rulebook.

Which finding a fact raises is in ``test_keeping.py``; here is the sentence that a person reads.
"""

from dataclasses import replace

import pytest

from intake.rules.examples import BOOK, example
from intake.rules.facts import AcidKind, Container, Cooling, Injection
from intake.rules.judge import judge
from intake.shipped import shipped_book
from tests.rules import sentences_of_acid, sentences_of_cold
from tests.rules.cases import HOUSE, NO_ACID, after

ECN = shipped_book("uk-ecn")
METHOD = shipped_book("epa-300-0")
WASTE = shipped_book("us-wastewater")
ONLY_FROZEN = replace(BOOK, rows=tuple(row for row in BOOK.rows if row.number == 13))


def ions(*names: str) -> frozenset[str]:
    return frozenset(names)


CASES = [
    *sentences_of_acid.CASES,
    *sentences_of_cold.CASES,
    (
        "frozen house",
        {"anion": {"frozen": True, "chilled": None, "to_brim": False}},
        None,
        "A",
        "to_brim",
        "The bottle is not filled to the brim; rulebook House, version 1, asks for no air.",
    ),
    (
        "frozen house",
        {"anion": {"frozen": True, "chilled": None, "to_brim": False}},
        None,
        "A",
        "frozen",
        "The bottle was frozen; rulebook House, version 1, keeps nitrate and phosphate liquid.",
    ),
    (
        "seen frozen",
        {"seen": {"frozen": True, "headspace": True}},
        None,
        "A",
        "seen.headspace",
        "Reception saw air over the water; rulebook House, version 1, asks for no air.",
    ),
    (
        "seen frozen",
        {"seen": {"frozen": True, "headspace": True}},
        None,
        "A",
        "seen.frozen",
        "The bottle was frozen; rulebook House, version 1, keeps nitrate and phosphate liquid.",
    ),
    (
        "frozen full glass",
        {"anion": {"frozen": True, "chilled": None, "container": Container.GLASS}},
        None,
        "A",
        "frozen",
        "A glass bottle filled to the brim was frozen; it breaks when the water swells.",
    ),
    (
        "30 mL",
        {"anion": {"volume_ml": 30}},
        None,
        "A",
        "volume_ml",
        "30 mL; the laboratory asks for 50 mL a line. It is enough for one injection with 2 repeats.",
    ),
    (
        "15 mL, just enough",
        {"anion": {"volume_ml": 15}},
        None,
        "A",
        "volume_ml",
        "15 mL; the laboratory asks for 50 mL a line. It is enough for one injection with 2 repeats.",
    ),
    (
        "14.9 mL",
        {"anion": {"volume_ml": 14.9}},
        None,
        "A",
        "volume_ml",
        "14.9 mL; the laboratory asks for 50 mL a line, and one injection with 2 repeats takes 15 mL.",
    ),
    (
        "5 mL, one injection",
        {"anion": {"volume_ml": 5}},
        None,
        "A",
        "volume_ml",
        "5 mL; the laboratory asks for 50 mL a line, and one injection with 2 repeats takes 15 mL.",
    ),
    (
        "4.9 mL",
        {"anion": {"volume_ml": 4.9}},
        None,
        "A",
        "volume_ml",
        "4.9 mL; the laboratory asks for 50 mL a line, and one injection takes 5 mL.",
    ),
    ("minus 2 mL", {"anion": {"volume_ml": -2}}, None, "A", "volume_ml", "A volume of -2 mL cannot be."),
    (
        "filter 0.7",
        {"anion": {"filter_pore_um": 0.7}},
        None,
        "A",
        "filter_pore_um",
        "Filtered at 0.7 µm; rulebook House, version 1, asks for 0.45 µm or finer.",
    ),
    (
        "filter none",
        {"anion": {"filter_pore_um": 0, "filtered_at": None}},
        None,
        "A",
        "filter_pore_um",
        "The water was not filtered; rulebook House, version 1, asks for 0.45 µm or finer.",
    ),
    (
        "unstated",
        {"anion": {"filter_pore_um": None}},
        None,
        "A",
        "filter_pore_um",
        "Nobody stated whether the water was filtered; rulebook House, version 1, asks for 0.45 µm or finer.",
    ),
    (
        "ww coarse",
        {"anion": {"filter_pore_um": 0.7, "ions": ions("phosphate")}},
        WASTE,
        "A",
        "filter_pore_um",
        "Filtered at 0.7 µm; rulebook US wastewater, 40 CFR 136.3 Table II, version 1, asks for 0.45 µm or finer.",
    ),
    (
        "ww late",
        {"anion": {"filtered_at": after(minutes=40), "ions": ions("phosphate", "nitrate")}},
        WASTE,
        "A",
        "filtered_at",
        "Filtered 40 minutes after collection; rulebook US wastewater, 40 CFR 136.3 Table II, version 1, allows 15 minutes for phosphate.",
    ),
    (
        "ww untimed",
        {"anion": {"filtered_at": None, "ions": ions("phosphate", "nitrate")}},
        WASTE,
        "A",
        "filtered_at",
        "When the water was filtered is not stated; rulebook US wastewater, 40 CFR 136.3 Table II, version 1, allows 15 minutes after collection for phosphate.",
    ),
    (
        "ecn unfiltered",
        {"anion": {"filter_pore_um": 0, "filtered_at": None, "ions": ions("nitrate")}},
        ECN,
        "A",
        "filter_pore_um",
        "The water was not filtered; rulebook UK Environmental Change Network, water handling, version 1, asks for any filter.",
    ),
    (
        "after acid",
        {"cation": {"filtered_at": after(minutes=40)}},
        None,
        "C",
        "filtered_at",
        "The acid was added 25 minutes before the water was filtered; filter first.",
    ),
    (
        "denied volume",
        {"cation": {"acidified": False, "acid_kind": None}},
        None,
        "C",
        "acidified",
        "Acid is answered with no, but a volume of 0.5 mL of acid is stated.",
    ),
    (
        "denied kind",
        {"cation": {"acidified": False, "acid_ml": None}},
        None,
        "C",
        "acidified",
        "Acid is answered with no, but nitric acid is stated.",
    ),
    (
        "none but yes",
        {"cation": {"acid_kind": AcidKind.NONE, "acid_ml": None}},
        None,
        "C",
        "acidified",
        "Acid is given as none, but acidified: yes is stated.",
    ),
    (
        "none but volume",
        {"cation": {"acidified": None, "acid_kind": AcidKind.NONE}},
        None,
        "C",
        "acidified",
        "Acid is given as none, but a volume of 0.5 mL of acid is stated.",
    ),
    (
        "moment chilled denied",
        {"anion": {"chilled": False, "chilled_at": after(hours=1)}},
        None,
        "A",
        "chilled_at",
        "The bottle is stated not to be chilled, but a moment for it is given: 24 Nov 2026 14:05 Europe/Lisbon.",
    ),
    (
        "moment filter denied",
        {"anion": {"filter_pore_um": 0}},
        None,
        "A",
        "filtered_at",
        "The bottle is stated not to be filtered, but a moment for it is given: 24 Nov 2026 13:15 Europe/Lisbon.",
    ),
    (
        "moment acid denied",
        {"cation": {**NO_ACID, "acid_at": after(minutes=20)}},
        None,
        "C",
        "acid_at",
        "The bottle is stated not to be acidified, but a moment for it is given: 24 Nov 2026 13:25 Europe/Lisbon.",
    ),
    (
        "moment frozen denied",
        {"anion": {"frozen": False, "frozen_at": after(hours=1)}},
        None,
        "A",
        "frozen_at",
        "The bottle is stated not to be frozen, but a moment for it is given: 24 Nov 2026 14:05 Europe/Lisbon.",
    ),
    (
        "too early",
        {"anion": {"filtered_at": after(minutes=-30), "chilled_at": after(minutes=-20)}},
        None,
        "A",
        "chilled_at",
        "The bottle was chilled and filtered before the water was collected (24 Nov 2026 13:05 Europe/Lisbon).",
    ),
    (
        "late injection",
        {"anion": {"injections": (Injection(after(hours=60)),)}},
        None,
        "A",
        "injections",
        "Injected after the holding time of nitrate and phosphate (due 26 Nov 2026 13:05 Europe/Lisbon). What that does: nitrate may rise from nitrite and ammonium, or be used up; phosphate is lost to bacteria and to the wall of the bottle.",
    ),
    (
        "late injection two limits",
        {"anion": {"injections": (Injection(after(days=40)),)}},
        None,
        "A",
        "injections",
        "Injected after the holding time of chloride (due 22 Dec 2026 13:05 Europe/Lisbon) and nitrate and phosphate (due 26 Nov 2026 13:05 Europe/Lisbon). What that does: chloride hardly changes in a closed bottle; nitrate may rise from nitrite and ammonium, or be used up; phosphate is lost to bacteria and to the wall of the bottle.",
    ),
    (
        "injection before",
        {"anion": {"injections": (Injection(after(hours=-2)),)}},
        None,
        "A",
        "injections",
        "Injected 24 Nov 2026 11:05 Europe/Lisbon, before the water was collected.",
    ),
    (
        "late arrival",
        {"arrival": {"received_at": after(hours=60)}},
        None,
        "A",
        "arrival.received_at",
        "Received 27 Nov 2026 01:05 Europe/Lisbon, when the holding time was over for nitrate and phosphate (due 26 Nov 2026 13:05 Europe/Lisbon).",
    ),
    (
        "frozen late",
        {
            "cation": {
                **NO_ACID,
                "ions": ions("ammonium"),
                "frozen": True,
                "chilled": None,
                "frozen_at": after(hours=5),
                "to_brim": False,
            }
        },
        BOOK,
        "C",
        "acidified",
        "This bottle for cations holds no acid. With acid rulebook Example, version 1, lets ammonium wait longer.",
    ),
    (
        "frozen late",
        {
            "cation": {
                **NO_ACID,
                "ions": ions("ammonium"),
                "frozen": True,
                "chilled": None,
                "frozen_at": after(hours=5),
                "to_brim": False,
            }
        },
        BOOK,
        "C",
        "to_brim",
        "The bottle is not filled to the brim; rulebook Example, version 1, asks for no air.",
    ),
    (
        "frozen late",
        {
            "cation": {
                **NO_ACID,
                "ions": ions("ammonium"),
                "frozen": True,
                "chilled": None,
                "frozen_at": after(hours=5),
                "to_brim": False,
            }
        },
        BOOK,
        "C",
        "frozen_at",
        "Frozen 5 hours after collection, later than rulebook Example, version 1, allows for ammonium.",
    ),
    (
        "not frozen wanted",
        {"cation": {**NO_ACID, "ions": ions("ammonium"), "frozen": False, "frozen_at": None}},
        ONLY_FROZEN,
        "C",
        "frozen",
        "The bottle is not frozen; rulebook Example, version 1, asks for it for ammonium.",
    ),
    (
        "additive",
        {"anion": {"ions": ions("bromate", "chlorite")}},
        None,
        "A",
        "additive",
        "Rulebook House, version 1, asks for ethylenediamine in a bottle for bromate; none is stated.",
    ),
    (
        "glass fluoride",
        {"anion": {"ions": ions("fluoride", "chloride"), "container": Container.GLASS}},
        None,
        "A",
        "container",
        "The bottle is of glass; rulebook House, version 1, does not allow that for fluoride.",
    ),
    (
        "no limit",
        {"anion": {"ions": ions("acetate", "formate")}},
        None,
        "A",
        "ions",
        "Rulebook House, version 1, sets no holding time for acetate and formate; the laboratory has to set one.",
    ),
    (
        "wrong line",
        {"anion": {"ions": ions("chloride", "sodium", "unobtainium")}},
        None,
        "A",
        "ions",
        "This bottle is for the anion line, which cannot measure sodium.",
    ),
    (
        "wrong line",
        {"anion": {"ions": ions("chloride", "sodium", "unobtainium")}},
        None,
        "A",
        "ions",
        "No line measures unobtainium. The anion line measures fluoride, chlorite, bromate, acetate, formate, chloride, nitrite, chlorate, bromide, nitrate, phosphate, sulfate, iodide and perchlorate.",
    ),
]


@pytest.mark.parametrize(
    ("words", "changes", "book", "bottle", "fact", "sentence"),
    CASES,
    ids=[f"{place} {case[0]}" for place, case in enumerate(CASES)],
)
def test_what_is_said(words: str, changes: dict, book: object, bottle: str, fact: str, sentence: str):
    case = example(**changes)
    said = {
        (finding.bottle, finding.fact, finding.sentence)
        for finding in judge(case.sample, case.bottles, book or HOUSE).findings
    }
    assert (bottle, fact, sentence) in said, words


#: What is just inside what a rule allows, so that nothing of it is said.
INSIDE = [
    (
        "injected at the very moment of collection",
        {"anion": {"injections": (Injection(after()),)}},
        None,
        "injection.",
    ),
    (
        "filtered in the minute of the acid",
        {"cation": {"filtered_at": after(minutes=15)}},
        None,
        "filter.after_acid",
    ),
    (
        "6 °C on the day of collection",
        {"arrival": {"temperature_c": 6, "received_at": after(hours=3)}},
        None,
        "cold.",
    ),
    ("6 °C where a method of 4 °C gives 2 °C on arrival", {"arrival": {"temperature_c": 6}}, METHOD, "cold."),
    (
        "the same, brought on the day",
        {"arrival": {"temperature_c": 6, "received_at": after(hours=3)}},
        METHOD,
        "cold.",
    ),
    ("exactly 0 °C, above freezing for a thermometer", {"arrival": {"temperature_c": 0}}, None, "cold."),
    ("felt cold, and the box was cold", {"seen": {"cold": True}}, None, "cold."),
    ("5 mL, one injection", {"anion": {"volume_ml": 5}}, None, "volume.too_small"),
    ("15 mL, one with two repeats", {"anion": {"volume_ml": 15}}, None, "volume.too"),
    ("acid kept out and its moment never stated", {"cation": NO_ACID}, None, "statement."),
    ("fine acid", {"cation": {"acid_grade": "for trace analysis"}}, None, "acid.grade"),
    (
        "coarse acid named for a bottle for anions without any",
        {"anion": {"acid_grade": "technical"}},
        None,
        "acid.",
    ),
    (
        "frozen in time, acid would not let it wait longer",
        {
            "cation": {
                **NO_ACID,
                "ions": ions("ammonium"),
                "frozen": True,
                "chilled": None,
                "frozen_at": after(hours=3),
                "to_brim": False,
            }
        },
        BOOK,
        "acid.",
    ),
]


@pytest.mark.parametrize(("words", "changes", "book", "code"), INSIDE, ids=[case[0] for case in INSIDE])
def test_what_is_not_said(words: str, changes: dict, book: object, code: str):
    case = example(**changes)
    found = [finding.code for finding in judge(case.sample, case.bottles, book or HOUSE).findings]
    assert not [one for one in found if one.startswith(code)], words


def test_a_warm_box_counts_though_the_bottle_felt_cold():
    case = example(arrival={"temperature_c": 9, "cooling": Cooling.NONE}, seen={"cold": True})
    said = [finding.sentence for finding in judge(case.sample, case.bottles, HOUSE).findings]
    assert any(sentence.startswith("9 °C on the temperature blank on arrival") for sentence in said)
