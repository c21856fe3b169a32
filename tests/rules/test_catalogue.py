"""Every finding can be raised, is documented, and says what the catalogue says of it."""

import re

import pytest

from intake.rules.catalogue import ALL, BY_CODE
from intake.rules.examples import example
from intake.rules.findings import Rule
from intake.rules.judge import judge
from intake.rules.judgement import Weight

IDS = [rule.code for rule in ALL]


def test_the_example_to_depart_from_raises_nothing():
    base = example()
    assert judge(base.sample, base.bottles, base.book).findings == ()


def test_codes_are_unique_and_dotted_lower_case():
    assert len(BY_CODE) == len(ALL)
    assert all(re.fullmatch(r"[a-z_]+(\.[a-z_0-9]+)+", code) for code in IDS)


@pytest.mark.parametrize("rule", ALL, ids=IDS)
def test_the_example_raises_the_finding(rule: Rule):
    case = rule.example
    raised = [f for f in judge(case.sample, case.bottles, case.book).findings if f.code == rule.code]
    assert raised
    for finding in raised:
        assert finding.weight in rule.weights
        assert finding.source
        assert finding.sentence.endswith((".", "?"))
        assert finding.fact


@pytest.mark.parametrize("rule", ALL, ids=IDS)
def test_the_finding_is_documented(rule: Rule):
    assert rule.weights
    assert rule.what
    assert len(rule.why) > 20
    assert rule.remedies
    assert rule.source
    for remedy in rule.remedies:
        assert remedy.sentence.endswith((".", "?"))
    banned = re.compile(r"\b(invalid|required)\b", re.IGNORECASE)
    texts = [rule.what, rule.why, *(remedy.sentence for remedy in rule.remedies)]
    assert not any(banned.search(text) for text in texts)


def test_a_weight_the_catalogue_does_not_name_is_refused():
    with pytest.raises(ValueError, match="has no weight"):
        BY_CODE["seal.absent"].finding("Said.", "seal", weight=Weight.BAR)
