"""What the schema of the facts allows is what the reader of the facts takes."""

import json
from copy import deepcopy

import pytest
from hypothesis import given, settings
from jsonschema import Draft202012Validator

from intake.rules.examples import example
from intake.rules.facts_data import facts_from_data, facts_to_data
from intake.rules.facts_schema import facts_schema
from intake.rules.plain import PlainDataError
from tests.rules.strategies import consigned

SCHEMA = facts_schema()
DOCUMENT = facts_to_data(example().sample, example().bottles)


def allowed(document: object) -> bool:
    return Draft202012Validator(SCHEMA).is_valid(json.loads(json.dumps(document)))


def taken(document: object) -> bool:
    try:
        facts_from_data(document)
    except PlainDataError:
        return False
    return True


def changed(*path: object, to: object) -> dict:
    document = deepcopy(DOCUMENT)
    inner = document
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = to
    return document


def test_it_is_a_schema():
    Draft202012Validator.check_schema(SCHEMA)


@settings(max_examples=60, deadline=None)
@given(consigned())
def test_every_fact_that_can_be_written_is_allowed(facts: tuple):
    assert allowed(facts_to_data(*facts))


@pytest.mark.parametrize(
    ("words", "document", "good"),
    [
        ("the example", DOCUMENT, True),
        ("a rulebook by its code", DOCUMENT | {"rulebook": "house"}, True),
        ("a rulebook written out", DOCUMENT | {"rulebook": {"code": "own"}}, True),
        ("no rulebook", DOCUMENT | {"rulebook": None}, True),
        ("no bottles", {"sample": DOCUMENT["sample"]}, True),
        ("bottles that nobody stated", DOCUMENT | {"bottles": None}, True),
        ("a fact that nobody stated", changed("sample", "ph", to=None), True),
        ("a pH of 7 without decimals", changed("sample", "ph", to=7), True),
        ("an arrival", changed("bottles", 0, "arrival", to={"received_at": "2026-11-25T08:00:00Z"}), True),
        ("an injection", changed("bottles", 0, "injections", to=[{"at": "2026-11-25T08:00:00Z"}]), True),
        ("no sample", {"bottles": []}, False),
        ("a sample without a zone", {"sample": {"key": "S", "declared_at": "2026-11-24T16:05:00Z"}}, False),
        ("a bottle without a line", DOCUMENT | {"bottles": [{"key": "A"}]}, False),
        ("an arrival without its moment", changed("bottles", 0, "arrival", to={"temperature_c": 4}), False),
        ("a sight without its moment", changed("bottles", 0, "seen", to={"cold": True}), False),
        ("an injection without its moment", changed("bottles", 0, "injections", to=[{}]), False),
        ("a word nobody knows", DOCUMENT | {"colour": "blue"}, False),
        ("a fact nobody knows", changed("sample", "colour", to="blue"), False),
        ("pH as a word", changed("sample", "ph", to="seven"), False),
        ("a unit nobody knows", changed("sample", "ec_unit", to="mho"), False),
        ("chilled as a number", changed("bottles", 0, "chilled", to=1), False),
        ("ions as one word", changed("bottles", 0, "ions", to="chloride"), False),
    ],
)
def test_the_schema_and_the_reader_agree(words: str, document: dict, good: bool):
    assert (allowed(document), taken(document)) == (good, good), words
