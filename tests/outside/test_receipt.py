"""Published requirements for receiving samples, one test each.

Read in the original unless said otherwise: interpretation requests (SIR) of The NELAC Institute
on its V1M2; Wisconsin NR 149.442; Virginia 1VAC30-45-850; EPA SW-846 Chapter Nine (1986); EPA RCRA
Ground-Water Monitoring guide (1992); EPA method 200.7 draft Rev 5 (2001). ISO/IEC 17025:2017 in a copy.
"""

from datetime import timedelta

import pytest

from intake.actions import receiving
from intake.actions.checking import check_bottle
from intake.actions.deciding import agree_with_rules, decide_bottle
from intake.errors import EntryProblem, MoveNotAllowed
from intake.models import BenchCheck, RecordEntry
from tests.factories import RECEIVED, opened, sample, sent

pytestmark = pytest.mark.django_db

NEXT_DAY = RECEIVED + timedelta(days=1)
GOOD = {"label_matches": True, "broken": False, "leaking": False, "headspace": False, "cloudy": False}


@pytest.fixture
def consignment(submitter, group, rulebook):
    return sent(submitter, group, rulebook, sample("S1"), sample("S2"))


def arrived(by, consignment, at=NEXT_DAY, **transport):
    return receiving.open_arrival([consignment], by=by, at=at, received_at=at, transport=transport)


def looked_at(bottle, arrival, by, **seen):
    seen = {**GOOD, **seen}
    return check_bottle(bottle, arrival, by=by, at=arrival.received_at, seen=seen, in_order=True)


def box(temperature, **more):
    return {"temperature_c": temperature, "measured_on": "temperature blank", "cooling": "ice", **more}


def anion(consignment):
    return consignment.bottles.select_related("consignment__rulebook", "sample").filter(line="anion").first()


def test_who_received_and_when_is_on_record(reception, consignment):
    """TNI SIR 20240 and 1VAC30-45-850: receiver, date and time of receipt."""
    arrival = opened(reception, consignment)
    told = RecordEntry.objects.get(verb="arrival.open")
    assert (told.actor, arrival.received_by, arrival.received_at) == (reception, reception, RECEIVED)


def test_the_temperature_is_always_written_down(reception, consignment):
    """NR 149.442(2)(b); TNI SIR 10009: received on ice is not enough, the figure is recorded."""
    arrival = arrived(reception, consignment, cooling="ice")
    with pytest.raises(EntryProblem, match="temperature"):
        receiving.close_arrival(arrival, by=reception, at=NEXT_DAY, more_to_come=True)


def test_what_was_measured_is_named(reception, consignment):
    """NR 149.442(2)(d): a sample, a temperature blank or melt water."""
    with pytest.raises(EntryProblem, match="read on"):
        arrived(reception, consignment, temperature_c=4.0)


@pytest.mark.parametrize(("temperature", "cold"), [(0.5, True), (4.0, True), (6.0, True), (10.5, False)])
def test_above_freezing_to_six_degrees_is_preserved(reception, consignment, temperature, cold):
    """NR 149.442(2)(c): above freezing to 6 °C."""
    arrival = arrived(reception, consignment, **box(temperature))
    bottle = anion(consignment)
    looked_at(bottle, arrival, reception)
    assert bottle.state == ("ready" if cold else "on hold")


def test_still_warm_on_the_day_of_collection_but_on_ice_is_acceptable(reception, consignment):
    """TNI V1M2 5.8.7 (from memory): the same day, when chilling has begun."""
    arrival = arrived(reception, consignment, at=RECEIVED, **box(14.0))
    bottle = anion(consignment)
    looked_at(bottle, arrival, reception)
    assert bottle.state == "ready"
    assert "cold.same_day" in bottle.findings.values_list("code", flat=True)


def test_still_warm_without_any_cooling_is_not(reception, consignment):
    """NR 149.442(2)(c)1-2: the allowance is for what was put and received on ice."""
    arrival = arrived(reception, consignment, at=RECEIVED, **box(14.0, cooling="none"))
    bottle = anion(consignment)
    looked_at(bottle, arrival, reception)
    assert bottle.state == "on hold"


def test_a_missing_seal_is_not_a_broken_one(reception, consignment):
    """EPA Ground-Water Monitoring guide 7.6.2; SW-846 Chapter Nine 9.2.2.7."""
    arrival = arrived(reception, consignment, **box(4.0, seal="absent"))
    bottle = anion(consignment)
    looked_at(bottle, arrival, reception)
    assert bottle.state == "ready"
    receiving.amend_transport(arrival, by=reception, at=NEXT_DAY, transport={"seal": "broken"})
    bottle.refresh_from_db()
    assert bottle.state == "on hold"


