"""Every sentence that is made is a sentence that can be said in another language, to its last word."""

from __future__ import annotations

import pytest
from hypothesis import given, settings

from intake.rules.book import Rulebook
from intake.rules.catalogue import ALL
from intake.rules.examples import BOOK
from intake.rules.findings import Rule
from intake.rules.judge import judge
from intake.rules.judgement import Judgement
from intake.rules.looks import FAULTS, THAWED
from intake.rules.values import checks
from intake.sheets.cells import read_cell
from intake.sheets.columns import BY_CODE
from intake.sheets.problems import CellFault
from intake.shipped import shipped_book
from labqueue.planning.explain import Reader
from labqueue.planning.plan import make_plan
from labqueue.planning.projection import project
from labqueue.planning.units import Problem
from tests.phrasebook.pseudo import book, english_left, identity
from tests.planning.cases import problems
from tests.rules.strategies import consigned
from tests.sheets.test_cells import REFUSED

#: Of these sets of rows, the first is invented and the others are published (``fixtures/rulebooks``).
BOOKS = (BOOK, *(shipped_book(code) for code in ("uk-ecn", "epa-300-0", "us-wastewater")))
#: What stands in the facts of the tests and is nobody's vocabulary, and an equation.
OWN = ("kryptonite", "unobtainium", "technical", "ethylenediamine", "(V + v) / V")


def sentences(judgement: Judgement) -> set[str]:
    said = {clock.reason for clock in judgement.clocks}
    for finding in judgement.findings:
        said |= {finding.sentence, finding.source, *finding.ions}
        said |= {text for remedy in finding.remedies for text in (remedy.stage.value, remedy.sentence)}
    for advice in judgement.advice:
        said |= {advice.sentence, advice.source}
    return said


def own_of(rulebook: Rulebook) -> tuple[str, ...]:
    return (*OWN, rulebook.title)


def assert_known(text: str, own: tuple[str, ...] = OWN) -> None:
    assert identity().say(text) == text
    assert english_left(text, own) == "", (text, book().say(text))


@pytest.mark.parametrize("rule", ALL, ids=lambda rule: rule.code)
def test_all_of_a_rule_and_of_its_example(rule: Rule) -> None:
    example = rule.example
    said = sentences(judge(example.sample, example.bottles, example.book))
    said |= {
        rule.what,
        rule.why,
        rule.source,
        rule.consequence.value,
        *(weight.value for weight in rule.weights),
    }
    for text in said:
        assert_known(text, own_of(example.book))


@settings(max_examples=40, deadline=None)
@given(consigned())
def test_any_facts(facts) -> None:
    for rulebook in BOOKS:
        for text in sentences(judge(*facts, rulebook)):
            assert_known(text, own_of(rulebook))


@settings(max_examples=40, deadline=None)
@given(problems(steps=2))
def test_what_a_plan_says(facts: Problem) -> None:
    plan = make_plan(facts)
    reader = Reader(plan)
    own = tuple(sorted({unit.id for unit in facts.units} | {bottle.id for bottle in facts.bottles}))

    def clock(minute: int) -> str:
        return f"{minute // 1440 + 1} Nov 2026 {minute // 60 % 24:02}:{minute % 60:02} Europe/Vienna"

    said = [text for bottle in facts.bottles for text in reader.sentences(bottle.id, clock)]
    said += [crowd.sentence(clock) for crowd in reader.crowds()]
    said += [seen.sentence(clock) for seen in project(facts, plan.places).values()]
    for text in said:
        assert_known(text, own)


@pytest.mark.parametrize(("code", "raw", "part"), REFUSED)
def test_what_a_cell_is_refused_with(code: str, raw: object, part: str) -> None:
    with pytest.raises(CellFault) as fault:
        read_cell(BY_CODE[code], raw)
    sentence = fault.value.sentence
    assert identity().say(sentence) == sentence
    # What was typed, what may be typed, and headings stay: they are words of the file.
    assert identity().recognise(sentence)[1], sentence


@pytest.mark.parametrize(
    ("mg_l", "ph", "ec25", "alkalinity"),
    [
        ({"calcium": 40.0, "chloride": 71.0}, 7.0, 420.0, None),
        ({"calcium": 40.0, "chloride": 7.0}, 7.0, 420.0, 1.0),
        ({"calcium": 4.0, "chloride": 71.0, "sodium": 1.0}, 7.0, None, None),
        ({"sodium": 0.0}, None, 42.0, 2.0),
        ({"sodium": 23.0, "chloride": 35.0}, 7.0, 1.0, 0.1),
    ],
)
def test_what_is_said_of_values(mg_l, ph, ec25, alkalinity) -> None:
    for check in checks(mg_l, ph, ec25, alkalinity):
        assert_known(check.sentence)
        assert_known(check.source)


def test_what_reception_may_mark() -> None:
    for fault in (*FAULTS, THAWED):
        assert_known(fault.name)
