"""What a group is asked about a bottle on hold, and which answers the rulebook allows."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.rules.book import Outcome
from intake.rules.catalogue import BY_CODE
from intake.rules.choosing import (
    DOUBT,
    WITHOUT_CLOCK,
    Choice,
    causes_of,
    choices_for,
    disclaimer,
    useful_time,
)
from intake.rules.findings import Consequence
from intake.rules.outcomes import Reception
from intake.rules.suggesting import BottleOutcome
from tests.rules.cases import HOUSE

ASKED = datetime(2026, 3, 3, 14, 0, tzinfo=UTC)


def finding(code, *ions):
    return BY_CODE[code].finding(f"Found {code}.", "seen", bottle="b", ions=ions)


def outcome(*findings, reception=Reception.ON_HOLD):
    return BottleOutcome("b", reception, findings=findings)


def test_only_what_wants_the_submitters_word_is_asked_each_once():
    found = causes_of(
        outcome(
            finding("label.mismatch", "nitrate"),
            finding("label.mismatch", "chloride"),
            finding("bottle.cloudy"),
        ),
        HOUSE,
    )
    assert [(cause.code, cause.ions) for cause in found] == [("label.mismatch", ("nitrate", "chloride"))]


def test_a_doubt_is_asked_where_the_rules_want_no_word():
    (cause,) = causes_of(outcome(finding("bottle.cloudy")), HOUSE, "smells of fuel")
    assert (cause.code, cause.sentence) == (DOUBT, "smells of fuel")
    (other,) = causes_of(outcome(finding("bottle.cloudy")), HOUSE)
    assert other.code == "bottle.cloudy"
    (nothing,) = causes_of(outcome(), HOUSE)
    assert nothing.code == DOUBT
    assert nothing.sentence


@pytest.mark.parametrize("code", sorted(BY_CODE))
@pytest.mark.parametrize("departure", list(Outcome))
def test_no_reservation_where_the_book_refuses_or_the_water_is_lost(code, departure):
    """Wisconsin NR 149.46(2)(a)1: the customer's word alone does not save drinking water."""
    allowed = choices_for(code, replace(HOUSE, departure=departure), some_left=True)
    consequence = BY_CODE[code].consequence
    refused = consequence is Consequence.LOST or (
        departure is Outcome.REFUSE and consequence in (Consequence.DEPARTURE, Consequence.WORD)
    )
    assert (Choice.RESERVATION in allowed) is not refused
    assert allowed[-2:] == (Choice.DISCARD, Choice.RESEND)


def test_ions_are_given_up_only_where_others_are_left():
    assert Choice.DROP in choices_for("cold.transport", HOUSE, some_left=True)
    assert Choice.DROP not in choices_for("cold.transport", HOUSE, some_left=False)


@given(st.timedeltas(min_value=timedelta(seconds=1), max_value=timedelta(days=400)))
def test_reminder_and_handing_over_come_in_time(span):
    times = useful_time(ASKED, ASKED + span)
    assert ASKED <= times.remind_at <= times.falls_at < ASKED + span
    assert abs((times.remind_at - ASKED) * 2 - span) <= timedelta(microseconds=2)


def test_without_a_clock_there_is_a_time_all_the_same():
    assert useful_time(ASKED, None).falls_at < ASKED + WITHOUT_CLOCK


def test_a_disclaimer_names_the_results():
    assert disclaimer("It was warm.", ["nitrite", "nitrate"]) == (
        "Results for nitrite and nitrate may be affected. It was warm."
    )
    assert "all ions" in disclaimer("It was warm.", [])


def test_without_a_clock_the_time_begins_when_it_was_asked():
    useful = useful_time(ASKED, None)
    assert ASKED < useful.remind_at < ASKED + WITHOUT_CLOCK
