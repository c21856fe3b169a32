"""Facts, books and judgements to plain data and back, and what is said of faulty data."""

import json
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from intake.rules.book import Conditions, Rulebook
from intake.rules.book_data import book_digest, book_from_data, book_to_data
from intake.rules.examples import BOOK, example
from intake.rules.facts import ArrivalFacts, BottleFacts, Line, SampleFacts, SeenFacts
from intake.rules.facts_data import (
    bottle_from_data,
    facts_digest,
    facts_from_data,
    facts_to_data,
    sample_from_data,
)
from intake.rules.judge import judge
from intake.rules.judgement import Advice, Clock, Finding, Judgement, Remedy, Stage, Weight
from intake.rules.judgement_data import judgement_from_data, judgement_to_data
from intake.rules.plain import PlainDataError, to_plain
from intake.shipped import shipped_book, shipped_codes, shipped_data
from tests.rules.strategies import arrivals, bottles, consigned, samples, sights

BOOKS = st.sampled_from([shipped_book(code) for code in shipped_codes()])
SLOW = settings(max_examples=60, deadline=None)


def through_json(plain: object) -> object:
    return json.loads(json.dumps(plain))


@SLOW
@given(consigned())
def test_facts_survive_json(facts: tuple):
    sample, bottles = facts
    read_sample, read_bottles, book = facts_from_data(through_json(facts_to_data(sample, bottles)))
    assert facts_digest(read_sample, read_bottles) == facts_digest(sample, bottles)
    assert facts_to_data(read_sample, read_bottles) == facts_to_data(sample, bottles)
    assert book is None


@SLOW
@given(samples, bottles("A"))
def test_facts_within_the_years_that_can_be_reckoned_come_back_equal(
    sample: SampleFacts, bottle: BottleFacts
):
    assert sample_from_data(through_json(to_plain(near(sample)))) == near(sample)
    bottle = near(replace(bottle, arrival=None, seen=None, injections=()))
    assert bottle_from_data(through_json(to_plain(bottle))) == bottle


@SLOW
@given(arrivals, sights)
def test_arrivals_and_sights_come_back_equal(arrival: ArrivalFacts, seen: SeenFacts):
    bottle = BottleFacts("A", Line.ANION, arrival=near(arrival), seen=near(seen))
    assert bottle_from_data(through_json(to_plain(bottle))) == bottle


def near(facts: object) -> object:
    """``facts`` with every moment moved into the present century."""
    moved = {
        field.name: getattr(facts, field.name).replace(year=2024, day=1)
        for field in fields(facts)
        if isinstance(getattr(facts, field.name), datetime)
    }
    return replace(facts, **moved)


@SLOW
@given(consigned(), BOOKS)
def test_judgements_survive_json(facts: tuple, book: Rulebook):
    judgement = judge(*facts, book)
    assert judgement_from_data(through_json(judgement_to_data(judgement))) == judgement


@pytest.mark.parametrize(
    "book", [BOOK, *(shipped_book(code) for code in shipped_codes())], ids=lambda b: b.code
)
def test_books_survive_json(book: Rulebook):
    assert book_from_data(through_json(book_to_data(book))) == book


def test_every_condition_and_setting_of_a_book_survives():
    conditions = Conditions(
        filter_pore_max_um=0.2, filtered_within_min=15, min_c=1, max_c=4, frozen=True, frozen_within_min=60,
        acid=(), acid_ph_max=2, acid_within_min=15, containers=(), to_brim=True, chlorinated=False,
        additive="boric acid",
    )  # fmt: skip
    assert all(getattr(conditions, field.name) is not None for field in fields(conditions))
    book = replace(
        BOOK, rows=(replace(BOOK.rows[0], conditions=conditions, note="A note."),), bottle_max_c=None,
        filter_pore_max_um=None, acid_ph_target=1.9, repeats=0, dated="2026-11-24", about="About.",
        gel_packs_count_as_ice=False, same_day_allowance=False, to_brim=False,
    )  # fmt: skip
    assert book_from_data(through_json(book_to_data(book))) == book


def test_a_row_without_conditions_asks_for_nothing():
    [row] = book_from_data({**HOUSE, "rows": [{**ROW, "conditions": None}]}).rows
    assert row.conditions == Conditions()


