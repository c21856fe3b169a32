"""The grade of the acid, one line a case."""

import pytest

from intake.rules.examples import example
from intake.rules.facts import AcidKind
from intake.rules.judge import judge


def raised(**cation) -> list[str]:
    case = example(cation=cation)
    found = judge(case.sample, case.bottles, case.book).findings
    return [finding.sentence for finding in found if finding.code == "acid.grade_coarse"]


@pytest.mark.parametrize(
    "grade", ["technical", "Technical grade", "tech.", "battery acid", "commercial 65 %"]
)
def test_acid_that_was_never_made_for_analysis_is_named(grade):
    (sentence,) = raised(acid_grade=grade)
    assert grade in sentence


@pytest.mark.parametrize("grade", ["", "trace analysis", "ultrapure", "p.a.", "biotechnical research"])
def test_other_grades_and_none_are_not(grade):
    assert not raised(acid_grade=grade)


def test_a_grade_without_acid_is_not():
    assert not raised(acid_grade="technical", acidified=False, acid_kind=AcidKind.NONE, acid_ml=None)
