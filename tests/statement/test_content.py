"""What a statement says, worked out by hand from the moments of the factories."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.actions import placing
from intake.actions.answering import answer_question
from intake.actions.checking import check_bottle
from intake.actions.deciding import decide_bottle, give_up_ion
from intake.actions.injecting import record_injection
from intake.actions.questioning import ask_about, held_bottles
from intake.rules.closing import closing_word, share_used_percent, tally
from intake.rules.judgement import Clock
from intake.saying import said_samples
from intake.stating import statement_content
from tests.bench.bench import SEEN, again, received
from tests.factories import COLLECTED, RECEIVED, anion_bottle, cation_bottle, opened, sample, sent
from tests.statement.closed import INJECTED, NOW, PLACED_AT, consignment_of, measured

pytestmark = pytest.mark.django_db


def said(consignment, line, ion):
    for bottle in statement_content(consignment)["samples"][0]["bottles"]:
        if bottle["line"] == line:
            return next(found for found in bottle["ions"] if found["ion"] == ion)
    raise AssertionError(line)


def test_twelve_hours_of_forty_eight_are_a_quarter(submitter, reception, manager, group, rulebook):
    bottles = measured(submitter, reception, manager, group, rulebook, sample("one"))
    nitrate = said(consignment_of(bottles), "anion", "nitrate")
    assert nitrate["limit"] == "48 h"
    assert nitrate["starts_at"] == "2026-03-03T08:00:00Z"
    assert nitrate["due_at"] == "2026-03-05T08:00:00Z"
    assert nitrate["injected_at"] == "2026-03-03T20:00:00Z"
    assert nitrate["share_percent"] == 25.0
    assert (nitrate["outcome"], nitrate["lateness"], nitrate["further"]) == ("kept", "", [])


@pytest.mark.parametrize(
    ("hours", "outcome", "share"),
    [(48, "kept", 100.0), (60, "late", 125.0), (96, "late", 200.0), (97, "grossly late", 202.1)],
)
def test_lateness_is_told_with_what_it_does_to_the_ion(
    submitter, reception, manager, group, rulebook, hours, outcome, share
):
    bottles = measured(
        submitter, reception, manager, group, rulebook, sample("one"), at=COLLECTED + timedelta(hours=hours)
    )
    consignment = consignment_of(bottles)
    nitrite, nitrate = said(consignment, "anion", "nitrite"), said(consignment, "anion", "nitrate")
    assert (nitrite["outcome"], nitrite["share_percent"]) == (outcome, share)
    if outcome == "kept":
        assert nitrite["lateness"] == ""
    else:
        assert nitrite["lateness"].startswith("is lost")
        assert nitrate["lateness"].startswith("may rise from nitrite")
        assert any("300.1" in source for source in statement_content(consignment)["sources"])


def test_a_repeat_is_judged_on_its_own_injection(submitter, reception, manager, group, rulebook):
    bottles = measured(
        submitter, reception, manager, group, rulebook, sample("one", bottles=(anion_bottle(),))
    )
    placing.take_back_bottles(bottles, by=manager, at=NOW, reason="dilute more")
    placing.place_bottles(again(bottles), by=manager, at=NOW, label="run R2")
    second = COLLECTED + timedelta(hours=60)
    record_injection(again(bottles)[0], by=manager, at=NOW, injected_at=second)
    nitrate = said(consignment_of(bottles), "anion", "nitrate")
    assert (nitrate["outcome"], nitrate["injected_at"]) == ("kept", "2026-03-03T20:00:00Z")
    assert nitrate["further"] == [
        {"injected_at": "2026-03-05T20:00:00Z", "outcome": "late", "share_percent": 125.0}
    ]


def test_decisions_departures_and_corrections_stand_in_it(submitter, reception, manager, group, rulebook):
    bottles = received(
        submitter,
        reception,
        group,
        rulebook,
        sample("one", bottles=(anion_bottle(filter_pore_um=0.8), cation_bottle())),
    )
    anion, cation = bottles
    decide_bottle(cation, by=reception, at=RECEIVED, decision="refused", reason="The cap was broken.")
    give_up_ion(again([anion])[0], by=reception, at=RECEIVED, ion="phosphate", reason="Filter too coarse.")
    content = statement_content(consignment_of(bottles))
    one, two = content["samples"][0]["bottles"]
    assert any("filter" in row["code"] for row in one["departures"])
    phosphate = next(ion for ion in one["ions"] if ion["ion"] == "phosphate")
    assert phosphate["why"] == "given up: Filter too coarse."
    assert (two["decision"], two["decision_reason"]) == ("refused", "The cap was broken.")
    assert two["decided_by"] == str(reception)
    assert {ion["why"] for ion in two["ions"]} == {"the bottle was refused"}
    # 1 mL of acid in 50 mL: (50 + 1) / 50.
    assert two["acid_volume_factor"] == pytest.approx(1.02)
    assert content["arrivals"][0]["temperature_c"] == 4.2
    assert content["arrivals"][0]["received_by"] == str(reception)
    assert content["rulebook"]["version"] == rulebook.version


def test_the_groups_word_on_a_departure_stands_in_it(submitter, reception, manager, group, rulebook):
    consignment = sent(submitter, group, rulebook, sample("one", bottles=(anion_bottle(),)))
    bottle = consignment.bottles.get()
    arrival = opened(reception, consignment)
    check_bottle(bottle, arrival, by=reception, at=RECEIVED, seen={**SEEN, "cold": False}, in_order=False)
    (question,) = ask_about(held_bottles(), by=reception, at=RECEIVED)
    answer_question(question, by=submitter, at=RECEIVED, choice=question.choices[0], words="Please go on.")
    (asked,) = statement_content(consignment_of([bottle]))["samples"][0]["bottles"][0]["questions"]
    assert (asked["answer"], asked["words"]) == (question.choices[0], "Please go on.")
    assert asked["answered_by"] == str(submitter)
    lines = said_samples(statement_content(consignment_of([bottle])))[0].bottles[0].lines
    assert any("The group's word, Sami Submitter" in line and "“Please go on.”" in line for line in lines)


def test_an_unknown_collection_makes_a_measured_ion_void(submitter, reception, manager, group, rulebook):
    unknown = sample("one", collected_at=None, precision="unknown", bottles=(cation_bottle(acid_at=None),))
    (bottle,) = received(submitter, reception, group, rulebook, unknown)
    decide_bottle(bottle, by=manager, at=RECEIVED, decision="accepted", reason="Wanted all the same.")
    placing.place_bottles(again([bottle]), by=manager, at=PLACED_AT, label="run R1")
    record_injection(again([bottle])[0], by=manager, at=NOW, injected_at=INJECTED)
    sodium = said(consignment_of([bottle]), "cation", "sodium")
    assert (sodium["outcome"], sodium["share_percent"]) == ("void", None)
    assert sodium["why"] in (
        "the moment of collection was not stated",
        "a departure makes its holding time void",
    )


def test_content_asks_the_same_of_2_and_12_samples(
    submitter, reception, manager, group, rulebook, django_assert_num_queries
):
    for many in (2, 12):
        bottles = measured(
            submitter, reception, manager, group, rulebook, *(sample(f"S{n}") for n in range(many))
        )
        consignment = consignment_of(bottles)
        statement_content(consignment)
        with django_assert_num_queries(8):
            statement_content(consignment)


MOMENTS = st.datetimes(datetime(2026, 1, 1), datetime(2027, 1, 1), timezones=st.just(UTC))


@given(MOMENTS, st.floats(0.25, 4000), st.floats(0, 9))
def test_the_share_never_contradicts_the_outcome(start, hours, factor):
    due = start + timedelta(hours=hours)
    stop = start + factor * (due - start)
    clock = Clock("b", "nitrate", start, None, due, start + 2 * (due - start), 1, "")
    share = share_used_percent(start, due, stop)
    assert (share <= 100.0) is (closing_word(clock, stop) == "kept")


def test_the_tally_keeps_its_order_and_leaves_out_what_is_nothing():
    assert list(tally(["late", "kept", "kept"]).items()) == [("kept", 2), ("late", 1)]