def test_the_digest_does_not_care_how_facts_are_spelt():
    base = example()
    digest = facts_digest(base.sample, base.bottles)
    assert len(digest) == 64
    elsewhere = base.sample.collected_at.astimezone(timezone(timedelta(hours=9)))
    spelt = replace(base.sample, collected_at=elsewhere, ec_value=420.0)
    assert facts_digest(spelt, base.bottles[::-1]) == digest
    assert facts_digest(replace(base.sample, ph=7.5), base.bottles) != digest
    assert facts_digest(replace(base.sample, zone="Europe/London"), base.bottles) != digest


def test_the_digest_of_a_book_changes_with_a_row():
    other = replace(BOOK, rows=(replace(BOOK.rows[0], note="Another."), *BOOK.rows[1:]))
    assert book_digest(BOOK) != book_digest(other)
    assert book_digest(BOOK) == book_digest(replace(BOOK))


def wrong(read: object, data: object) -> list[str]:
    with pytest.raises(PlainDataError) as caught:
        read(data)
    assert str(caught.value) == "\n".join(str(problem) for problem in caught.value.problems)
    return [str(problem) for problem in caught.value.problems]


SAMPLE = {"key": "S", "zone": "UTC", "declared_at": "2026-11-24T13:00:00Z"}
SAMPLE_FAULTS = [
    ("a text for a number", {"ph": "seven"}, "sample, ph: should be a number, not a text."),
    ("true for a number", {"ph": True}, "sample, ph: should be a number, not true or false."),
    ("no finite number", {"ph": float("inf")}, "sample, ph: should be a finite number."),
    ("a number beyond floats", {"ph": 10**400}, "sample, ph: should be a finite number."),
    ("a number for a text", {"name": 4}, "sample, name: should be a text, not a number."),
    (
        "a text for yes or no",
        {"chlorinated": "no"},
        "sample, chlorinated: should be true or false, not a text.",
    ),
    ("an empty key", {"key": " "}, "sample, key: is missing; please give it."),
    ("no such zone", {"zone": "Mars/Base"}, "use the name of an IANA time zone"),
    ("a folder for a zone", {"zone": "Europe"}, "use the name of an IANA time zone"),
    ("no such unit", {"ec_unit": "mho"}, "sample, ec_unit: is 'mho'; it can be one of 'µS/cm',"),
    ("no moment", {"declared_at": None}, "sample, declared_at: is missing; please give it."),
    ("a number for a moment", {"collected_at": 5}, "write a moment like 2026-11-24T13:05:00+01:00."),
    ("a moment without a zone", {"collected_at": "2026-11-24T13:00"}, "say how far its clock is from UTC"),
    ("a moment at the edge", {"collected_at": "9999-12-31T23:00:00Z"}, "lies outside the years 1 to 9999."),
    ("a slip of the pen", {"colour": "brown"}, "sample, colour: is not a field here; the fields are"),
]


@pytest.mark.parametrize(("words", "change", "said"), SAMPLE_FAULTS, ids=[case[0] for case in SAMPLE_FAULTS])
def test_what_is_wrong_with_a_sample(words: str, change: dict, said: str):
    [problem] = wrong(sample_from_data, {**SAMPLE, **change})
    assert said in problem


BOTTLE_FAULTS = [
    ("no line", {"line": None}, "bottle, line: is missing; please give it."),
    ("ions as a text", {"ions": "nitrate"}, "bottle, ions: should be a list of texts."),
    (
        "a pore below nothing",
        {"filter_pore_um": -1},
        "bottle, filter_pore_um: is -1; it should be at least 0.",
    ),
    (
        "an arrival that is no object",
        {"arrival": 4},
        "bottle, arrival: should be an object with named fields",
    ),
    ("an arrival without its moment", {"arrival": {}}, "bottle, arrival, received_at: is missing"),
    ("a check without its moment", {"seen": {}}, "bottle, seen, checked_at: is missing"),
    ("injections as an object", {"injections": {}}, "bottle, injections: should be a list, not an object."),
    ("an injection without its moment", {"injections": [{}]}, "bottle, injection 1, at: is missing"),
]


