"""Places kept for announced bottles: planned, said, taken when they come, given up when they do not."""

from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.conf import settings
from django.urls import reverse

from intake.actions import receiving, sending
from intake.actions.checking import check_bottle
from intake.errors import EntryProblem, SomebodyWasFaster
from intake.models import Bottle, RecordEntry
from labqueue import runlist
from labqueue.actions import dating, proposing, running
from labqueue.actions.accepting import accept_plan
from labqueue.actions.equipping import UNIT_FIELDS, change_unit
from labqueue.drafting import plan_of, stale_sentences
from labqueue.foresight import foresee
from labqueue.models import Place, PlanDraft, Run
from tests.bench.bench import SEEN, again, river
from tests.factories import RECEIVED, sent

pytestmark = pytest.mark.django_db
NOW = RECEIVED + timedelta(hours=1)
#: The day after the first bottles came, on the laboratory's calendar.
TOMORROW = RECEIVED.astimezone(ZoneInfo(settings.TIME_ZONE)).date() + timedelta(days=1)
READY_FROM = time(9)
READY_AT = datetime.combine(TOMORROW, READY_FROM, ZoneInfo(settings.TIME_ZONE))


@pytest.fixture
def announce(submitter, group, rulebook):
    """``announce(count)`` sends a consignment that is wanted tomorrow; its bottles are still to come."""

    def make(count, on=TOMORROW):
        consignment = sent(submitter, group, rulebook, *river(count), title="To come")
        consignment.requested_on = on
        consignment.save(update_fields=["requested_on"])
        return consignment

    return make


def arrived(reception, consignment, at):
    return receiving.open_arrival(
        [consignment],
        by=reception,
        at=at,
        received_at=at,
        transport={"temperature_c": 4.0, "measured_on": "temperature blank", "cooling": "ice"},
    )


@pytest.fixture
def receive(reception):
    def make(consignment, *bottles, at=READY_AT - timedelta(hours=1)):
        arrival = consignment.arrival_parts.first()
        arrival = arrival.arrival if arrival else arrived(reception, consignment, at)
        for bottle in bottles or consignment.bottles.all():
            check_bottle(bottle, arrival, by=reception, at=at, seen=SEEN, in_order=True)

    return make


@pytest.fixture
def reserve(units, manager):
    def make(*names, at=NOW):
        chosen = [units[name] for name in names or ("Anion 1",)]
        draft = proposing.propose_plan(chosen, 3, by=manager, at=at, ready_from=READY_FROM)
        return accept_plan(draft, by=manager, at=at, version=0)

    return make


def start(run, manager):
    at = max(run.planned_start, NOW)
    return running.start_run(run, by=manager, at=at, started_at=at, version=run.version)


def reserved(run):
    return list(run.places.filter(reserved=True))


def test_without_asking_nothing_is_reserved(announce, ready, units, manager):
    announce(3)
    bottles = ready(2)
    draft = proposing.propose_plan([units["Anion 1"]], 3, by=manager, at=NOW)
    assert set(plan_of(draft).places) == {bottle.number for bottle in bottles}
    assert draft.announced == {}


def test_a_bottle_to_come_gets_a_place_and_stays_expected(announce, reserve):
    consignment = announce(3)
    (run,) = reserve()
    assert run.planned_start >= READY_AT
    assert {place.bottle.state for place in reserved(run)} == {"expected"}
    assert len(reserved(run)) == 3
    assert not run.places.filter(awaiting=True).exists()
    planned = RecordEntry.objects.get(verb="run.plan").after
    assert planned["reserved for bottles to come"] == sorted(b.number for b in consignment.bottles.all())


def test_what_has_no_day_or_should_be_here_is_counted_and_gets_no_place(announce, units, manager):
    announce(2, on=None)
    announce(1, on=TOMORROW - timedelta(days=3))
    draft = proposing.propose_plan([units["Anion 1"]], 3, by=manager, at=NOW, ready_from=READY_FROM)
    assert draft.announced == {"bottles": [], "undated": 2, "overdue": 1}
    assert plan_of(draft).places == {}


