"""Opening, amending and closing arrivals."""

from datetime import timedelta

import pytest
from django.core import mail

from intake.actions import receiving
from intake.actions.checking import check_bottle, note_sighting
from intake.actions.deciding import decide_bottle
from intake.actions.reviewing import hold_what_no_longer_passes
from intake.errors import AlreadyDone, EntryProblem, MoveNotAllowed, NotPermitted
from intake.models import Arrival, Bottle, Consignment, RecordEntry, Sample
from tests.factories import COLLECTED, RECEIVED, draft, opened, sample, sent

pytestmark = pytest.mark.django_db

#: Which bottles, their samples, all bottles of these, their checks, their injections.
LOOKING_AGAIN = 5


@pytest.fixture
def consignment(submitter, group, rulebook):
    return sent(submitter, group, rulebook, sample("S1"), sample("S2"))


def open_now(by, *consignments, **changes):
    return receiving.open_arrival(
        consignments, by=by, **{"at": RECEIVED, "received_at": RECEIVED, "transport": {}, **changes}
    )


def close(arrival, by, **changes):
    return receiving.close_arrival(
        arrival, by=by, **{"at": RECEIVED + timedelta(hours=1), "more_to_come": False, **changes}
    )


def test_opening_receives_the_consignment_and_is_recorded(reception, consignment):
    arrival = open_now(reception, consignment, transport={"temperature_c": 4.2, "measured_on": "bottle"})
    consignment.refresh_from_db()
    assert (consignment.state, consignment.received_at) == ("received", RECEIVED)
    told = RecordEntry.objects.get(verb="arrival.open")
    assert (told.consignment, told.actor) == (consignment, reception)
    assert told.after["temperature_c"] == 4.2
    assert arrival.received_by == reception


def test_one_arrival_may_hold_two_consignments(reception, submitter, group, rulebook, consignment):
    other = sent(submitter, group, rulebook, sample("T1"), title="Second")
    arrival = open_now(reception, consignment, other)
    assert set(arrival.consignments.all()) == {consignment, other}
    assert RecordEntry.objects.filter(verb="arrival.open").count() == 2


def test_a_consignment_may_come_in_two_boxes(reception, consignment):
    first = opened(reception, consignment)
    consignment.refresh_from_db()
    second = opened(reception, consignment)
    assert list(consignment.arrivals.order_by("pk")) == [first, second]


@pytest.mark.parametrize("state", ["draft", "withdrawn"])
def test_only_what_was_sent_can_arrive(reception, submitter, group, rulebook, state):
    consignment = draft(submitter, group, rulebook, sample())
    Consignment.objects.filter(pk=consignment.pk).update(state=state)
    consignment.refresh_from_db()
    with pytest.raises(MoveNotAllowed, match=state):
        open_now(reception, consignment)
    assert not Arrival.objects.exists()
    assert not RecordEntry.objects.filter(verb="arrival.open").exists()


def test_submitters_open_nothing(submitter, consignment):
    with pytest.raises(NotPermitted):
        open_now(submitter, consignment)


def test_the_same_form_opens_one_arrival_and_tells_its_number(reception, consignment):
    arrival = open_now(reception, consignment, token="once")
    with pytest.raises(AlreadyDone) as again:
        open_now(reception, consignment, token="once")
    assert again.value.outcome == {"number": arrival.number}
    assert Arrival.objects.count() == 1


@pytest.mark.parametrize("minutes", [0, 15])
def test_up_to_a_quarter_of_an_hour_needs_no_reason(reception, consignment, minutes):
    arrival = open_now(reception, consignment, at=RECEIVED + timedelta(minutes=minutes))
    assert arrival.entered_at - arrival.received_at == timedelta(minutes=minutes)


def test_later_than_that_needs_one(reception, consignment):
    late = RECEIVED + timedelta(minutes=15, seconds=1)
    with pytest.raises(EntryProblem) as refused:
        open_now(reception, consignment, at=late, earlier_reason="  ")
    assert "earlier_reason" in refused.value.problems
    arrival = open_now(reception, consignment, at=late, earlier_reason="network was down")
    assert RecordEntry.objects.get(verb="arrival.open").reason == arrival.earlier_reason


def test_an_arrival_in_the_future_is_refused(reception, consignment):
    with pytest.raises(EntryProblem, match="future"):
        open_now(reception, consignment, received_at=RECEIVED + timedelta(seconds=1))


@pytest.mark.parametrize("temperature", [-40, -30.1, 60.1, 400])
def test_a_temperature_no_box_can_have_is_refused(reception, consignment, temperature):
    with pytest.raises(EntryProblem, match="Read the thermometer again"):
        open_now(reception, consignment, transport={"temperature_c": temperature, "measured_on": "bottle"})
    assert not Arrival.objects.exists()