@pytest.mark.parametrize(("words", "change", "said"), BOTTLE_FAULTS, ids=[case[0] for case in BOTTLE_FAULTS])
def test_what_is_wrong_with_a_bottle(words: str, change: dict, said: str):
    assert any(
        said in problem for problem in wrong(bottle_from_data, {"key": "A", "line": "anion", **change})
    )


def test_what_is_wrong_with_a_document():
    assert wrong(facts_from_data, []) == [
        "should be an object with named fields, not a list.",
        "sample: is missing; the facts of a sample are needed.",
    ]
    twice = {"sample": SAMPLE, "bottles": [{"key": "A", "line": "anion"}] * 2}
    assert wrong(facts_from_data, twice) == ["bottles: has 'A' as the key of more than one bottle."]


def test_every_fault_is_named_at_once():
    problems = wrong(facts_from_data, {"sample": {"ph": "x"}, "bottles": [{"line": "x"}, 4]})
    assert len(problems) >= 6


HOUSE = shipped_data("house")
ROW = {
    "number": 1,
    "ion": "nitrate",
    "conditions": {},
    "limit": {"value": 48, "unit": "hours"},
    "source": {"document": "A document"},
    "confidence": "read",
}
ROW_FAULTS = [
    ("no number", {"number": None}, "number: is missing; please give it."),
    ("half a number", {"number": 1.5}, "number: is 1.5; it should be a whole number."),
    ("no such ion", {"ion": "nitrat"}, "ion: is 'nitrat'; the ions are fluoride,"),
    ("no ion", {"ion": None}, "ion: is missing; please give it."),
    ("no confidence", {"confidence": None}, "confidence: is missing; say how well the row is founded."),
    ("no source", {"source": None}, "source: is missing; say where the row comes from."),
    ("an empty source", {"source": {}}, "source, document: is missing; please give it."),
    ("a limit without a unit", {"limit": {"value": 4}}, "limit, unit: is missing; please give it."),
    ("a limit without a value", {"limit": {"unit": "days"}}, "limit, value: is missing; please give it."),
    (
        "one and a half months",
        {"limit": {"value": 1.5, "unit": "months"}},
        "limit, value: should be a whole number of months.",
    ),
    (
        "a limit of nothing",
        {"limit": {"value": 0, "unit": "days"}},
        "limit, value: is 0; use the unit 'immediately'",
    ),
    (
        "a limit below nothing",
        {"limit": {"value": -4, "unit": "days"}},
        "limit, value: is -4; it should be from 0",
    ),
    (
        "no such acid",
        {"conditions": {"acid": ["vinegar"]}},
        "conditions, acid: is 'vinegar'; it can be one of",
    ),
    (
        "an acid as a text",
        {"conditions": {"acid": "nitric"}},
        "conditions, acid: should be a list, not a text.",
    ),
    (
        "the acid none",
        {"conditions": {"acid": ["none"]}},
        "conditions, acid: holds 'none'; an empty list asks for no acid.",
    ),
    ("a lowest without a highest", {"conditions": {"min_c": 1}}, "conditions, max_c: is missing;"),
    (
        "a lowest above the highest",
        {"conditions": {"min_c": 8, "max_c": 6}},
        "conditions, min_c: lies above max_c.",
    ),
    (
        "a condition nobody knows",
        {"conditions": {"colour": "brown"}},
        "conditions, colour: is not a field here",
    ),
]


@pytest.mark.parametrize(("words", "change", "said"), ROW_FAULTS, ids=[case[0] for case in ROW_FAULTS])
def test_what_is_wrong_with_a_row(words: str, change: dict, said: str):
    [problem] = wrong(book_from_data, {**HOUSE, "rows": [{**ROW, **change}]})
    assert problem.startswith("row 1, ")
    assert said in problem


BOOK_FAULTS = [
    ("no version", {"version": None}, "version: is missing; please give it."),
    ("no code", {"code": None}, "code: is missing; please give it."),
    (
        "no such counting",
        {"counting": "roughly"},
        "counting: is 'roughly'; it can be one of 'elapsed', 'end of period'.",
    ),
    ("a date in other words", {"dated": "yesterday"}, "dated: is 'yesterday'; write a date like 2026-11-24."),
    ("a factor below one", {"gross_factor": 0.5}, "gross_factor: is 0.5; it should be from 1 to 100."),
    ("rows as a text", {"rows": "none"}, "rows: should be a list, not a text."),
    ("two rows of one number", {"rows": [ROW, ROW]}, "rows: number 1 stands on more than one row;"),
]


