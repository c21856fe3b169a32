"""What to look at on a bottle, and the suggestion for it as a whole."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from intake.rules.book import Conditions
from intake.rules.examples import BOOK, example
from intake.rules.facts import AcidKind, Line, SeenFacts
from intake.rules.judge import judge
from intake.rules.looks import FAULTS, faults_in, faults_of, looks_of, seen_in_order, wants_strip
from intake.rules.outcomes import Reception
from intake.rules.suggesting import suggest

CHECKED = datetime(2026, 3, 4, 9, tzinfo=UTC)


def bottle(line: Line = Line.ANION, **changes):
    """A bottle of the rules' own good example, but for ``changes``."""
    found = next(one for one in example().bottles if one.line is line)
    return replace(found, **changes)


def test_in_order_says_nothing_wrong_of_any_kind_of_bottle():
    for one in (
        bottle(),
        bottle(Line.CATION),
        bottle(frozen=True),
        bottle(filter_pore_um=0.0),
        bottle(to_brim=None),
    ):
        seen = seen_in_order(one, BOOK)
        assert not faults_in(one, seen)
        SeenFacts(checked_at=CHECKED, **seen)


def test_every_look_that_is_in_order_has_a_fault_that_contradicts_it():
    seen = seen_in_order(bottle(), BOOK)
    for fault in FAULTS:
        for name, value in fault.seen.items():
            assert seen[name] is not value, fault.name
            assert faults_in(bottle(), {**seen, name: value}) == (fault,)


def test_keys_are_single_digits_and_unique():
    assert [fault.key for fault in FAULTS] == [str(digit) for digit in range(1, 10)]
    assert [fault.key for fault in faults_of(bottle(frozen=True))] == [fault.key for fault in FAULTS]


def test_of_a_frozen_bottle_thawing_is_the_fault():
    one = bottle(frozen=True)
    assert seen_in_order(one, BOOK)["frozen"] is True
    assert "thawed" in {fault.name for fault in faults_of(one)}
    assert "headspace" not in seen_in_order(one, BOOK)
    assert not wants_strip(bottle(Line.CATION, frozen=True)), "ice cannot be poured"


def test_fill_is_looked_at_where_the_book_asks_for_it():
    assert "headspace" in seen_in_order(bottle(), replace(BOOK, to_brim=True))


def test_clear_water_is_not_asked_of_an_unfiltered_bottle():
    assert "cloudy" not in seen_in_order(bottle(filter_pore_um=0.0), BOOK)
    assert any("Clear" in look.sentence for look in looks_of(bottle(), BOOK))


@pytest.mark.parametrize(
    ("changes", "wanted"),
    [
        ({"acidified": True, "acid_kind": AcidKind.NITRIC, "acid_ml": 0.5}, True),
        ({"acidified": True, "acid_kind": None, "acid_ml": None}, True),
        ({"acidified": False, "acid_kind": AcidKind.NONE, "acid_ml": None}, False),
        ({"acidified": False, "acid_kind": AcidKind.NITRIC, "acid_ml": 0.5}, True),
        ({"acidified": None, "acid_kind": None, "acid_ml": None}, False),
    ],
)
def test_the_strip_is_for_every_bottle_that_may_hold_acid(changes, wanted):
    """Wisconsin NR 149.442(2)(e): the pH of each bottle that needs a stated pH."""
    assert wants_strip(bottle(Line.CATION, **changes)) is wanted


def suggested(**changes):
    sample = example().sample
    one = bottle(**changes)
    return suggest(judge(sample, [one], BOOK), [one], BOOK)[0]


def test_nothing_wrong_is_clear():
    outcome = suggested()
    assert outcome.clear
    assert (outcome.why, outcome.give_up) == ("", ())


def test_a_broken_bottle_is_refused_whole():
    outcome = suggested(seen=SeenFacts(checked_at=CHECKED, broken=True))
    assert outcome.reception is Reception.REFUSED
    assert outcome.give_up == ()
    assert "broken" in outcome.why


def test_what_is_lost_for_one_ion_leaves_the_others():
    """ISO/IEC 17025:2017 7.4.3: a disclaimer names the results it concerns."""
    outcome = suggested(ions=frozenset({"chloride", "sodium"}))
    assert outcome.give_up == ("sodium",)
    assert outcome.reception is Reception.ACCEPTED
    assert not outcome.clear
    assert outcome.sentence == "The rules suggest: accepted, without sodium."


def test_a_wrong_label_waits_for_the_submitters_word():
    """EPA SW-846 Chapter Nine 9.2.2.7: differences are settled before the sample is assigned."""
    outcome = suggested(seen=SeenFacts(checked_at=CHECKED, label_matches=False))
    assert outcome.reception is Reception.ON_HOLD


def test_a_bottle_without_ions_is_not_clear():
    assert not suggested(ions=frozenset()).clear


def test_what_the_rules_suggest_is_said_in_a_sentence():
    assert suggested().sentence == "The rules suggest: accepted."


def test_a_full_bottle_is_only_looked_for_where_the_book_or_a_row_wants_it():
    loose = replace(BOOK, to_brim=False)
    row = replace(loose.by_ion["chloride"][0], conditions=Conditions(to_brim=True))
    one = bottle(ions=frozenset({"chloride"}))
    assert "headspace" in seen_in_order(one, BOOK)
    assert "headspace" not in seen_in_order(one, loose)
    assert "headspace" in seen_in_order(one, replace(loose, rows=(row,)))