@pytest.mark.parametrize("temperature", [-30, 0, 4.2, 60])
def test_a_temperature_a_box_can_have_is_taken(reception, consignment, temperature):
    told = {"temperature_c": temperature, "measured_on": "melt water"}
    assert open_now(reception, consignment, transport=told).temperature_c == temperature


def test_a_temperature_needs_what_it_was_read_on(reception, consignment):
    with pytest.raises(EntryProblem) as refused:
        open_now(reception, consignment, transport={"temperature_c": 4.0, "measured_on": ""})
    assert "measured_on" in refused.value.problems


def test_arriving_before_collection_is_a_finding_not_a_refusal(reception, submitter, group, rulebook):
    """A wrong moment of collection must not keep a box outside; the rules say what is wrong."""
    consignment = sent(submitter, group, rulebook, sample())
    early = COLLECTED - timedelta(days=1)
    arrival = open_now(reception, consignment, at=early, received_at=early, transport={})
    Bottle.objects.update(arrival=arrival)
    receiving.amend_transport(arrival, by=reception, at=early, transport={"carrier": "bicycle"})
    receiving.amend_transport(
        arrival, by=reception, at=early, transport={"temperature_c": 4.0, "measured_on": "bottle"}
    )
    codes = Sample.objects.get().findings.values_list("code", flat=True)
    assert "collection.after_receipt" in codes


def test_amending_judges_the_bottles_anew_and_records_what_changed(reception, consignment):
    arrival = open_now(reception, consignment)
    Bottle.objects.update(arrival=arrival)
    warm = {"temperature_c": 18.0, "measured_on": "bottle", "cooling": "none"}
    receiving.amend_transport(arrival, by=reception, at=RECEIVED, transport=warm)
    assert "cold.transport" in Sample.objects.first().findings.values_list("code", flat=True)
    told = RecordEntry.objects.get(verb="arrival.amend")
    assert told.before["temperature_c"] is None
    assert told.after["temperature_c"] == 18.0
    receiving.amend_transport(arrival, by=reception, at=RECEIVED, transport=warm)
    assert RecordEntry.objects.filter(verb="arrival.amend").count() == 1, "nothing changed the second time"


def test_a_closed_arrival_takes_nothing_more(reception, submitter, group, rulebook, consignment):
    arrival = opened(reception, consignment)
    close(arrival, reception)
    other = sent(submitter, group, rulebook, sample("T1"), title="Second")
    for act in (
        lambda: receiving.amend_transport(arrival, by=reception, at=RECEIVED, transport={"carrier": "van"}),
        lambda: receiving.add_consignment(arrival, other, by=reception, at=RECEIVED),
        lambda: close(arrival, reception),
    ):
        with pytest.raises(MoveNotAllowed, match="closed"):
            act()


def test_a_further_consignment_joins_once(reception, submitter, group, rulebook, consignment):
    arrival = opened(reception, consignment)
    other = sent(submitter, group, rulebook, sample("T1"), title="Second")
    for _ in range(2):
        receiving.add_consignment(arrival, other, by=reception, at=RECEIVED)
    assert arrival.parts.count() == 2
    other.refresh_from_db()
    assert other.state == "received"
    assert RecordEntry.objects.filter(consignment=other, verb="arrival.open").count() == 1


def test_closing_makes_what_did_not_come_missing_and_tells_the_group(
    reception, submitter, consignment, django_capture_on_commit_callbacks
):
    arrival = opened(reception, consignment)
    came = consignment.bottles.first()
    Bottle.objects.filter(pk=came.pk).update(state="ready", arrival=arrival)
    with django_capture_on_commit_callbacks(execute=True):
        close(arrival, reception)
    states = dict(consignment.bottles.values_list("number", "state"))
    assert states.pop(came.number) == "ready"
    assert set(states.values()) == {"missing"}
    assert sorted(RecordEntry.objects.get(verb="arrival.close").after["missing"]) == sorted(states)
    (letter,) = (message for message in mail.outbox if message.subject.startswith("Arrived"))
    assert letter.to == [submitter.email]
    assert "Not in the box" in letter.body


def test_with_another_box_on_its_way_bottles_stay_expected(reception, consignment):
    close(opened(reception, consignment), reception, more_to_come=True)
    assert set(consignment.bottles.values_list("state", flat=True)) == {"expected"}


