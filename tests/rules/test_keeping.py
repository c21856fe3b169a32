"""How bottles were kept, case by case: in words, what differs, what the rules say.

Judged by the house rulebook. A finding names the ions it may cost.
"""

import pytest

from intake.rules.facts import AcidKind, Container, Cooling, Membrane, Seal
from tests.rules.cases import NITRIC, NO_ACID, after, judged, raised, rows

ANIONS = ("chloride", "nitrate", "phosphate")
CATIONS = ("sodium", "ammonium", "calcium")
WARM = {"chilled": False}
KEEP = {"chloride", "nitrate", "phosphate"}


def ions(*names: str) -> frozenset[str]:
    return frozenset(names)


CASES = [
    ("everything as it should be", {}, {}),
    # filter
    ("nobody says whether it was filtered", {"anion": {"filter_pore_um": None}}, {"filter.unstated": ANIONS}),
    ("not filtered", {"anion": {"filter_pore_um": 0, "filtered_at": None}}, {"filter.none": ANIONS}),
    ("filtered at 0.7 µm", {"anion": {"filter_pore_um": 0.7}}, {"filter.coarse": ANIONS}),
    ("filtered at 0.2 µm", {"anion": {"filter_pore_um": 0.2}}, {}),
    ("filtered at exactly 0.45 µm", {"anion": {"filter_pore_um": 0.45}}, {}),
    (
        "cellulose nitrate before nitrate",
        {"anion": {"filter_membrane": Membrane.CELLULOSE_NITRATE}},
        {"filter.membrane": ("nitrate",)},
    ),
    (
        "cellulose nitrate before cations",
        {"cation": {"filter_membrane": Membrane.CELLULOSE_NITRATE}},
        {},
    ),
    (
        "glass fibre before cations",
        {"cation": {"filter_membrane": Membrane.GLASS_FIBRE}},
        {"filter.membrane": ("sodium", "calcium")},
    ),
    ("membrane not stated", {"anion": {"filter_membrane": None}}, {}),
    (
        "filtered after the acid",
        {"cation": {"filtered_at": after(minutes=40)}},
        {"filter.after_acid": CATIONS},
    ),
    # acid
    ("nitric acid in the bottle for anions", {"anion": NITRIC}, {"acid.in_anion_bottle": ANIONS}),
    (
        "sulfuric acid in the bottle for anions",
        {"anion": {**NITRIC, "acid_kind": AcidKind.SULFURIC}},
        {"acid.in_anion_bottle": ANIONS},
    ),
    (
        "some acid in the bottle for anions",
        {"anion": {"acidified": True, "acid_kind": None}},
        {"acid.in_anion_bottle": ANIONS},
    ),
    ("bottle for cations without acid", {"cation": NO_ACID}, {"acid.absent": CATIONS}),
    (
        "acid not mentioned for cations",
        {"cation": {**NO_ACID, "acidified": None, "acid_kind": None}},
        {"acid.absent": CATIONS},
    ),
    (
        "hydrochloric acid for cations",
        {"cation": {"acid_kind": AcidKind.HYDROCHLORIC}},
        {"acid.other_kind": CATIONS},
    ),
    ("acidified, kind not stated", {"cation": {"acid_kind": None}}, {"acid.other_kind": CATIONS}),
    ("acid without volume", {"cation": {"acid_ml": None}}, {"acid.dose_unstated": ()}),
    ("acid without strength", {"cation": {"acid_mol_l": None}}, {"acid.dose_unstated": ()}),
    ("acid after five days", {"cation": {"acid_at": after(days=5)}}, {"acid.late": ("ammonium",)}),
    (
        "acid after three weeks, warm",
        {"cation": {"acid_at": after(days=21), "chilled": True, "ions": ions("sodium")}},
        {"acid.late": ("sodium",)},
    ),
    ("acid denied and described", {"cation": {"acidified": False}}, {"statement.acid": CATIONS}),
    (
        "no kind of acid, yet acidified",
        {"cation": {"acid_kind": AcidKind.NONE, "acid_ml": None}},
        {"statement.acid": CATIONS},
    ),
    (
        "no kind of acid, yet a volume",
        {"cation": {"acidified": None, "acid_kind": AcidKind.NONE}},
        {"statement.acid": CATIONS},
    ),
    (
        "acid denied, kind given",
        {"anion": {"acidified": False, "acid_kind": AcidKind.NITRIC}},
        {"statement.acid": ANIONS},
    ),
    ("acid of minus 1 mL", {"cation": {"acid_ml": -1}}, {"statement.acid_impossible": ()}),
    ("acid of 65 mol/L", {"cation": {"acid_mol_l": 65}}, {"statement.acid_impossible": ()}),
    # fill, container, volume
    ("air in the bottle for anions", {"anion": {"to_brim": False}}, {"brim.headspace": ()}),
    (
        "air in the bottle for cations",
        {"cation": {"to_brim": False}},
        {"brim.headspace": ("ammonium", "calcium")},
    ),
    ("fill not stated", {"anion": {"to_brim": None}}, {"brim.unstated": ()}),
    (
        "fluoride in glass",
        {"anion": {"ions": ions("fluoride", "chloride"), "container": Container.GLASS}},
        {"container.unfit": ("fluoride",)},
    ),
    ("chloride in glass", {"anion": {"ions": ions("chloride"), "container": Container.GLASS}}, {}),
    (
        "fluoride, container not stated",
        {"anion": {"ions": ions("fluoride"), "container": None}},
        {"container.unstated": ("fluoride",)},
    ),
    ("chloride, container not stated", {"anion": {"ions": ions("chloride"), "container": None}}, {}),
    ("30 mL", {"anion": {"volume_ml": 30}}, {"volume.short": ()}),
    ("12 mL", {"anion": {"volume_ml": 12}}, {"volume.short": ANIONS}),
    ("3 mL", {"anion": {"volume_ml": 3}}, {"volume.too_small": ANIONS}),
    ("0 mL", {"anion": {"volume_ml": 0}}, {"volume.impossible": ()}),
    ("volume not stated", {"anion": {"volume_ml": None}}, {}),
    ("60 mL", {"anion": {"volume_ml": 60}}, {}),
    # cold and frozen
    ("not chilled", {"anion": WARM}, {"cold.not": ("nitrate", "phosphate")}),
    ("chilled after two hours", {"anion": {"chilled_at": after(hours=2)}}, {}),
    (
        "chilled after three",
        {"anion": {"chilled_at": after(hours=3)}},
        {"cold.late": ("nitrate", "phosphate")},
    ),
    ("acidified cations chilled after three", {"cation": {"chilled_at": after(hours=3)}}, {}),
    ("chilling not stated", {"anion": {"chilled": None}}, {"cold.unstated": ("nitrate", "phosphate")}),
    ("only chloride asked, not chilled", {"anion": {**WARM, "ions": ions("chloride")}}, {"cold.not": ()}),
    ("acidified cations, not chilled", {"cation": WARM}, {"cold.not": ()}),
    (
        "frozen",
        {"anion": {"frozen": True, "chilled": None, "to_brim": False}},
        {"brim.headspace": (), "frozen.not_allowed": ("nitrate", "phosphate")},
    ),
    (
        "frozen in full glass",
        {"anion": {"frozen": True, "chilled": None, "container": Container.GLASS}},
        {"frozen.full_glass": ANIONS},
    ),
    (
        "frozen and only chilled",
        {"anion": {"frozen": True, "ions": ions("chloride")}},
        {"statement.frozen_and_chilled": ("chloride",)},
    ),
    (
        "first chilled, then frozen",
        {"anion": {"frozen": True, "frozen_at": after(hours=3), "ions": ions("chloride")}},
        {},
    ),
    # moments that cannot be
    (
        "a moment of freezing, yet not frozen",
        {"anion": {"frozen": False, "frozen_at": after(hours=1)}},
        {"statement.moment_without_deed": ANIONS},
    ),
    (
        "filtered two hours before collection",
        {"anion": {"filtered_at": after(hours=-2)}},
        {"statement.before_collection": ANIONS},
    ),
    ("filtered five minutes before collection", {"anion": {"filtered_at": after(minutes=-5)}}, {}),
    # ions
    (
        "sodium asked of a bottle for anions",
        {"anion": {"ions": ions("chloride", "sodium")}},
        {"ion.other_line": ("sodium",)},
    ),
    ("an ion nobody knows", {"anion": {"ions": ions("kryptonite")}}, {"ion.unknown": ("kryptonite",)}),
    (
        "acetate has no limit",
        {"anion": {"ions": ions("acetate", "chloride")}},
        {"ion.no_limit": ("acetate",)},
    ),
    ("no ion asked", {"anion": {"ions": ions()}}, {"ion.none_asked": ()}),
    (
        "an ion dropped is not asked",
        {"anion": {"ions": ions("chloride", "sodium"), "dropped": ions("sodium")}},
        {},
    ),
    (
        "bromate without its additive",
        {"anion": {"ions": ions("bromate")}},
        {"additive.missing": ("bromate",)},
    ),
    ("bromate with its additive", {"anion": {"ions": ions("bromate"), "additive": "Ethylenediamine "}}, {}),
]


