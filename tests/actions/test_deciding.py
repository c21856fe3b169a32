"""Deciding about checked bottles and single ions."""

import pytest

from intake.actions.checking import check_bottle
from intake.actions.deciding import agree_with_rules, decide_bottle, give_up_ion, restore_ion
from intake.errors import AlreadyDone, EntryProblem, MoveNotAllowed, NotPermitted, SomebodyWasFaster
from intake.models import Bottle, ClockRow, RecordEntry
from tests.factories import RECEIVED, anion_bottle, opened, sample, sent

pytestmark = pytest.mark.django_db


def held(by, submitter, group, rulebook, seen, **changes):
    """A bottle for anions on hold, because ``seen`` was found."""
    consignment = sent(submitter, group, rulebook, sample(bottles=(anion_bottle(**changes),)))
    arrival = opened(by, consignment)
    bottle = consignment.bottles.get()
    return check_bottle(bottle, arrival, by=by, at=RECEIVED, seen=seen).bottle


@pytest.fixture
def headspace(reception, submitter, group, rulebook):
    return held(reception, submitter, group, rulebook, {"headspace": True})


@pytest.fixture
def harmless(reception, submitter, group, rulebook):
    """On hold by a person's doubt alone; the rules have no objection."""
    return held(reception, submitter, group, rulebook, {})


def decide(bottle, by, decision, reason="", **changes):
    return decide_bottle(bottle, by=by, at=RECEIVED, decision=decision, reason=reason, **changes)


@pytest.mark.parametrize(
    ("decision", "reason", "state"),
    [
        ("accepted", "", "ready"),
        ("reserved", "held over night", "ready"),
        ("held", "", "on hold"),
        ("refused", "wrong river", "refused"),
    ],
)
def test_each_decision_moves_the_bottle_and_is_recorded(reception, harmless, decision, reason, state):
    decide(harmless, reception, decision, reason)
    harmless.refresh_from_db()
    assert (harmless.state, harmless.decision, harmless.decision_reason) == (state, decision, reason)
    assert (harmless.decided_by, harmless.decided_at) == (reception, RECEIVED)
    told = RecordEntry.objects.get(verb="bottle.decide")
    assert (told.before["state"], told.after, told.reason) == (
        "on hold",
        {"state": state, "decision": decision},
        reason,
    )
    assert ClockRow.objects.filter(bottle=harmless, waiting=True).exists() == (state != "refused")


@pytest.mark.parametrize("decision", ["reserved", "refused"])
def test_a_reservation_and_a_refusal_need_a_reason(reception, harmless, decision):
    with pytest.raises(EntryProblem) as refused:
        decide(harmless, reception, decision, "  ")
    assert "reason" in refused.value.problems


def test_no_decision_is_no_decision(reception, harmless):
    with pytest.raises(EntryProblem, match="Choose"):
        decide(harmless, reception, "")


def test_only_the_manager_overrules_and_says_why(reception, manager, headspace):
    """ISO/IEC 17025:2017 7.4.3: the departure and who decided to go on are on record."""
    with pytest.raises(EntryProblem, match="Only the lab manager"):
        decide(headspace, reception, "accepted", "looks fine to me")
    with pytest.raises(EntryProblem, match="Say why"):
        decide(headspace, manager, "accepted")
    decide(headspace, manager, "accepted", "the site is anoxic anyway")
    headspace.refresh_from_db()
    assert headspace.state == "ready"
    assert RecordEntry.objects.get(verb="bottle.decide").reason == "the site is anoxic anyway"


@pytest.mark.parametrize("state", ["expected", "placed", "measured", "missing"])
def test_only_checked_bottles_are_decided(reception, harmless, state):
    Bottle.objects.filter(pk=harmless.pk).update(state=state)
    harmless.refresh_from_db()
    for act in (
        lambda: decide(harmless, reception, "held"),
        lambda: agree_with_rules(harmless, by=reception, at=RECEIVED),
        lambda: give_up_ion(harmless, by=reception, at=RECEIVED, ion="nitrate", reason="old"),
    ):
        with pytest.raises(MoveNotAllowed, match="needs a check"):
            act()


def test_a_refused_bottle_may_be_taken_back_up(reception, harmless):
    decide(harmless, reception, "refused", "wrong river")
    decide(harmless, reception, "accepted")
    assert harmless.state == "ready"
    assert ClockRow.objects.filter(bottle=harmless, waiting=True).exists()


def test_the_second_of_two_at_once_is_told(reception, manager, harmless):
    same = Bottle.objects.get(pk=harmless.pk)
    decide(harmless, reception, "accepted")
    with pytest.raises(SomebodyWasFaster):
        decide(same, manager, "refused", "wrong river")
    harmless.refresh_from_db()
    assert harmless.state == "ready"


