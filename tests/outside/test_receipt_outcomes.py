"""Published requirements for what becomes of a bottle after it was checked, one test each.

Sources and how they were read: see ``test_receipt.py``. Further: New Jersey N.J.A.C. 7:18-9.4; EPA
methods 300.0 Rev 2.1 (1993) and 200.7 Rev 4.4 (1994); Wisconsin NR 149.46. Which of two sources that
contradict each other holds is a matter of the rulebook, and both are tested.
"""

from datetime import timedelta

import pytest

from intake.actions import receiving
from intake.actions.answering import answer_question
from intake.actions.checking import check_bottle, suggestion_for
from intake.actions.deciding import agree_with_rules
from intake.actions.rulebooks import take_rulebooks
from intake.actions.stowing import make_place, store_bottle
from intake.models import AdviceRow, BenchCheck, Bottle, ClockRow, Question, RecordEntry
from intake.shipped import shipped_data
from intake.states import BOTTLE_MOVES, may_move
from intake.telling import tell
from tests.conftest import TAKEN
from tests.factories import RECEIVED, anion_bottle, cation_bottle, opened, sample, sent
from tests.outside.test_receipt import NEXT_DAY, anion, arrived, box, looked_at

pytestmark = pytest.mark.django_db


@pytest.fixture
def consignment(submitter, group, rulebook):
    return sent(submitter, group, rulebook, sample("S1"), sample("S2"))


@pytest.fixture
def drinking_water(system):
    (version,) = take_rulebooks([shipped_data("us-drinking-water")], by=system, at=TAKEN)
    return version


@pytest.fixture
def house(rulebook):
    return rulebook


def outcomes_of(bottle):
    return {ion.ion: ion.reception.value for ion in suggestion_for(bottle).ions}


def unlike(consignment, arrival, by):
    """A bottle on hold since its label is unlike the list."""
    bottle = anion(consignment)
    return check_bottle(bottle, arrival, by=by, at=RECEIVED, seen={"label_matches": False}).bottle


def test_identity_is_a_number_of_ours_that_stays_with_the_bottle(reception, consignment):
    """ISO/IEC 17025:2017 7.4.2: unambiguous, kept while the laboratory is responsible."""
    numbers = list(Bottle.objects.values_list("number", flat=True))
    assert len(set(numbers)) == len(numbers) == 4
    arrival = opened(reception, consignment)
    bottle = unlike(consignment, arrival, reception)
    bottle.refresh_from_db()
    assert bottle.number in numbers
    linked = RecordEntry.objects.filter(subject=f"bottle {bottle.number}")
    assert linked.exists(), "the number leads to its history (SW-846 Chapter Nine 9.2.2.7)"


def test_a_warm_box_costs_nitrate_and_not_chloride(reception, consignment):
    """EPA 300.0 8.2: chloride has no temperature; ISO/IEC 17025:2017 7.4.3: which results."""
    arrival = arrived(reception, consignment, **box(12.0, cooling="none"))
    bottle = anion(consignment)
    looked_at(bottle, arrival, reception)
    stands = outcomes_of(bottle)
    assert stands["chloride"] == "accepted"
    assert stands["nitrate"] != "accepted"


@pytest.mark.parametrize(("book", "counts"), [("house", True), ("drinking_water", False)])
def test_whether_gel_packs_count_as_ice_is_the_rulebooks_word(
    reception, submitter, group, request, book, counts
):
    """NR 149.442(2)(c): may not; EPA Ground-Water Monitoring guide: may. Warm, on the day of collection."""
    consignment = sent(submitter, group, request.getfixturevalue(book), sample("G1"))
    arrival = arrived(reception, consignment, at=RECEIVED, **box(14.0, cooling="gel packs"))
    bottle = anion(consignment)
    looked_at(bottle, arrival, reception)
    codes = set(bottle.findings.values_list("code", flat=True))
    assert ("cold.same_day" in codes) is counts


def test_a_bottle_frozen_without_that_being_meant_is_not_simply_accepted(reception, consignment):
    """40 CFR 136 footnote 18 (from memory): not without data; a laboratory in Maine refuses it."""
    bottle = anion(consignment)
    arrival = opened(reception, consignment)
    check_bottle(bottle, arrival, by=reception, at=RECEIVED, seen={"frozen": True})
    assert bottle.state == "on hold"
    assert not suggestion_for(bottle).clear


def test_the_air_over_the_water_is_recorded_for_each_bottle(reception, consignment):
    """EPA Ground-Water Monitoring guide 7.5.1; N.J.A.C. 7:18-9.4(a)4."""
    arrival = opened(reception, consignment)
    looked_at(anion(consignment), arrival, reception)
    assert BenchCheck.objects.get().headspace is False


def test_without_the_moment_of_sampling_the_holding_time_is_not_shown(reception, submitter, group, rulebook):
    """TNI V1M2 5.8.6(a), SIR 20120; ISO/IEC 17025:2017 7.3.3(b): date and time of sampling."""
    undated = sample("U1", collected_at=None, precision="unknown")
    consignment = sent(submitter, group, rulebook, undated)
    arrival = opened(reception, consignment)
    bottle = anion(consignment)
    looked_at(bottle, arrival, reception)
    assert bottle.state == "on hold"


def test_an_arrival_before_the_collection_is_not_passed(reception, submitter, group, rulebook):
    """ISO/IEC 17025:2017 7.4.3: doubt about the item is settled before the work goes on."""
    early = sample("E1", collected_at=RECEIVED + timedelta(hours=3))
    consignment = sent(submitter, group, rulebook, early)
    arrival = opened(reception, consignment)
    bottle = anion(consignment)
    looked_at(bottle, arrival, reception)
    assert bottle.state == "on hold"
    assert "collection.after_receipt" in bottle.sample.findings.values_list("code", flat=True)