@pytest.mark.parametrize(("words", "changes", "expected"), CASES, ids=[case[0] for case in CASES])
def test_what_was_declared(words: str, changes: dict, expected: dict):
    assert raised(judged(**changes)) == expected, words


ARRIVALS = [
    ("4 °C on ice", {"arrival": {}}, {}),
    ("6.0 °C", {"arrival": {"temperature_c": 6.0}}, {}),
    ("6.05 °C is not 6", {"arrival": {"temperature_c": 6.05}}, {"cold.transport"}),
    ("0 °C in melting ice", {"arrival": {"temperature_c": 0}}, {}),
    ("below freezing", {"arrival": {"temperature_c": -2}}, {"cold.transport"}),
    ("not measured", {"arrival": {"temperature_c": None}}, {"cold.unmeasured"}),
    ("measured, but on what?", {"arrival": {"measured_on": None}}, {"arrival.measured_on_unstated"}),
    (
        "12 °C the same day, on ice",
        {"arrival": {"received_at": after(hours=5), "temperature_c": 12}},
        {"cold.same_day"},
    ),
    (
        "12 °C the same day, no ice",
        {"arrival": {"received_at": after(hours=5), "temperature_c": 12, "cooling": Cooling.NONE}},
        {"cold.transport"},
    ),
    (
        "12 °C the same day, gel packs",
        {"arrival": {"received_at": after(hours=5), "temperature_c": 12, "cooling": Cooling.GEL_PACKS}},
        {"cold.same_day"},
    ),
    ("12 °C the next day", {"arrival": {"temperature_c": 12}}, {"cold.transport"}),
    ("60 hours on the way", {"arrival": {"received_at": after(hours=60)}}, {"clock.late_on_arrival"}),
    ("arrived exactly when due", {"arrival": {"received_at": after(hours=48)}}, {}),
    ("seal broken", {"arrival": {"seal": Seal.BROKEN}}, {"seal.broken"}),
    ("no seal", {"arrival": {"seal": Seal.ABSENT}}, {"seal.absent"}),
    ("seal intact", {"arrival": {"seal": Seal.INTACT}}, {}),
    (
        "received before it was collected",
        {"arrival": {"received_at": after(hours=-3)}},
        {"collection.after_receipt"},
    ),
    # what was seen outweighs what was declared
    ("all seen as declared", {"seen": {}}, {}),
    (
        "warm to the touch in a cold box",
        {"seen": {"cold": False}},
        {"cold.transport", "seen.unlike_declared"},
    ),
    (
        "the bottle itself at 5 °C in a box at 12",
        {"arrival": {"temperature_c": 12}, "seen": {"temperature_c": 5}},
        {},
    ),
    ("the bottle itself at 9 °C in a box at 4", {"seen": {"temperature_c": 9}}, {"cold.transport"}),
    (
        "declared warm, found cold",
        {"anion": {"chilled": False}, "seen": {}},
        {"seen.unlike_declared"},
    ),
    ("air seen", {"seen": {"headspace": True}}, {"brim.headspace", "seen.unlike_declared"}),
    ("found frozen", {"seen": {"frozen": True, "cold": True}}, {"frozen.not_allowed"}),
    ("leaking", {"seen": {"leaking": True}}, {"bottle.leaking"}),
    ("broken", {"seen": {"broken": True, "leaking": True}}, {"bottle.broken"}),
    ("cloudy", {"seen": {"cloudy": True}}, {"bottle.cloudy"}),
    ("label unlike the list", {"seen": {"label_matches": False}}, {"label.mismatch"}),
    ("looked at nothing", {"seen": dict.fromkeys(("cold", "headspace", "leaking", "broken", "frozen"))}, {}),
    ("strip: no acid in the bottle for cations", {"seen": {"ph_low": 6, "ph_high": 7}}, {"acid.not_seen"}),
    (
        "strip: acid in the bottle for anions",
        {"seen": {"ph_high": 2}},
        {"acid.in_anion_bottle"},
    ),
    ("strip: pH 3 in acid water", {"sample": {"ph": 3.6}, "seen": {"ph_low": 3, "ph_high": 3}}, {}),
    (
        "acid given at the bench after the strip",
        {
            "seen": {
                "ph_low": 6,
                "ph_high": 7,
                "acid_added_ml": 0.5,
                "acid_added_mol_l": 1,
                "acid_added_at": after(hours=22),
            },
            "cation": NO_ACID,
            "anion": {"seen": None},
        },
        {},
    ),
    (
        "acid given at the bench, strength not stated",
        {"seen": {"acid_added_ml": 0.5}, "cation": NO_ACID, "anion": {"seen": None}},
        {"acid.dose_unstated"},
    ),
]