def test_an_agreed_day_counts_more_than_the_one_asked_for(announce, units, manager, submitter):
    consignment = announce(1)
    later = TOMORROW + timedelta(days=1)
    dating.ask_for_date(consignment, day=later, by=submitter, at=NOW, anion_bottles=1, cation_bottles=0)
    consignment.refresh_from_db()
    consignment.requested_on = TOMORROW
    consignment.save(update_fields=["requested_on"])
    draft = proposing.propose_plan([units["Anion 1"]], 3, by=manager, at=NOW, ready_from=READY_FROM)
    (bottle,) = plan_of(draft).problem.bottles
    asked = bottle.release
    dating.agree_date(consignment, by=manager, at=NOW, version=consignment.date_request.version)
    draft = proposing.propose_plan([units["Anion 1"]], 3, by=manager, at=NOW, ready_from=READY_FROM)
    (bottle,) = plan_of(draft).problem.bottles
    assert bottle.release == asked + 1440


def test_what_is_withdrawn_is_not_planned_with(announce, units, manager, submitter):
    consignment = announce(2)
    sending.withdraw_consignment(consignment, by=submitter, at=NOW, reason="No trip")
    draft = proposing.propose_plan([units["Anion 1"]], 3, by=manager, at=NOW, ready_from=READY_FROM)
    assert plan_of(draft).places == {}


def test_received_it_takes_its_place_at_the_start(announce, receive, reserve, manager):
    consignment = announce(3)
    (run,) = reserve()
    receive(consignment)
    start(run, manager)
    assert reserved(run) == []
    assert run.places.filter(awaiting=True).count() == 3
    assert {bottle.state for bottle in again(consignment.bottles.all())} == {"placed"}


def test_what_has_not_come_is_given_up_at_the_start_and_said_before(
    announce, receive, reserve, manager, client
):
    consignment = announce(4)
    (run,) = reserve()
    here, *absent = consignment.bottles.order_by("pk")
    receive(consignment, here)
    client.force_login(manager)
    page = client.get(reverse("labqueue:run_start", args=[run.number])).content.decode()
    assert "3 reserved places: their bottles have not come." in page
    start(run, manager)
    assert reserved(run) == []
    assert [place.bottle_id for place in run.places.filter(awaiting=True)] == [here.pk]
    assert {bottle.state for bottle in again(absent)} == {"expected"}
    kept_free = run.places.filter(remark__contains="had not come")
    assert {(place.kind, place.bottle) for place in kept_free} == {("blank", None)}
    assert kept_free.filter(sample__isnull=False).count() >= 3
    assert not run.places.filter(bottle__in=absent).exists()
    assert sorted(RecordEntry.objects.get(verb="run.give-up").after["had not come"]) == sorted(
        bottle.number for bottle in absent
    )


def test_a_duplicate_of_what_has_not_come_repeats_the_sample_before(announce, receive, reserve, manager):
    consignment = announce(2)
    (run,) = reserve()
    last = run.places.get(kind="duplicate").bottle
    other = consignment.bottles.exclude(pk=last.pk).get()
    receive(consignment, other)
    start(run, manager)
    assert run.places.get(kind="duplicate").bottle == other
    assert run.places.get(kind="spike").bottle == other


def test_a_run_of_which_nothing_has_come_does_not_start(announce, reserve, manager):
    announce(2)
    (run,) = reserve()
    with pytest.raises(EntryProblem, match="None of its bottles is here"):
        start(run, manager)
    assert Run.objects.get().state == "planned"


def test_the_tray_takes_it_once_it_has_come_and_not_before(announce, receive, reserve, manager):
    consignment = announce(1)
    (run,) = reserve()
    (place,) = reserved(run)
    with pytest.raises(EntryProblem, match="Reception has to receive"):
        running.check_tray(run, place.position, place.bottle.number, by=manager, at=NOW)
    receive(consignment)
    running.check_tray(run, place.position, place.bottle.number, by=manager, at=READY_AT)
    place.refresh_from_db()
    assert (place.awaiting, place.reserved) == (True, False)
    assert place.tray_checked_at == READY_AT
    assert Bottle.objects.get().state == "placed"


def test_a_tray_that_can_be_topped_up_waits_until_the_injection(
    announce, receive, ready, reserve, manager, units
):
    unit = units["Anion 1"]
    fields = {name: getattr(unit, name) for name in UNIT_FIELDS} | {"topup": True}
    units["Anion 1"] = change_unit(unit, fields, by=manager, at=NOW, version=0)
    ready(2)
    consignment = announce(1)
    runs = reserve()
    (run,) = [run for run in runs if reserved(run)]
    if not run.places.filter(awaiting=True).exists():
        pytest.skip("the plan put what is to come on a run of its own")
    start(run, manager)
    assert len(reserved(run)) == 1
    receive(consignment)
    (place,) = reserved(run)
    running.check_tray(run, place.position, place.bottle.number, by=manager, at=READY_AT)
    assert not reserved(run)


