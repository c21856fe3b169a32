"""Placing, injecting and taking back: states, clocks, refusals, the record, queries."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from intake.actions import injecting, placing
from intake.actions.injecting import Shot
from intake.actions.rejudging import differences
from intake.errors import AlreadyDone, EntryProblem, MoveNotAllowed, NotPermitted, SomebodyWasFaster
from intake.models import Bottle, ClockRow, Injection, RecordEntry
from tests.bench.bench import again, received
from tests.factories import COLLECTED, RECEIVED, anion_bottle, sample

pytestmark = pytest.mark.django_db
PLACED_AT = RECEIVED + timedelta(hours=1)
INJECTED = RECEIVED + timedelta(hours=3)
NOW = RECEIVED + timedelta(hours=20)


@pytest.fixture
def bottles(submitter, reception, group, rulebook):
    return received(submitter, reception, group, rulebook, sample("one"), sample("two"))


@pytest.fixture
def placed(bottles, manager):
    placing.place_bottles(bottles, by=manager, at=PLACED_AT, label="run R1")
    return again(bottles)


def states(bottles):
    return {bottle.state for bottle in again(bottles)}


def test_placing_takes_a_bottle_out_of_the_queue_and_back(bottles, manager):
    placing.place_bottle(bottles[0], by=manager, at=PLACED_AT, label="run R1, place 9")
    assert states(bottles[:1]) == {"placed"}
    assert not ClockRow.objects.filter(bottle=bottles[0], waiting=True).exists()
    placing.take_back_bottle(bottles[0], by=manager, at=PLACED_AT, reason="run cancelled")
    assert states(bottles[:1]) == {"ready"}
    assert ClockRow.objects.filter(bottle=bottles[0], waiting=True).exists()
    verbs = RecordEntry.objects.order_by("pk").values_list("verb", flat=True)
    assert list(verbs)[-2:] == ["bottle.place", "bottle.take-back"]


@pytest.mark.parametrize("who", ["reception", "submitter"])
def test_only_the_manager_places_and_injects(bottles, request, who):
    user = request.getfixturevalue(who)
    with pytest.raises(NotPermitted):
        placing.place_bottles(bottles, by=user, at=PLACED_AT, label="")
    with pytest.raises(NotPermitted):
        injecting.record_injections([Shot(bottles[0], INJECTED)], by=user, at=NOW)
    assert states(bottles) == {"ready"}


def test_placing_is_all_or_nothing_where_somebody_was_faster(bottles, manager):
    Bottle.objects.filter(pk=bottles[1].pk).update(state="on hold")
    with pytest.raises(SomebodyWasFaster):
        placing.place_bottles(bottles, by=manager, at=PLACED_AT, label="run R1")
    assert states(bottles) == {"ready", "on hold"}
    assert not RecordEntry.objects.filter(verb="bottle.place").exists()


@pytest.mark.parametrize("state", ["expected", "on hold", "refused", "missing", "measured", "placed"])
def test_only_ready_bottles_are_placed(bottles, manager, state):
    Bottle.objects.filter(pk=bottles[0].pk).update(state=state)
    with pytest.raises(MoveNotAllowed):
        placing.place_bottles(again(bottles), by=manager, at=PLACED_AT, label="run R1")


def test_an_injection_stops_the_clocks_at_its_moment(placed, manager):
    injecting.record_injection(placed[0], by=manager, at=NOW, injected_at=INJECTED, label="run R1, place 9")
    assert states(placed[:1]) == {"measured"}
    stopped = ClockRow.objects.filter(bottle=placed[0]).values_list("stopped_at", "waiting")
    assert set(stopped) == {(INJECTED, False)}
    assert not ClockRow.objects.filter(bottle=placed[1], stopped_at__isnull=False).exists()
    entry = RecordEntry.objects.get(verb="bottle.inject")
    assert entry.after["injections"][placed[0].number][1] == "run R1, place 9"
    assert entry.consignment == placed[0].consignment


def test_what_was_judged_with_injections_comes_out_again(placed, manager):
    injecting.record_injection(placed[0], by=manager, at=NOW, injected_at=INJECTED)
    assert [found for found in differences() if found] == []


@pytest.mark.parametrize(
    ("moment", "sentence"),
    [
        (COLLECTED, "before the bottle was received"),
        (RECEIVED - timedelta(microseconds=1), "before the bottle was received"),
        (NOW + timedelta(microseconds=1), "has not come yet"),
    ],
)
def test_impossible_moments_are_refused(placed, manager, moment, sentence):
    with pytest.raises(EntryProblem, match=sentence):
        injecting.record_injection(placed[0], by=manager, at=NOW, injected_at=moment)
    assert states(placed) == {"placed"}
    assert not Injection.objects.exists()


@pytest.mark.parametrize("moment", [RECEIVED, NOW])
def test_the_bounds_themselves_are_possible(placed, manager, moment):
    assert injecting.record_injection(placed[0], by=manager, at=NOW, injected_at=moment).at == moment


def test_one_bottle_twice_in_a_list_is_refused_as_a_whole(placed, manager):
    with pytest.raises(EntryProblem, match="there twice"):
        injecting.record_injections(
            [Shot(placed[0], INJECTED), Shot(placed[1], INJECTED), Shot(placed[0], NOW)], by=manager, at=NOW
        )
    assert states(placed) == {"placed"}


def test_a_bottle_that_is_not_on_a_run_is_refused(bottles, manager):
    with pytest.raises(EntryProblem, match="no injection is due"):
        injecting.record_injection(bottles[0], by=manager, at=NOW, injected_at=INJECTED)


def test_the_same_list_takes_effect_once(placed, manager):
    injecting.record_injections([Shot(placed[0], INJECTED)], by=manager, at=NOW, token="t1")
    with pytest.raises(AlreadyDone):
        injecting.record_injections([Shot(placed[0], INJECTED)], by=manager, at=NOW, token="t1")
    assert Injection.objects.count() == 1


def test_a_voided_injection_lets_the_clocks_run_on(placed, manager):
    before = list(ClockRow.objects.filter(bottle=placed[0]).order_by("ion").values_list("ion", "due_at"))
    row = injecting.record_injection(placed[0], by=manager, at=NOW, injected_at=INJECTED)
    injecting.void_injection(row, by=manager, at=NOW, reason="wrong tray")
    assert states(placed[:1]) == {"ready"}
    clocks = ClockRow.objects.filter(bottle=placed[0]).order_by("ion")
    assert list(clocks.values_list("ion", "due_at")) == before
    assert not clocks.filter(stopped_at__isnull=False).exists()
    assert Injection.objects.get().voided_at == NOW
    assert RecordEntry.objects.get(verb="injection.void").reason == "wrong tray"


def test_voiding_needs_a_reason_and_happens_once(placed, manager):
    row = injecting.record_injection(placed[0], by=manager, at=NOW, injected_at=INJECTED)
    with pytest.raises(EntryProblem, match="Say why"):
        injecting.void_injection(row, by=manager, at=NOW, reason=" ")
    stale = Injection.objects.get(pk=row.pk)
    injecting.void_injection(row, by=manager, at=NOW, reason="wrong")
    with pytest.raises(SomebodyWasFaster):
        injecting.void_injection(stale, by=manager, at=NOW, reason="wrong")
    with pytest.raises(MoveNotAllowed):
        injecting.void_injection(Injection.objects.get(pk=row.pk), by=manager, at=NOW, reason="wrong")


def test_a_second_measurement_leaves_the_first_stop_standing(placed, manager):
    first = injecting.record_injection(placed[0], by=manager, at=NOW, injected_at=INJECTED)
    placing.take_back_bottles(again(placed[:1]), by=manager, at=NOW, reason="dilute more")
    placing.place_bottles(again(placed[:1]), by=manager, at=NOW, label="run R2")
    second = injecting.record_injection(again(placed[:1])[0], by=manager, at=NOW, injected_at=NOW)
    assert set(ClockRow.objects.filter(bottle=placed[0]).values_list("stopped_at", flat=True)) == {INJECTED}
    injecting.void_injection(first, by=manager, at=NOW, reason="wrong tray")
    assert states(placed[:1]) == {"measured"}
    assert set(ClockRow.objects.filter(bottle=placed[0]).values_list("stopped_at", flat=True)) == {second.at}


def test_many_injections_take_as_many_queries_as_two(submitter, reception, manager, group, rulebook):
    bottles = received(
        submitter,
        reception,
        group,
        rulebook,
        *(sample(f"s{number}", bottles=(anion_bottle(),)) for number in range(12)),
    )
    placing.place_bottles(bottles, by=manager, at=PLACED_AT, label="run")
    bottles = again(bottles)
    counts = []
    for part in (bottles[:2], bottles[2:]):
        with CaptureQueriesContext(
            connection,
        ) as seen:
            injecting.record_injections([Shot(one, INJECTED) for one in part], by=manager, at=NOW)
        counts.append(len(seen))
    assert counts[0] == counts[1]
