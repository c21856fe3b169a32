"""Checking bottles at the bench."""

from datetime import timedelta

import pytest

from intake.actions import receiving
from intake.actions.checking import check_bottle, suggestion_for, take_in_unannounced, undo_check
from intake.errors import AlreadyDone, EntryProblem, MoveNotAllowed, NotPermitted, SomebodyWasFaster
from intake.models import BenchCheck, Bottle, ClockRow, Consignment, RecordEntry
from tests.factories import RECEIVED, anion_bottle, cation_bottle, opened, sample, sent

pytestmark = pytest.mark.django_db

GOOD = {
    "cold": True,
    "headspace": False,
    "leaking": False,
    "broken": False,
    "frozen": False,
    "cloudy": False,
    "label_matches": True,
}
STRIP = {"ph_low": 1.5, "ph_high": 1.5}


@pytest.fixture
def consignment(submitter, group, rulebook):
    return sent(submitter, group, rulebook)


@pytest.fixture
def arrival(reception, consignment):
    return opened(reception, consignment)


@pytest.fixture
def bottle(arrival, consignment):
    return consignment.bottles.get(line="anion")


def check(bottle, arrival, by, **changes):
    return check_bottle(
        bottle, arrival, **{"by": by, "at": RECEIVED, "seen": GOOD, "in_order": True, **changes}
    )


def test_a_bottle_in_order_is_accepted_and_its_clocks_wait(reception, arrival, bottle):
    checked = check(bottle, arrival, reception)
    bottle.refresh_from_db()
    assert (bottle.state, bottle.decision, bottle.decided_by) == ("ready", "accepted", reception)
    assert bottle.arrival == arrival
    assert checked.suggestion.clear
    assert ClockRow.objects.filter(bottle=bottle, waiting=True).exists()
    told = RecordEntry.objects.get(verb="bottle.check")
    assert (told.before, told.actor, told.at) == ({"state": "expected"}, reception, RECEIVED)
    assert told.after["state"] == "ready"
    assert told.after["cold"] is True


def test_the_check_belongs_to_this_bottle_alone(reception, arrival, bottle, consignment):
    """TNI interpretation request 20120: each check is tied unequivocally to one sample."""
    check(bottle, arrival, reception)
    assert set(consignment.bottles.exclude(pk=bottle.pk).values_list("state", flat=True)) == {"expected"}
    assert BenchCheck.objects.get().bottle == bottle


@pytest.mark.parametrize(
    ("seen", "code"),
    [
        ({"cold": False}, "cold.transport"),
        ({"headspace": True}, "brim.headspace"),
        ({"leaking": True}, "bottle.leaking"),
        ({"broken": True}, "bottle.broken"),
        ({"frozen": True}, "frozen.not_allowed"),
        ({"cloudy": True}, "bottle.cloudy"),
        ({"label_matches": False}, "label.mismatch"),
    ],
)
def test_what_is_seen_outweighs_what_was_declared(reception, submitter, group, rulebook, seen, code):
    late = sent(submitter, group, rulebook, sample())
    receiving_day = RECEIVED + timedelta(days=1)
    arrival = receiving.open_arrival(
        [late],
        by=reception,
        at=receiving_day,
        received_at=receiving_day,
        transport={"temperature_c": 4.0, "measured_on": "bottle", "cooling": "ice"},
    )
    bottle = late.bottles.get(line="anion")
    check(bottle, arrival, reception, at=receiving_day, seen=seen, in_order=False)
    bottle.refresh_from_db()
    assert (bottle.state, bottle.decided_by) == ("on hold", None)
    assert code in bottle.findings.values_list("code", flat=True)


def test_in_order_does_not_pass_what_the_rules_object_to(reception, submitter, group, rulebook):
    acid = anion_bottle(acidified=True, acid_kind="nitric", acid_mol_l=1.0, acid_ml=0.5)
    consignment = sent(submitter, group, rulebook, sample(bottles=(acid,)))
    bottle = consignment.bottles.get()
    checked = check(bottle, opened(reception, consignment), reception)
    assert bottle.state == "on hold"
    assert not checked.suggestion.clear
    assert "acid" in checked.suggestion.why


def test_too_little_acid_seen_holds_the_bottle(reception, arrival, consignment):
    bottle = consignment.bottles.get(line="cation")
    checked = check(bottle, arrival, reception, seen={**GOOD, "ph_low": 6.5, "ph_high": 7.0})
    assert bottle.state == "on hold"
    assert not checked.suggestion.clear