def test_planning_again_keeps_what_has_come_and_lets_go_of_the_rest(
    announce, receive, reserve, manager, units
):
    consignment = announce(2)
    reserve()
    here, absent = consignment.bottles.order_by("pk")
    receive(consignment, here)
    draft = proposing.propose_plan([units["Anion 1"]], 3, by=manager, at=READY_AT)
    assert set(plan_of(draft).places) == {here.number}
    (run,) = accept_plan(draft, by=manager, at=READY_AT, version=0)
    assert not Place.objects.filter(reserved=True).exists()
    assert [place.bottle for place in run.places.filter(awaiting=True)] == again([here])
    assert again([absent])[0].state == "expected"


def test_what_has_a_place_elsewhere_is_not_planned_twice(announce, receive, reserve, manager, units):
    consignment = announce(2)
    reserve()
    receive(consignment, consignment.bottles.first())
    draft = proposing.propose_plan([units["Anion 2"]], 3, by=manager, at=READY_AT, ready_from=READY_FROM)
    assert plan_of(draft).places == {}


def test_of_two_who_reserve_the_same_bottles_the_slower_is_told(announce, units, manager):
    announce(2)
    drafts = [
        proposing.propose_plan([units[name]], 3, by=manager, at=NOW, ready_from=READY_FROM)
        for name in ("Anion 1", "Anion 2")
    ]
    (run,) = accept_plan(drafts[0], by=manager, at=NOW, version=0)
    with pytest.raises(SomebodyWasFaster, match=f"got a place on run {run} on Anion 1"):
        accept_plan(drafts[1], by=manager, at=NOW, version=0)
    assert Place.objects.filter(reserved=True).count() == 2


def test_a_cancelled_run_reserves_nothing(announce, reserve, manager):
    announce(2)
    (run,) = reserve()
    running.cancel_run(run, by=manager, at=NOW, version=0, reason="pump")
    assert not Place.objects.filter(reserved=True).exists()


def test_a_proposal_holds_when_what_was_announced_comes_meanwhile(announce, receive, ready, units, manager):
    ready(1)
    consignment = announce(2)
    draft = proposing.propose_plan([units["Anion 1"]], 3, by=manager, at=NOW, ready_from=READY_FROM)
    assert stale_sentences(draft, plan_of(draft), NOW) == []
    receive(consignment, at=NOW)
    assert stale_sentences(draft, plan_of(draft), NOW) == []
    accept_plan(draft, by=manager, at=NOW, version=0)
    assert {bottle.state for bottle in Bottle.objects.all()} == {"placed"}


def test_the_list_and_the_pages_say_what_is_reserved(announce, reserve, manager, client):
    announce(2)
    (run,) = reserve()
    remarks = [runlist.cells(place)[-1] for place in runlist.places_of(run) if place.reserved]
    assert remarks == ["reserved, not here yet"] * 2
    client.force_login(manager)
    page = client.get(reverse("labqueue:run", args=[run.number])).content.decode()
    assert "2 places are reserved for bottles to come" in page
    plan = client.get(reverse("labqueue:plan_draft", args=[PlanDraft.objects.get().key])).content.decode()
    assert "2 places are reserved for bottles that have not come" in plan
    tray = client.get(reverse("labqueue:run_tray", args=[run.number])).content.decode()
    assert "Reserved, not here yet" in tray


def test_the_queue_tells_the_reserved_place(announce, receive, reserve):
    consignment = announce(1)
    reserve()
    receive(consignment)
    outlook = foresee(READY_AT).of(Bottle.objects.get().pk, READY_AT + timedelta(days=5))
    assert "injection" in outlook.sentence
    assert "on Anion 1" in outlook.sentence


def test_the_form_asks_and_the_manager_chooses(announce, ready, units, manager, client):
    announce(1)
    ready(1)
    client.force_login(manager)
    page = client.get(reverse("labqueue:plan")).content.decode()
    assert "Reserve places for bottles that are still to come" in page
    given = {"units": [units["Anion 1"].pk], "days": 7}
    client.post(reverse("labqueue:plan"), given)
    assert PlanDraft.objects.get().announced == {}
    client.post(reverse("labqueue:plan"), {**given, "announced": "on", "ready_from": "10:30"})
    assert "bottles" in PlanDraft.objects.order_by("-pk").first().announced
