"""Proposing, changing and accepting plans: what is moved, what is refused, what the pages say."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from intake.errors import AlreadyDone, EntryProblem, NotPermitted, SomebodyWasFaster
from intake.models import Bottle, ClockRow, RecordEntry
from labqueue.actions import equipping, proposing
from labqueue.actions.accepting import accept_plan
from labqueue.actions.equipping import UNIT_FIELDS
from labqueue.actions.running import start_run
from labqueue.drafting import clock_from, plan_of, stale_sentences
from labqueue.models import Place, PlanDraft, Run
from labqueue.planning.sequence import PlaceKind
from labqueue.planwords import say_cost
from tests.bench.bench import again
from tests.factories import RECEIVED

pytestmark = pytest.mark.django_db
#: Tuesday, 15:00 in a laboratory open until 17:00.
NOW = RECEIVED + timedelta(hours=1)


@pytest.fixture
def propose(units, manager):
    def make(*names, days=3, at=NOW):
        chosen = [units[name] for name in names or ("Anion 1",)]
        return proposing.propose_plan(chosen, days, by=manager, at=at)

    return make


def accept(draft, manager, at=NOW, token=""):
    return accept_plan(draft, by=manager, at=at, version=draft.version, token=token)


def states(bottles):
    return {bottle.state for bottle in again(bottles)}


def test_a_proposal_moves_nothing(propose, ready):
    bottles = ready(3)
    plan = plan_of(propose())
    assert set(plan.places) == {bottle.number for bottle in bottles}
    assert states(bottles) == {"ready"}
    assert not Run.objects.exists()


def test_a_draft_read_again_is_the_same_plan(propose, ready):
    ready(25)
    draft = propose("Anion 1", "Anion 2")
    assert plan_of(PlanDraft.objects.get()).places == plan_of(draft).places


def test_an_accepted_plan_is_runs_with_every_place(propose, ready, manager):
    bottles = ready(12)
    (run,) = accept(propose(), manager)
    kinds = list(run.places.values_list("kind", flat=True))
    # 8 to start up, 12 samples, a check and a blank after 10 and at the end, a duplicate and a
    # spike for the one batch begun.
    assert len(kinds) == 8 + 12 + 4 + 2
    assert kinds.count(PlaceKind.SAMPLE) == 12
    assert [place.position for place in run.places.all()] == list(range(1, 27))
    assert run.places.filter(awaiting=True).count() == 12
    assert states(bottles) == {"placed"}
    assert not ClockRow.objects.filter(bottle__in=bottles, waiting=True).exists()
    moments = list(run.places.values_list("planned_at", flat=True))
    assert moments == sorted(moments)
    assert moments[0] == run.planned_start + timedelta(minutes=30)
    assert RecordEntry.objects.get(verb="run.plan").after["unit"] == "Anion 1"


def test_a_strong_sample_is_planned_diluted(propose, ready, manager):
    ready(1, ec_value=9000.0, water_kind="groundwater")
    (run,) = accept(propose(), manager)
    place = run.places.get(awaiting=True)
    assert place.dilution > 1


def test_what_the_unit_cannot_dilute_is_diluted_by_hand_first(propose, ready, manager, units):
    ready(1, ec_value=9000.0, water_kind="groundwater")
    fields = {name: getattr(units["Anion 1"], name) for name in UNIT_FIELDS}
    equipping.change_unit(units["Anion 1"], {**fields, "largest_dilution": 1}, by=manager, at=NOW, version=0)
    (run,) = accept(propose(), manager)
    place = run.places.get(awaiting=True)
    assert place.dilution >= 10
    assert "by hand" in place.remark


def test_only_the_manager_plans(propose, ready, reception, units):
    ready(1)
    draft = propose()
    with pytest.raises(NotPermitted):
        proposing.propose_plan([units["Anion 1"]], 3, by=reception, at=NOW)
    with pytest.raises(NotPermitted):
        accept_plan(draft, by=reception, at=NOW, version=0)


@pytest.mark.parametrize("days", [0, 15])
def test_days_that_cannot_be_planned(propose, days):
    with pytest.raises(EntryProblem, match="1 to 14 days"):
        propose(days=days)


def test_a_plan_is_accepted_once(propose, ready, manager):
    ready(2)
    draft = propose()
    accept(draft, manager, token="t")
    with pytest.raises(AlreadyDone):
        accept(draft, manager, token="t")
    with pytest.raises(SomebodyWasFaster):
        accept(draft, manager)
    assert Run.objects.count() == 1


def test_of_two_managers_the_slower_is_told(propose, ready, manager, person):
    bottles = ready(2)
    mine, theirs = propose(), propose()
    other = person("Olga Other", "manager")
    accept_plan(theirs, by=other, at=NOW + timedelta(minutes=0), version=0)
    Run.objects.update(created_at=NOW + timedelta(minutes=1))
    with pytest.raises(SomebodyWasFaster, match="Olga Other planned run"):
        accept(mine, manager)
    assert Run.objects.count() == 1
    assert states(bottles) == {"placed"}
    assert PlanDraft.objects.get(pk=mine.pk).accepted_at is None


def test_a_bottle_that_was_taken_meanwhile_refuses_the_whole_plan(propose, ready, manager):
    bottles = ready(3)
    draft = propose()
    Bottle.objects.filter(pk=bottles[0].pk).update(state="on hold")
    with pytest.raises(SomebodyWasFaster, match="No longer ready"):
        accept(draft, manager)
    assert states(bottles) == {"ready", "on hold"}
    assert not Run.objects.exists()


def test_a_unit_changed_meanwhile_refuses_the_plan(propose, ready, manager, units):
    ready(1)
    draft = propose()
    fields = {name: getattr(units["Anion 1"], name) for name in UNIT_FIELDS}
    equipping.change_unit(units["Anion 1"], {**fields, "inject_min": 9}, by=manager, at=NOW, version=0)
    with pytest.raises(SomebodyWasFaster, match="was changed"):
        accept(draft, manager)


def test_a_start_that_has_passed_refuses_the_plan(propose, ready, manager):
    ready(1)
    with pytest.raises(SomebodyWasFaster, match="was to start already"):
        accept(propose(), manager, at=NOW + timedelta(days=2))


def test_planning_again_plans_planned_runs_anew_with_what_came(propose, ready, manager):
    first = ready(2)
    accept(propose(), manager)
    second = ready(1)
    (run,) = accept(propose(at=NOW + timedelta(minutes=5)), manager, at=NOW + timedelta(minutes=5))
    assert run.places.filter(awaiting=True).count() == 3
    assert states([*first, *second]) == {"placed"}
    assert sorted(Run.objects.values_list("state", flat=True)) == ["cancelled", "planned"]


def test_planning_again_keeps_what_runs(propose, ready, manager):
    first = ready(2)
    (run,) = accept(propose(), manager)
    start_run(run, by=manager, at=NOW, started_at=NOW, version=run.version)
    ready(1)
    later = NOW + timedelta(hours=1)
    (new,) = accept(propose(at=later), manager, at=later)
    run.refresh_from_db()
    assert run.state == "running"
    assert run.places.filter(awaiting=True).count() == 2
    assert new.planned_start >= run.places.latest("position").planned_at + timedelta(minutes=20 + 30)
    assert states(first) == {"placed"}


def test_no_run_is_planned_into_a_time_out_of_service(propose, ready, manager, units):
    ready(1)
    fields = {name: getattr(units["Anion 1"], name) for name in UNIT_FIELDS}
    back = NOW + timedelta(hours=20)
    equipping.change_unit(
        units["Anion 1"], {**fields, "out_from": NOW, "out_until": back}, by=manager, at=NOW, version=0
    )
    units["Anion 1"].refresh_from_db()
    (run,) = accept(propose(), manager)
    assert run.planned_start >= back


def test_a_coming_outage_ends_the_run_before_it(propose, ready, manager, units):
    ready(30)
    fields = {name: getattr(units["Anion 1"], name) for name in UNIT_FIELDS}
    out = NOW + timedelta(hours=8)
    equipping.change_unit(units["Anion 1"], {**fields, "out_from": out}, by=manager, at=NOW, version=0)
    units["Anion 1"].refresh_from_db()
    plan = plan_of(propose())
    assert plan.places
    assert all(slot.moment < 8 * 60 for slot in plan.places.values())


def test_a_bottle_moved_by_hand_is_pinned_and_the_cost_is_told(propose, ready, manager):
    ready(5)
    draft = propose()
    plan = plan_of(draft)
    number = next(number for number, slot in plan.places.items() if slot.sample == 0)
    change = proposing.step_by_hand(draft, number, 1, by=manager, at=NOW, version=0)
    assert change == proposing.Change((), ())
    assert plan_of(draft).places[number].sample == 1
    proposing.let_go(draft, number, by=manager, at=NOW, version=1)
    assert plan_of(draft).places == plan.places


def test_a_move_that_costs_clocks_says_which(propose, ready, manager, units):
    ready(30)
    draft = propose(days=4)
    plan = plan_of(draft)
    kept = next(number for number in plan.places)
    last = max(plan.places.values(), key=lambda slot: slot.moment)
    change = proposing.move_by_hand(
        draft, kept, (last.unit, last.start, last.sample), by=manager, at=NOW, version=0
    )
    after = plan_of(draft)
    assert len(after.missed) - len(plan.missed) == len(change.lost) - len(change.gained)


@pytest.mark.parametrize("target", [("Anion 1", 0, 999), ("Anion 1", 7, 0), ("Cation 1", 0, 0)])
def test_places_that_are_not_in_the_plan_are_refused(propose, ready, manager, target):
    number = ready(1)[0].number
    draft = propose()
    with pytest.raises(EntryProblem, match="not in the plan"):
        proposing.move_by_hand(draft, number, target, by=manager, at=NOW, version=0)


def test_a_move_on_a_changed_plan_is_refused(propose, ready, manager):
    ready(3)
    draft = propose()
    number = min(plan_of(draft).places, key=lambda name: plan_of(draft).places[name].sample)
    proposing.step_by_hand(draft, number, 1, by=manager, at=NOW, version=0)
    with pytest.raises(SomebodyWasFaster):
        proposing.step_by_hand(draft, number, -1, by=manager, at=NOW, version=0)
    with pytest.raises(EntryProblem, match="first of its run"):
        first = min(plan_of(draft).places, key=lambda name: plan_of(draft).places[name].sample)
        proposing.step_by_hand(draft, first, -1, by=manager, at=NOW, version=1)


def test_a_pin_stays_when_planned_again(propose, ready, manager):
    ready(4)
    draft = propose()
    plan = plan_of(draft)
    number = next(number for number, slot in plan.places.items() if slot.sample == 0)
    proposing.step_by_hand(draft, number, 2, by=manager, at=NOW, version=0)
    draft.refresh_from_db()
    (run,) = accept(draft, manager)
    if run.planned_start > NOW:
        assert plan_of(propose()).places[number].sample == 2
    assert run.places.get(pinned=True).bottle.number == number


def test_a_plan_says_that_it_does_not_hold_any_more(propose, ready, manager, units):
    bottles = ready(2)
    draft = propose()
    assert stale_sentences(draft, plan_of(draft), NOW) == []
    ready(1)
    Bottle.objects.filter(pk=bottles[0].pk).update(state="on hold")
    fields = {name: getattr(units["Anion 1"], name) for name in UNIT_FIELDS}
    equipping.change_unit(units["Anion 1"], {**fields, "inject_min": 9}, by=manager, at=NOW, version=0)
    due = ClockRow.objects.filter(bottle=bottles[0]).order_by("due_at").first().due_at
    said = " ".join(stale_sentences(draft, plan_of(draft), due + timedelta(minutes=2)))
    for part in (
        "1 bottle has become ready",
        "1 bottle is not ready any more",
        "Units or hours have changed",
        "was to start",
        "run out since this plan was made",
    ):
        assert part in said, said


def test_the_page_of_a_plan_from_proposal_to_acceptance(ready, units, manager, signed_in, monkeypatch):
    bottles = ready(4)
    client = signed_in(manager)
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    form = client.get(reverse("labqueue:plan"))
    assert form.status_code == 200
    answer = client.post(reverse("labqueue:plan"), {"units": [units["Anion 1"].pk], "days": "3"})
    draft = PlanDraft.objects.get()
    assert answer["Location"] == reverse("labqueue:plan_draft", args=[draft.key])
    page = client.get(answer["Location"]).content.decode()
    assert "4 bottles placed; no clock is lost." in page
    assert "Proven: no choice of starts" in page
    assert "pinned where they are" not in page
    first = next(number for number, slot in plan_of(draft).places.items() if slot.sample == 0)
    step = reverse("labqueue:plan_step", args=[draft.key])
    assert client.post(step, {"version": "0", "down": first}).status_code == 302
    assert client.post(step, {"version": "0", "down": first}).status_code == 409
    why = client.get(reverse("labqueue:plan_bottle", args=[draft.key, first])).content.decode()
    assert "to spare" in why
    assert f"<title>Plan, bottle {first[:4]} {first[4:]} ·" in why
    assert "This holds with the bottles that you pinned" in client.get(answer["Location"]).content.decode()
    accepted = client.post(reverse("labqueue:plan_accept", args=[draft.key]), {"version": "1", "token": "x"})
    assert accepted.status_code == 302
    assert states(bottles) == {"placed"}
    assert Place.objects.get(pinned=True).bottle.number == first


def test_the_plan_s_page_asks_as_often_for_many(propose, ready, manager, signed_in):
    client = signed_in(manager)
    counts = []
    ready(2)
    first = propose()
    ready(10)
    second = propose()
    client.get(reverse("labqueue:plan_draft", args=[first.key]))
    for draft in (first, second):
        with CaptureQueriesContext(connection) as seen:
            assert client.get(reverse("labqueue:plan_draft", args=[draft.key])).status_code == 200
        counts.append(len(seen))
    assert counts[0] == counts[1] <= 20


@pytest.mark.parametrize("given", [{}, {"units": "x", "days": "3"}, {"units": "999", "days": "99"}])
def test_a_wrong_question_is_asked_again(signed_in, manager, units, given):
    answer = signed_in(manager).post(reverse("labqueue:plan"), given)
    assert answer.status_code == 422
    assert not PlanDraft.objects.exists()


def test_a_cost_asked_for_is_the_cost_paid(propose, ready, manager, client):
    bottles = ready(12)
    draft = propose()
    client.force_login(manager)
    plan = plan_of(draft)
    first = min(bottles, key=lambda bottle: plan.places[bottle.number].sample)
    slot = plan.places[first.number]
    where = {"run": f"{slot.start} {slot.unit}", "sample": 12}
    address = reverse("labqueue:plan_cost", args=[draft.key, first.number])
    said = client.get(address, where).json()
    assert said["possible"] is True
    assert PlanDraft.objects.get().pins == []
    change = proposing.move_by_hand(
        draft, first.number, (slot.unit, slot.start, 11), by=manager, at=NOW, version=0
    )
    assert said["sentences"] == say_cost(change, clock_from(draft.origin))
    assert said["costs"] is bool(change.lost)


def test_what_costs_a_clock_is_said_before_it_is_done(propose, ready, manager, client):
    """Wednesday 16:00: the last places of the run lie after Thursday 8:00, when 48 h are over."""
    ready(45)
    draft = propose(at=NOW + timedelta(hours=25))
    plan = plan_of(draft)
    lost = {missed.bottle for missed in plan.missed}
    kept = next(number for number in plan.places if number not in lost)
    last = max(plan.places.values(), key=lambda slot: slot.moment)
    client.force_login(manager)
    where = {"run": f"{last.start} {last.unit}", "sample": last.sample + 1}
    address = reverse("labqueue:plan_cost", args=[draft.key, kept])
    assert "nitrate" in client.get(address, where).json()["sentences"][0]
    page = client.post(
        reverse("labqueue:plan_bottle", args=[draft.key, kept]), {**where, "version": 0, "look": "yes"}
    )
    assert page.status_code == 200
    assert "That costs:" in page.content.decode() or "That saves:" in page.content.decode()
    assert PlanDraft.objects.get().pins == []


@pytest.mark.parametrize("where", [{}, {"run": "x y", "sample": 1}, {"run": "9 Anion 9", "sample": 0}])
def test_the_cost_of_a_place_that_is_not_there_is_not_told(propose, ready, manager, client, where):
    (bottle,) = ready(1)
    draft = propose()
    client.force_login(manager)
    said = client.get(reverse("labqueue:plan_cost", args=[draft.key, bottle.number]), where).json()
    assert said["possible"] is False
    assert said["sentences"]


def test_the_plan_shows_the_dilution_of_each_place(propose, ready, manager, client):
    ready(1, ec_value=9000.0, water_kind="groundwater")
    draft = propose()
    (run,) = accept(propose(), manager)
    dilution = run.places.get(awaiting=True).dilution
    client.force_login(manager)
    page = client.get(reverse("labqueue:plan_draft", args=[draft.key])).content.decode()
    assert f"1:{dilution:g}" in page