@pytest.mark.parametrize(("words", "change", "said"), BOOK_FAULTS, ids=[case[0] for case in BOOK_FAULTS])
def test_what_is_wrong_with_a_book(words: str, change: dict, said: str):
    [problem] = wrong(book_from_data, {**HOUSE, **change})
    assert said in problem


def test_a_judgement_with_advice_survives_and_a_faulty_one_is_named():
    moment = datetime(2026, 11, 24, tzinfo=UTC)
    judgement = Judgement(
        (
            Finding(
                "a.b",
                Weight.BAR,
                "Said.",
                (Remedy(Stage.AFTER_ANALYSIS, "Do."),),
                "Source",
                "ph",
                "A",
                ("nitrate",),
            ),
        ),
        (Clock("A", "nitrate", moment, None, None, None, None, "reason", True, moment, True),),
        (Advice("dilution", "A", "Dilute.", "Source", (("factor", 10.0),)),),
    )
    plain = through_json(judgement_to_data(judgement))
    assert judgement_from_data(plain) == judgement
    plain["advice"][0]["figures"] = 4
    assert judgement_from_data(plain).advice[0].figures == ()
    plain["findings"][0]["weight"] = "heavy"
    assert "finding 1, weight: is 'heavy'" in wrong(judgement_from_data, plain)[0]


@pytest.mark.parametrize(
    ("part", "change", "said"),
    [
        ("findings", {"colour": "blue"}, "colour"),
        ("findings", {"code": None}, "code"),
        ("clocks", {"colour": "blue"}, "colour"),
        ("clocks", {"bottle": None}, "bottle"),
        ("clocks", {"ion": None}, "ion"),
        ("clocks", {"row": 0}, "row"),
        ("clocks", {"row": 1_000_001}, "row"),
        ("clocks", {"limit": {"value": -1, "unit": "hours"}}, "value"),
        ("clocks", {"limit": {"value": 1, "unit": "hours", "colour": "blue"}}, "colour"),
        ("advice", {"colour": "blue"}, "colour"),
        ("advice", {"code": None}, "code"),
    ],
)
def test_a_field_of_a_judgement_that_is_wrong_is_named(part: str, change: dict, said: str):
    facts = example(anion={"chilled": False})
    plain = judgement_to_data(judge(facts.sample, facts.bottles, BOOK))
    plain[part][0] |= change
    assert any(said in fault for fault in wrong(judgement_from_data, plain))


@pytest.mark.parametrize("row", [1, 1_000_000])
def test_the_numbers_that_a_row_can_have(row: int):
    facts = example()
    plain = judgement_to_data(judge(facts.sample, facts.bottles, BOOK))
    plain["clocks"][0]["row"] = row
    assert judgement_from_data(plain).clocks[0].row == row


@pytest.mark.parametrize(
    "made",
    [
        lambda at: SeenFacts(at),
        lambda at: SeenFacts(datetime(2026, 1, 1, tzinfo=UTC), acid_added_at=at),
        lambda at: ArrivalFacts(at),
        lambda at: replace(example().sample, declared_at=at),
        lambda at: replace(example().sample, collected_at=at),
        lambda at: replace(example().sample, collection_began_at=at),
        lambda at: replace(example().bottles[0], chilled_at=at),
        lambda at: replace(example().bottles[0], frozen_at=at),
        lambda at: replace(example().bottles[0], filtered_at=at),
        lambda at: replace(example().bottles[0], acid_at=at),
    ],
)
def test_a_moment_without_a_zone_is_a_fault_of_the_program(made):
    with pytest.raises(ValueError, match="aware datetime"):
        made(datetime(2026, 1, 1))


def test_a_kind_of_text_stays_text():
    class Marked(str):
        """As some libraries hand text on."""

    assert to_plain(Marked("pH 7")) == "pH 7"