def test_a_strip_that_shows_acid_passes(reception, arrival, consignment):
    bottle = consignment.bottles.get(line="cation")
    check(bottle, arrival, reception, seen={**GOOD, **STRIP})
    assert bottle.state == "ready"


@pytest.mark.parametrize(("low", "high"), [(-0.1, 2), (1, 15), (14.1, 14.1)])
def test_a_ph_no_strip_shows_is_refused(reception, arrival, bottle, low, high):
    with pytest.raises(EntryProblem, match="between 0 and 14"):
        check(bottle, arrival, reception, seen={**GOOD, "ph_low": low, "ph_high": high})
    assert not BenchCheck.objects.exists()


def test_a_range_is_given_lower_value_first(reception, arrival, bottle):
    with pytest.raises(EntryProblem, match="lower value first"):
        check(bottle, arrival, reception, seen={**GOOD, "ph_low": 3, "ph_high": 2})


@pytest.mark.parametrize(
    "fault", [{"cold": False}, {"headspace": True}, {"leaking": True}, {"label_matches": False}]
)
def test_nothing_is_in_order_and_wrong_at_once(reception, arrival, bottle, fault):
    with pytest.raises(EntryProblem, match="in order and"):
        check(bottle, arrival, reception, seen={**GOOD, **fault})
    bottle.refresh_from_db()
    assert bottle.state == "expected"


def test_checking_again_keeps_the_former_check_as_undone(reception, manager, arrival, bottle):
    check(bottle, arrival, reception)
    check(bottle, arrival, manager, seen={"leaking": True}, in_order=False)
    assert bottle.state == "on hold"
    former, latest = BenchCheck.objects.order_by("pk")
    assert (former.undone_by, latest.undone_at) == (manager, None)
    assert ClockRow.objects.filter(bottle=bottle, waiting=True).exists(), "it still waits in the laboratory"


def test_undo_brings_the_bottle_back(reception, arrival, bottle):
    check(bottle, arrival, reception)
    undo_check(bottle, by=reception, at=RECEIVED)
    bottle.refresh_from_db()
    assert (bottle.state, bottle.arrival, bottle.decision) == ("expected", None, "")
    assert BenchCheck.objects.get().undone_by == reception
    assert not ClockRow.objects.filter(bottle=bottle, waiting=True).exists()
    assert RecordEntry.objects.filter(verb="bottle.undo").count() == 1
    with pytest.raises(MoveNotAllowed, match="nothing to undo"):
        undo_check(bottle, by=reception, at=RECEIVED)


@pytest.mark.parametrize("state", ["placed", "measured"])
def test_what_stands_on_the_bench_is_not_checked_or_undone(reception, arrival, bottle, state):
    check(bottle, arrival, reception)
    Bottle.objects.filter(pk=bottle.pk).update(state=state)
    bottle.refresh_from_db()
    with pytest.raises(MoveNotAllowed):
        check(bottle, arrival, reception, seen={"leaking": True}, in_order=False)
    with pytest.raises(MoveNotAllowed):
        undo_check(bottle, by=reception, at=RECEIVED)
    assert BenchCheck.objects.filter(undone_at__isnull=True).count() == 1


def test_a_missing_bottle_that_turns_up_is_taken_in(reception, consignment, arrival, bottle):
    receiving.close_arrival(arrival, by=reception, at=RECEIVED, more_to_come=False)
    bottle.refresh_from_db()
    assert bottle.state == "missing"
    check(bottle, opened(reception, Consignment.objects.get()), reception)
    assert bottle.state == "ready"


def test_a_bottle_of_another_consignment_is_refused(reception, submitter, group, rulebook, arrival):
    other = sent(submitter, group, rulebook, sample("T1"), title="Second")
    with pytest.raises(MoveNotAllowed, match="not part of this arrival"):
        check(other.bottles.first(), arrival, reception)


def test_nothing_is_checked_in_a_closed_arrival(reception, arrival, bottle):
    receiving.close_arrival(arrival, by=reception, at=RECEIVED, more_to_come=True)
    with pytest.raises(MoveNotAllowed, match="closed"):
        check(bottle, arrival, reception)