def test_each_check_is_recorded_when_made_and_tied_to_one_bottle(reception, consignment):
    """TNI SIR 20120: no blanket line for a batch; each check has its bottle, person and moment."""
    arrival = opened(reception, consignment)
    for minutes, bottle in enumerate(consignment.bottles.filter(line="anion")):
        at = RECEIVED + timedelta(minutes=minutes)
        check_bottle(bottle, arrival, by=reception, at=at, seen=GOOD, in_order=True)
    made = BenchCheck.objects.order_by("pk")
    assert len({check.bottle_id for check in made}) == len(made) == 2
    assert [check.checked_at for check in made] == [RECEIVED, RECEIVED + timedelta(minutes=1)]
    assert RecordEntry.objects.filter(verb="bottle.check").count() == 2


def test_nothing_is_ticked_beforehand(signed_in, reception, consignment):
    """TNI SIR 20120: a pre-printed statement is no check."""
    opened(reception, consignment)
    page = signed_in(reception).get(f"/bottles/{anion(consignment).number}/").text
    form = page.split('aria-labelledby="check"')[1].split("</form>")[0]
    assert "checked>" not in form
    assert " checked" not in form.replace("unchecked", "")
    assert form.count("selected") == form.count('<option value="" selected')


def test_the_ph_of_each_acidified_bottle_is_asked_on_a_portion(signed_in, reception, consignment):
    """NR 149.442(2)(e): of each bottle; EPA 200.7: on a portion, never in the bottle."""
    arrival = opened(reception, consignment)
    bottle = consignment.bottles.filter(line="cation").first()
    address = f"/reception/arrivals/{arrival.number}/desk/"
    page = signed_in(reception).post(address, {"on": bottle.number, "key": ".OK"}).text
    assert "Which pH?" in page
    assert "never into the bottle" in page
    assert not BenchCheck.objects.exists()


def test_a_leaking_bottle_is_not_simply_accepted(reception, consignment):
    """SW-846 Chapter Nine 9.2.2.7."""
    arrival = opened(reception, consignment)
    bottle = anion(consignment)
    with pytest.raises(EntryProblem):
        looked_at(bottle, arrival, reception, leaking=True)
    check_bottle(bottle, arrival, by=reception, at=RECEIVED, seen={"leaking": True})
    assert bottle.state == "on hold"


def test_a_label_unlike_the_list_is_settled_before_the_bottle_goes_on(reception, consignment):
    """SW-846 Chapter Nine 9.2.2.7; ISO/IEC 17025:2017 7.4.3: the customer is asked first."""
    bottle = anion(consignment)
    arrival = opened(reception, consignment)
    check_bottle(bottle, arrival, by=reception, at=RECEIVED, seen={"label_matches": False})
    agree_with_rules(bottle, by=reception, at=RECEIVED)
    assert bottle.state == "on hold"


def test_a_departure_is_recorded_with_its_reason_and_its_ions(reception, consignment):
    """ISO/IEC 17025:2017 7.4.3: the deviation and which results it may affect."""
    bottle = anion(consignment)
    arrival = opened(reception, consignment)
    check_bottle(bottle, arrival, by=reception, at=RECEIVED, seen={"headspace": True})
    agree_with_rules(bottle, by=reception, at=RECEIVED)
    assert (bottle.decision, bottle.state) == ("reserved", "ready")
    told = RecordEntry.objects.get(verb="bottle.decide")
    assert told.reason == bottle.decision_reason != ""
    touched = bottle.findings.get(code="brim.headspace").ions
    assert "nitrite" in touched
    assert "chloride" not in touched


def test_a_refusal_names_its_reason_with_the_laboratory_number(reception, consignment):
    """TNI V1M2 5.8.7.3(b)(iv): remarks that led to rejection are linked to the laboratory number."""
    bottle = anion(consignment)
    with pytest.raises(MoveNotAllowed):
        decide_bottle(bottle, by=reception, at=RECEIVED, decision="refused", reason="wrong river")
    arrival = opened(reception, consignment)
    check_bottle(bottle, arrival, by=reception, at=RECEIVED, seen={"label_matches": False})
    decide_bottle(bottle, by=reception, at=RECEIVED, decision="refused", reason="wrong river")
    told = RecordEntry.objects.get(verb="bottle.decide")
    assert (told.subject, told.reason) == (f"bottle {bottle.number}", "wrong river")
