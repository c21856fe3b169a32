"""What reception may do, ion by ion, case by case."""

from dataclasses import replace

import pytest

from intake.rules.book import Outcome
from intake.rules.examples import example
from intake.rules.judge import judge
from intake.rules.outcomes import Reception, outcome_of_bottle, outcomes
from tests.rules.cases import HOUSE, NITRIC, NO_ACID

A, R, W, X = Reception.ACCEPTED, Reception.WITH_RESERVATION, Reception.ON_HOLD, Reception.REFUSED

CASES = [
    ("all is well", Outcome.ACCEPT_WITH_WORD, {}, "A", {"chloride": A, "nitrate": A, "phosphate": A}),
    (
        "warm touches nitrate, not chloride",
        Outcome.ACCEPT_WITH_WORD,
        {"arrival": {"temperature_c": 12}},
        "A",
        {"chloride": A, "nitrate": W, "phosphate": W},
    ),
    (
        "a book that accepts what departs",
        Outcome.ACCEPT,
        {"arrival": {"temperature_c": 12}},
        "A",
        {"chloride": A, "nitrate": R, "phosphate": R},
    ),
    (
        "a book that refuses what departs",
        Outcome.REFUSE,
        {"arrival": {"temperature_c": 12}},
        "A",
        {"chloride": A, "nitrate": X, "phosphate": X},
    ),
    (
        "a warm bottle whose ions do not care",
        Outcome.REFUSE,
        {"arrival": {"temperature_c": 12}},
        "C",
        {"sodium": A, "ammonium": A, "calcium": A},
    ),
    (
        "acid in the bottle for anions",
        Outcome.ACCEPT,
        {"anion": NITRIC},
        "A",
        {"chloride": X, "nitrate": X, "phosphate": X},
    ),
    (
        "cations without acid",
        Outcome.REFUSE,
        {"cation": NO_ACID},
        "C",
        {"sodium": R, "ammonium": R, "calcium": R},
    ),
    (
        "collected in the future",
        Outcome.ACCEPT,
        {"sample": {"collected_at": example().sample.collected_at.replace(month=12)}},
        "C",
        {"sodium": W, "ammonium": W, "calcium": W},
    ),
    (
        "sodium on the wrong line",
        Outcome.ACCEPT,
        {"anion": {"ions": frozenset({"chloride", "sodium"})}},
        "A",
        {"chloride": A, "sodium": X},
    ),
    (
        "the label is unlike the list",
        Outcome.ACCEPT,
        {"seen": {"label_matches": False}},
        "C",
        {"sodium": W, "ammonium": W, "calcium": W},
    ),
]


@pytest.mark.parametrize(
    ("words", "departure", "changes", "bottle", "expected"), CASES, ids=[case[0] for case in CASES]
)
def test_the_outcome_of_each_ion(words: str, departure: Outcome, changes: dict, bottle: str, expected: dict):
    case = example(**changes)
    book = replace(HOUSE, departure=departure)
    found = outcomes(case.bottles, judge(case.sample, case.bottles, book).findings, book)
    assert {item.ion: item.reception for item in found if item.bottle == bottle} == expected, words


def test_an_outcome_names_the_findings_behind_it():
    case = example(arrival={"temperature_c": 12}, anion={"to_brim": False})
    found = outcomes(case.bottles, judge(case.sample, case.bottles, HOUSE).findings, HOUSE)
    codes = {item.ion: item.codes for item in found if item.bottle == "A"}
    assert codes == {
        "chloride": ("brim.headspace",),
        "nitrate": ("cold.transport",),
        "phosphate": ("cold.transport",),
    }


BOTTLES = [
    ("all accepted", {"arrival": {}}, A),
    ("one on hold", {"arrival": {"temperature_c": 12}}, W),
    ("one refused", {"anion": {"ions": frozenset({"chloride", "sodium"})}}, R),
    ("all refused", {"anion": NITRIC}, X),
    ("a reservation", {"anion": {"to_brim": False}}, R),
    ("nothing asked", {"anion": {"ions": frozenset()}}, W),
]


@pytest.mark.parametrize(("words", "changes", "expected"), BOTTLES, ids=[case[0] for case in BOTTLES])
def test_the_outcome_of_a_bottle(words: str, changes: dict, expected: Reception):
    case = example(**changes)
    found = outcomes(case.bottles, judge(case.sample, case.bottles, HOUSE).findings, HOUSE)
    assert outcome_of_bottle(item for item in found if item.bottle == "A") is expected, words