def test_the_container_is_held_against_the_rule(reception, submitter, group, rulebook):
    """TNI V1M2 5.8.6 (from memory); 40 CFR 136.3 Table II: fluoride in plastic only."""
    glass = sample("C1", bottles=(anion_bottle(container="glass"),))
    consignment = sent(submitter, group, rulebook, glass)
    arrival = opened(reception, consignment)
    bottle = anion(consignment)
    looked_at(bottle, arrival, reception)
    stands = outcomes_of(bottle)
    assert stands["fluoride"] != "accepted"
    assert stands["sulfate"] == "accepted"


def test_after_acid_the_bottle_stands_sixteen_hours(reception, submitter, group, system):
    """EPA Method 200.7 Rev 4.4 (1994) 8.2: to pH below 2, mixed, 16 h, checked again."""
    (metals,) = take_rulebooks([shipped_data("epa-200-7")], by=system, at=TAKEN)
    ions = ("sodium", "potassium", "magnesium", "calcium")
    consignment = sent(submitter, group, metals, sample("M1", bottles=(cation_bottle(ions=ions),)))
    arrival = opened(reception, consignment)
    bottle = consignment.bottles.select_related("consignment__rulebook", "sample").get()
    check_bottle(bottle, arrival, by=reception, at=RECEIVED, seen={"ph_low": 3.0, "ph_high": 3.0})
    advice = AdviceRow.objects.get(bottle=bottle, code="acid.add")
    assert "16 h" in advice.sentence
    assert "No clock starts anew" in advice.sentence


def test_departure_consultation_and_disclaimer_are_recorded(reception, submitter, consignment):
    """ISO/IEC 17025:2017 7.4.3: what departs, who was consulted and answered what, and the disclaimer."""
    arrival = opened(reception, consignment)
    bottle = unlike(consignment, arrival, reception)
    receiving.close_arrival(arrival, by=reception, at=RECEIVED, more_to_come=True)
    asked = RecordEntry.objects.get(verb="question.ask")
    assert asked.after["found"]
    assert submitter.name in tell(asked, "UTC").sentence
    later = RECEIVED + timedelta(minutes=10)
    question = Question.objects.get()
    choice = "go on with a reservation"
    answer_question(question, by=submitter, at=later, choice=choice, words="label swapped")
    told = RecordEntry.objects.get(verb="question.answer")
    assert (told.actor, told.after["answer"]) == (submitter, choice)
    assert told.reason == "label swapped"
    assert "nitrate" in told.after["disclaimer"], "it names the results that may be affected"
    bottle.refresh_from_db()
    assert (bottle.state, bottle.decision) == ("ready", "reserved")
    assert told.after["disclaimer"] in bottle.decision_reason


def test_the_customer_is_asked_before_the_work_goes_on(reception, consignment):
    """ISO/IEC 17025:2017 7.4.3; NR 149.442(1)(c): a bottle in doubt cannot be placed in a run."""
    arrival = opened(reception, consignment)
    bottle = unlike(consignment, arrival, reception)
    agree_with_rules(bottle, by=reception, at=RECEIVED)
    assert bottle.state == "on hold"
    assert not may_move(BOTTLE_MOVES, bottle.state, "placed")


def test_clocks_run_on_while_a_bottle_is_on_hold(reception, consignment):
    """A limit counts from collection (EPA 300.0 8.3), whatever the laboratory waits for."""
    arrival = opened(reception, consignment)
    bottle = unlike(consignment, arrival, reception)
    due = set(ClockRow.objects.filter(bottle=bottle).values_list("due_at", flat=True))
    receiving.close_arrival(arrival, by=reception, at=RECEIVED, more_to_come=True)
    assert due
    assert set(ClockRow.objects.filter(bottle=bottle).values_list("due_at", flat=True)) == due
    assert not ClockRow.objects.filter(bottle=bottle, stopped_at__isnull=False).exists()


def test_drinking_water_badly_kept_is_refused_by_default(reception, submitter, group, drinking_water):
    """NR 149.46(2)(a)1: late, wrongly preserved or in a wrong container."""
    consignment = sent(submitter, group, drinking_water, sample("D1"))
    arrival = arrived(reception, consignment, **box(12.0, cooling="none"))
    bottle = anion(consignment)
    looked_at(bottle, arrival, reception)
    assert bottle.state == "on hold"
    assert outcomes_of(bottle)["nitrate"] == "refused"


def test_the_receipt_log_has_moment_number_and_person(reception, consignment):
    """1VAC30-45-850: date and time of receipt, laboratory number, initials."""
    arrival = opened(reception, consignment)
    looked_at(anion(consignment), arrival, reception)
    told = RecordEntry.objects.get(verb="bottle.check")
    assert (told.actor, told.at, told.subject) == (
        reception,
        RECEIVED,
        f"bottle {anion(consignment).number}",
    )


def test_where_a_bottle_is_stored_is_recorded(reception, consignment):
    """SW-846 Chapter Nine 9.2.2.7; ISO/IEC 17025:2017 7.4.4 (from memory)."""
    arrival = opened(reception, consignment)
    bottle = anion(consignment)
    looked_at(bottle, arrival, reception)
    fridge = make_place(by=reception, at=RECEIVED, name="Fridge 2", kind="fridge")
    store_bottle(bottle, fridge, by=reception, at=NEXT_DAY)
    told = RecordEntry.objects.get(verb="bottle.store")
    assert (told.after["stands in"], told.at) == ("Fridge 2", NEXT_DAY)
