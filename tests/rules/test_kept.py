"""How a bottle really was kept when what was declared and what was seen differ, one line a case."""

from dataclasses import replace

import pytest

from intake.rules.examples import ANION, ARRIVAL, CATION, SAMPLE, SEEN
from intake.rules.facts import AcidKind, Cooling, WaterKind
from intake.rules.kept import came_same_day, merge
from tests.rules.cases import HOUSE, NITRIC, NO_ACID, after

NITRIC_ACID, NONE, OTHER = AcidKind.NITRIC, AcidKind.NONE, AcidKind.OTHER
HARD = {"alkalinity_meq_l": 14, "ec_value": 1400}


def strip(low: float | None, high: float | None, **more: object) -> dict:
    return {"seen": replace(SEEN, ph_low=low, ph_high=high, **more)}


ACIDS = [
    # words, sample, bottle before, what is stated or seen, the acid in it, the fact that says so
    ("declared", {}, CATION, {}, NITRIC_ACID, "acid_kind"),
    ("yes or no not answered, kind none", {}, CATION, {**NO_ACID, "acidified": None}, NONE, "acid_kind"),
    ("a strip of 4 still shows acid", {}, CATION, strip(4, 4.5), NITRIC_ACID, "acid_kind"),
    ("a strip above 4 shows none", {}, CATION, strip(4.1, 4.5), NONE, "seen.ph_low"),
    ("a strip of 3 shows acid for anions", {}, ANION, strip(2.5, 3), OTHER, "seen.ph_high"),
    ("a strip above 3 does not", {}, ANION, strip(2.5, 3.1), NONE, "acid_kind"),
    ("nor does 3 in water of 4.4 in the field", {"ph": 4.4}, ANION, strip(2.5, 3), NONE, "acid_kind"),
    ("but 2.9 does", {"ph": 4.4}, ANION, strip(2.5, 2.9), OTHER, "seen.ph_high"),
    ("3 in water whose pH nobody took shows acid", {"ph": None}, ANION, strip(2.5, 3), OTHER, "seen.ph_high"),
    ("14 meq/L use 0.5 mL up", HARD, CATION, {}, NONE, "alkalinity_meq_l"),
    ("9 meq/L leave some", {"alkalinity_meq_l": 9}, CATION, {}, NITRIC_ACID, "acid_kind"),
    ("hydrochloric acid too", HARD, CATION, {"acid_kind": AcidKind.HYDROCHLORIC}, NONE, "alkalinity_meq_l"),
    ("sulfuric acid is not reckoned with", HARD, CATION, {"acid_kind": AcidKind.SULFURIC}, AcidKind.SULFURIC,
     "acid_kind"),
    ("acid in a bottle for anions stays a mistake", HARD, ANION, NITRIC, NITRIC_ACID, "acid_kind"),
    ("alkalinity unknown", {"ec_value": 1400}, CATION, {}, NITRIC_ACID, "acid_kind"),
    ("volume unknown", HARD, CATION, {"volume_ml": None}, NITRIC_ACID, "acid_kind"),
    ("dose unknown", HARD, CATION, {"acid_ml": None}, NITRIC_ACID, "acid_kind"),
    ("seawater takes a drop", {"water_kind": WaterKind.SEA, "ec_value": 53_000}, CATION, {"acid_ml": 0.05},
     NONE, "alkalinity_meq_l"),
    ("a stream may", {"water_kind": WaterKind.STREAM}, CATION, {"acid_ml": 0.05}, NITRIC_ACID, "acid_kind"),
    ("given at the bench", {}, CATION, {**NO_ACID, **strip(None, None, acid_added_ml=0.5)}, NITRIC_ACID,
     "seen.acid_added_ml"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("words", "sample", "bottle", "stated", "acid", "fact"), ACIDS, ids=[case[0] for case in ACIDS]
)
def test_the_acid_in_a_bottle(words, sample, bottle, stated, acid, fact):
    kept = merge(replace(SAMPLE, **sample), replace(bottle, **stated), HOUSE)
    assert (kept.acid, kept.acid_fact) == (acid, fact), words


@pytest.mark.parametrize(
    ("added_at", "counts"), [(None, SEEN.checked_at), (after(hours=30), after(hours=30))]
)
def test_acid_at_the_bench_counts_from_its_moment_else_from_the_check(added_at, counts):
    seen = replace(SEEN, acid_added_ml=0.5, acid_added_at=added_at)
    assert merge(SAMPLE, replace(CATION, **NO_ACID, seen=seen), HOUSE).acid_at == counts


TEMPERATURES = [
    # words, arrival, seen, temperature, its fact, cold
    ("nobody looked", None, None, None, "chilled", True),
    ("the box was read", {}, None, 4, "arrival.temperature_c", True),
    ("this very bottle was read", {}, {"temperature_c": 9}, 9, "seen.temperature_c", True),
    ("it felt cold, the box was read", {}, {"cold": True}, 4, "arrival.temperature_c", True),
    ("it felt warm, whatever the box", {}, {"cold": False}, None, "seen.cold", False),
    ("it felt cold, the box was not read", {"temperature_c": None}, {"cold": True}, None, "seen.cold", True),
    ("nobody felt it", {}, {"cold": None}, 4, "arrival.temperature_c", True),
]


@pytest.mark.parametrize(
    ("words", "arrival", "seen", "temperature", "fact", "cold"),
    TEMPERATURES,
    ids=[case[0] for case in TEMPERATURES],
)
def test_the_temperature_that_counts(words, arrival, seen, temperature, fact, cold):
    bottle = replace(
        ANION,
        arrival=None if arrival is None else replace(ARRIVAL, **arrival),
        seen=None if seen is None else replace(SEEN, **seen),
    )
    kept = merge(SAMPLE, bottle, HOUSE)
    assert (kept.temperature_c, kept.temperature_fact, kept.cold) == (temperature, fact, cold), words


SOON = {"received_at": after(hours=3), "temperature_c": 9}
SAME_DAY = [
    ("on ice, read, brought on the day", {}, SOON, {}, {}, True),
    ("brought the next day", {}, {"temperature_c": 9}, {}, {}, False),
    ("received in the minute of its collection", {}, {**SOON, "received_at": after()}, {}, {}, True),
    ("received before its collection", {}, {**SOON, "received_at": after(minutes=-1)}, {}, {}, False),
    ("not on ice", {}, {**SOON, "cooling": Cooling.NONE}, {}, {}, False),
    ("on gel packs", {}, {**SOON, "cooling": Cooling.GEL_PACKS}, {}, {}, True),
    ("gel packs that do not count", {}, {**SOON, "cooling": Cooling.GEL_PACKS}, {},
     {"gel_packs_count_as_ice": False}, False),
    ("not read", {}, {**SOON, "temperature_c": None}, {}, {}, False),
    ("read on the bottle only", {}, {**SOON, "temperature_c": None},
     {"seen": replace(SEEN, temperature_c=9)}, {}, True),
    ("looked at, but not read", {}, {**SOON, "temperature_c": None}, {"seen": SEEN}, {}, False),
    ("a book that allows none", {}, SOON, {}, {"same_day_allowance": False}, False),
    ("stated not to be chilled", {}, SOON, {"chilled": False}, {}, False),
    ("chilling not stated", {}, SOON, {"chilled": None}, {}, True),
    ("collection unknown", {"collected_at": None}, SOON, {}, {}, False),
]  # fmt: skip


@pytest.mark.parametrize(
    ("words", "sample", "arrival", "bottle", "book", "same_day"), SAME_DAY, ids=[case[0] for case in SAME_DAY]
)
def test_the_same_day_allowance(words, sample, arrival, bottle, book, same_day):
    facts = replace(ANION, arrival=replace(ARRIVAL, **arrival), **bottle)
    sample = replace(SAMPLE, **sample)
    assert came_same_day(sample, facts, replace(HOUSE, **book)) is same_day, words
    assert merge(sample, facts, replace(HOUSE, **book)).same_day is same_day, words


def test_a_bottle_that_was_never_handed_over_did_not_come_the_same_day():
    assert not came_same_day(SAMPLE, ANION, HOUSE)