@pytest.mark.parametrize(("words", "changes", "expected"), ARRIVALS, ids=[case[0] for case in ARRIVALS])
def test_what_reception_found(words: str, changes: dict, expected: set):
    assert set(raised(judged(**changes))) == set(expected), words


ROWS = [
    ("acidified metals wait six months", {}, "C", {"sodium": 9, "ammonium": 18, "calcium": 12}),
    (
        "without acid 28 days, ammonium 48 h",
        {"cation": NO_ACID},
        "C",
        {"sodium": 14, "ammonium": 19, "calcium": 17},
    ),
    (
        "warm and without acid the strictest",
        {"cation": {**NO_ACID, **WARM}},
        "C",
        {"sodium": 14, "ammonium": 19, "calcium": 17},
    ),
    (
        "unfiltered with acid the strictest",
        {"cation": {"filter_pore_um": 0}},
        "C",
        {"sodium": 14, "ammonium": 19, "calcium": 17},
    ),
    (
        "acid found missing by the strip",
        {"seen": {"ph_low": 6, "ph_high": 7}},
        "C",
        {"sodium": 14, "ammonium": 19, "calcium": 17},
    ),
    (
        "chlorite with its additive",
        {"anion": {"ions": ions("chlorite"), "additive": "ethylenediamine"}},
        "A",
        {"chlorite": 20},
    ),
    ("chlorite without", {"anion": {"ions": ions("chlorite")}}, "A", {"chlorite": 21}),
    ("chlorite warm and without", {"anion": {"ions": ions("chlorite"), **WARM}}, "A", {"chlorite": 21}),
    ("acetate has a row without a limit", {"anion": {"ions": ions("acetate")}}, "A", {"acetate": 26}),
    ("an ion of the other line has none", {"anion": {"ions": ions("sodium")}}, "A", {"sodium": None}),
]


@pytest.mark.parametrize(("words", "changes", "bottle", "expected"), ROWS, ids=[case[0] for case in ROWS])
def test_the_row_each_ion_earns(words: str, changes: dict, bottle: str, expected: dict):
    assert rows(judged(**changes), bottle) == expected, words


VOID = [
    ("acid in the bottle for anions", {"anion": NITRIC}, KEEP),
    ("broken", {"seen": {"broken": True}, "cation": {"seen": None}}, KEEP),
    ("too little water", {"anion": {"volume_ml": 1}}, KEEP),
    (
        "sodium on the wrong line loses sodium alone",
        {"anion": {"ions": ions("chloride", "sodium")}},
        {"sodium"},
    ),
    ("warm water is not void", {"anion": WARM}, set()),
]


@pytest.mark.parametrize(("words", "changes", "expected"), VOID, ids=[case[0] for case in VOID])
def test_which_clocks_are_void(words: str, changes: dict, expected: set):
    assert {clock.ion for clock in judged(**changes).clocks if clock.void} == expected, words