def test_the_same_form_twice_counts_once(reception, harmless):
    decide(harmless, reception, "accepted", token="t")
    with pytest.raises(AlreadyDone):
        decide(harmless, reception, "refused", "no", token="t")
    assert harmless.state == "ready"


def test_submitters_decide_nothing(submitter, harmless):
    for act in (
        lambda: decide(harmless, submitter, "accepted"),
        lambda: agree_with_rules(harmless, by=submitter, at=RECEIVED),
        lambda: give_up_ion(harmless, by=submitter, at=RECEIVED, ion="nitrate", reason="x"),
        lambda: restore_ion(harmless, by=submitter, at=RECEIVED, ion="nitrate"),
    ):
        with pytest.raises(NotPermitted):
            act()


def test_a_failing_record_rolls_the_decision_back(reception, harmless, monkeypatch):
    def fail(**_):
        raise RuntimeError("disk full")

    monkeypatch.setattr("intake.record.write", fail)
    with pytest.raises(RuntimeError):
        decide(harmless, reception, "refused", "no")
    harmless.refresh_from_db()
    assert harmless.state == "on hold"


# One ion


def test_one_ion_is_given_up_and_the_others_go_on(reception, harmless):
    give_up_ion(harmless, by=reception, at=RECEIVED, ion="nitrite", reason="too old")
    harmless.refresh_from_db()
    assert harmless.dropped == {"nitrite": "too old"}
    void = dict(ClockRow.objects.filter(bottle=harmless).values_list("ion", "void"))
    assert "nitrite" not in void
    assert void["chloride"] is False
    told = RecordEntry.objects.get(verb="ion.give-up")
    assert (told.after, told.reason) == ({"given up": {"nitrite": "too old"}}, "too old")


def test_an_ion_given_up_may_be_wanted_again(reception, harmless):
    give_up_ion(harmless, by=reception, at=RECEIVED, ion="nitrite", reason="too old")
    restore_ion(harmless, by=reception, at=RECEIVED, ion="nitrite")
    harmless.refresh_from_db()
    assert harmless.dropped == {}
    assert not ClockRow.objects.get(bottle=harmless, ion="nitrite").void
    with pytest.raises(MoveNotAllowed, match="not given up"):
        restore_ion(harmless, by=reception, at=RECEIVED, ion="nitrite")


def test_giving_up_needs_an_ion_of_the_bottle_and_a_reason(reception, harmless):
    with pytest.raises(EntryProblem, match="was not asked for"):
        give_up_ion(harmless, by=reception, at=RECEIVED, ion="sodium", reason="x")
    with pytest.raises(EntryProblem, match="Say why"):
        give_up_ion(harmless, by=reception, at=RECEIVED, ion="nitrite", reason=" ")


def test_giving_up_on_a_stale_bottle_is_told(reception, harmless):
    same = Bottle.objects.get(pk=harmless.pk)
    give_up_ion(harmless, by=reception, at=RECEIVED, ion="nitrite", reason="too old")
    with pytest.raises(SomebodyWasFaster):
        give_up_ion(same, by=reception, at=RECEIVED, ion="nitrate", reason="too old")


# Agreeing with the rules


def test_agreeing_reserves_with_the_sentence_of_the_rules(reception, headspace):
    agree_with_rules(headspace, by=reception, at=RECEIVED)
    headspace.refresh_from_db()
    assert (headspace.state, headspace.decision) == ("ready", "reserved")
    assert "air over the water" in headspace.decision_reason


def test_agreeing_accepts_what_the_rules_do_not_object_to(reception, harmless):
    agree_with_rules(harmless, by=reception, at=RECEIVED)
    assert (harmless.state, harmless.decision, harmless.decision_reason) == ("ready", "accepted", "")


def test_agreeing_refuses_what_is_lost(reception, submitter, group, rulebook):
    bottle = held(reception, submitter, group, rulebook, {"broken": True})
    agree_with_rules(bottle, by=reception, at=RECEIVED)
    assert bottle.state == "refused"
    assert "broken" in bottle.decision_reason


def test_agreeing_holds_what_waits_for_the_submitters_word(reception, submitter, group, rulebook):
    bottle = held(reception, submitter, group, rulebook, {"label_matches": False})
    agree_with_rules(bottle, by=reception, at=RECEIVED)
    assert (bottle.state, bottle.decision) == ("on hold", "held")


def test_agreeing_gives_up_only_the_lost_ions(reception, submitter, group, rulebook):
    """The verdict is per ion: what fails one need not touch another."""
    bottle = held(reception, submitter, group, rulebook, {}, ions=("chloride", "sodium"))
    agree_with_rules(bottle, by=reception, at=RECEIVED)
    bottle.refresh_from_db()
    assert list(bottle.dropped) == ["sodium"]
    assert bottle.state == "ready"