def test_the_second_of_two_at_once_is_told(reception, manager, arrival, bottle):
    same = Bottle.objects.get(pk=bottle.pk)
    check(bottle, arrival, reception)
    with pytest.raises(SomebodyWasFaster, match="Scan it again"):
        check(same, arrival, manager)
    assert BenchCheck.objects.get().checked_by == reception


def test_the_same_scan_twice_counts_once(reception, arrival, bottle):
    check(bottle, arrival, reception, token="scan")
    with pytest.raises(AlreadyDone):
        check(bottle, arrival, reception, token="scan")
    assert BenchCheck.objects.count() == 1
    assert RecordEntry.objects.filter(verb="bottle.check").count() == 1


def test_a_delayed_scan_keeps_the_moment_of_the_look(reception, arrival, bottle):
    looked = RECEIVED + timedelta(minutes=1)
    sent_at = looked + timedelta(minutes=9)
    check(bottle, arrival, reception, at=sent_at, checked_at=looked)
    made = BenchCheck.objects.get()
    assert (made.checked_at, made.entered_at) == (looked, sent_at)


@pytest.mark.parametrize("away", [timedelta(hours=-12, seconds=-1), timedelta(seconds=1)])
def test_a_look_long_ago_or_in_the_future_is_refused(reception, arrival, bottle, away):
    with pytest.raises(EntryProblem, match="Look at the bottle again"):
        check(bottle, arrival, reception, checked_at=RECEIVED + away)


def test_submitters_check_nothing(submitter, arrival, bottle):
    with pytest.raises(NotPermitted):
        check(bottle, arrival, submitter)
    with pytest.raises(NotPermitted):
        undo_check(bottle, by=submitter, at=RECEIVED)


def test_a_failing_record_rolls_everything_back(reception, arrival, bottle, monkeypatch):
    def fail(**_):
        raise RuntimeError("disk full")

    monkeypatch.setattr("intake.record.write", fail)
    with pytest.raises(RuntimeError):
        check(bottle, arrival, reception, token="t")
    bottle.refresh_from_db()
    assert bottle.state == "expected"
    assert not BenchCheck.objects.exists()


def test_what_nobody_can_see_is_a_programming_fault(reception, arrival, bottle):
    with pytest.raises(ValueError, match="not things reception sees"):
        check(bottle, arrival, reception, seen={"state": "ready"})


# Bottles that nobody announced


def take_in(arrival, by, **changes):
    entry = sample("mystery", bottles=(cation_bottle(acidified=None, acid_kind=""),), collected_at=None)
    return take_in_unannounced(arrival, **{"by": by, "at": RECEIVED, "entry": entry, **changes})


def test_a_surprise_joins_a_consignment_of_the_arrival(reception, arrival, consignment):
    bottle = take_in(arrival, reception, consignment=consignment)
    assert (bottle.announced, bottle.state, bottle.consignment) == (False, "expected", consignment)
    assert bottle.sample.own_id == "mystery"
    assert (
        "collection.missing"
        in {row.code for row in bottle.sample.findings.all()}
        | {code for code in bottle.sample.findings.values_list("code", flat=True) if "collection" in code}
        or bottle.sample.findings.filter(code__startswith="collection.").exists()
    )
    assert RecordEntry.objects.filter(verb="bottle.take-in").count() == 1


def test_a_surprise_of_a_group_opens_a_consignment_of_its_own(reception, arrival, other_group):
    bottle = take_in(arrival, reception, group=other_group)
    assert bottle.consignment.group == other_group
    assert bottle.consignment.state == "received"
    assert arrival.parts.count() == 2
    check(bottle, arrival, reception, seen={**GOOD, **STRIP}, in_order=False)
    assert bottle.state == "on hold"


def test_a_surprise_of_nobody_known_stands_under_a_group_to_be_named(reception, arrival):
    bottle = take_in(arrival, reception)
    assert not bottle.announced
    assert not bottle.consignment.group.members.exists()
    assert bottle.consignment in arrival.consignments.all()


def test_a_surprise_is_taken_in_once(reception, arrival, consignment):
    take_in(arrival, reception, consignment=consignment, token="t")
    with pytest.raises(AlreadyDone):
        take_in(arrival, reception, consignment=consignment, token="t")
    assert Bottle.objects.filter(announced=False).count() == 1


def test_the_suggestion_follows_the_latest_look(reception, arrival, bottle):
    assert suggestion_for(bottle).clear
    check(bottle, arrival, reception, seen={"broken": True}, in_order=False)
    assert suggestion_for(bottle).reception.value == "refused"