def test_closing_needs_the_temperature_or_why_there_is_none(reception, consignment):
    arrival = open_now(reception, consignment)
    with pytest.raises(EntryProblem, match="temperature"):
        close(arrival, reception)
    receiving.amend_transport(arrival, by=reception, at=RECEIVED, transport={"remark": "thermometer broken"})
    assert close(arrival, reception).closed_at


def test_two_people_close_once(reception, manager, consignment):
    arrival = opened(reception, consignment)
    same = Arrival.objects.get(pk=arrival.pk)
    close(arrival, reception)
    with pytest.raises(Exception, match="closed"):
        close(same, manager)
    assert RecordEntry.objects.filter(verb="arrival.close").count() == 1


def test_a_failing_record_leaves_nothing_behind(reception, consignment, monkeypatch):
    def fail(**_):
        raise RuntimeError("disk full")

    monkeypatch.setattr("intake.record.write", fail)
    with pytest.raises(RuntimeError):
        open_now(reception, consignment, token="t")
    assert not Arrival.objects.exists()
    consignment.refresh_from_db()
    assert consignment.state == "sent"


def test_transport_facts_we_do_not_know_are_a_programming_fault(reception, consignment):
    with pytest.raises(ValueError, match="not transport facts"):
        open_now(reception, consignment, transport={"group": 1})


def test_a_temperature_written_down_late_holds_what_was_accepted(reception, manager, consignment):
    """A box may be emptied before its thermometer is read; the figure then still counts."""
    arrival = open_now(reception, consignment)
    looked = {"label_matches": True, "broken": False, "headspace": False}
    strip = {"ph_low": 1.5, "ph_high": 1.5}
    for bottle in consignment.bottles.select_related("consignment__rulebook", "sample"):
        seen = looked | (strip if bottle.line == "cation" else {})
        check_bottle(bottle, arrival, by=reception, at=RECEIVED, seen=seen, in_order=True)
    first, second = consignment.bottles.filter(line="anion")
    assert {first.state, second.state} == {"ready"}
    decide_bottle(first, by=manager, at=RECEIVED, decision="accepted", reason="known to be sterile")
    warm = {"temperature_c": 18.0, "measured_on": "bottle", "cooling": "none"}
    receiving.amend_transport(arrival, by=reception, at=RECEIVED, transport=warm)
    first.refresh_from_db()
    second.refresh_from_db()
    assert first.state == "ready", "a person overruled with a reason"
    assert (second.state, second.decided_by) == ("on hold", None)
    assert "18" in second.decision_reason
    held = RecordEntry.objects.filter(verb="bottle.hold")
    assert second.number in {entry.subject.removeprefix("bottle ") for entry in held}
    assert "18" in held[0].reason


@pytest.mark.parametrize("count", [1, 5])
def test_looking_again_costs_the_same_however_much_passes(
    reception, submitter, group, rulebook, count, django_assert_num_queries
):
    consignment = sent(submitter, group, rulebook, *(sample(f"S{number}") for number in range(count)))
    arrival = opened(reception, consignment)
    Bottle.objects.update(arrival=arrival, state="ready", decision="accepted")
    with django_assert_num_queries(LOOKING_AGAIN):
        hold_what_no_longer_passes(arrival, by=reception, at=RECEIVED)
    assert set(consignment.bottles.values_list("state", flat=True)) == {"ready"}


def test_a_scanned_bottle_is_not_called_missing_unless_somebody_says_so(reception, consignment):
    arrival = opened(reception, consignment)
    seen = consignment.bottles.first()
    note_sighting(seen, arrival, by=reception, at=RECEIVED)
    with pytest.raises(EntryProblem, match="scanned and not checked"):
        close(arrival, reception)
    arrival.refresh_from_db()
    assert arrival.closed_at is None
    close(arrival, reception, scanned_are_here=False)
    seen.refresh_from_db()
    assert seen.state == "missing"


def test_mail_and_record_tell_the_unchecked_from_the_absent(
    reception, consignment, django_capture_on_commit_callbacks
):
    arrival = opened(reception, consignment)
    seen = consignment.bottles.first()
    note_sighting(seen, arrival, by=reception, at=RECEIVED)
    with django_capture_on_commit_callbacks(execute=True):
        close(arrival, reception, scanned_are_here=True)
    seen.refresh_from_db()
    assert seen.state == "expected"
    told = RecordEntry.objects.get(verb="arrival.close").after
    assert told["here, not checked"] == [seen.number]
    assert len(told["missing"]) == 3
    body = mail.outbox[-1].body
    assert str(seen) in body.split("Here, but not checked yet:")[1].split("Not in the box:")[0]
    assert "Still to come" not in body
