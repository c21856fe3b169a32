"""Places, bottles in them, and what is discarded in the end."""

from datetime import timedelta

import pytest
from django.conf import settings

from intake.actions.checking import check_bottle
from intake.actions.deciding import decide_bottle
from intake.actions.stowing import DEEPEST, discard_bottle, discardable, make_place, store_bottle
from intake.errors import AlreadyDone, EntryProblem, MoveNotAllowed, NotPermitted, SomebodyWasFaster
from intake.models import Bottle, ClockRow, RecordEntry, StoragePlace
from intake.numbers import is_number
from tests.factories import RECEIVED, opened, sent

pytestmark = pytest.mark.django_db
KEPT = timedelta(days=settings.DISCARD_AFTER_DAYS)


@pytest.fixture
def fridge(reception):
    return make_place(by=reception, at=RECEIVED, name="Fridge 2", kind="fridge")


@pytest.fixture
def box(reception, fridge):
    return make_place(by=reception, at=RECEIVED, name="Box 7", kind="box", inside=fridge)


@pytest.fixture
def arrival(reception, submitter, group, rulebook):
    return opened(reception, sent(submitter, group, rulebook))


@pytest.fixture
def bottle(reception, arrival):
    first = arrival.consignments.get().bottles.filter(line="anion").get()
    return check_bottle(first, arrival, by=reception, at=RECEIVED, seen={}, in_order=True).bottle


@pytest.fixture
def refused(reception, bottle):
    return decide_bottle(bottle, by=reception, at=RECEIVED, decision="refused", reason="empty")


def test_a_place_has_a_number_to_scan_and_is_on_record(box):
    assert is_number(box.number, "P")
    assert box.where == "Fridge 2, Box 7"
    assert RecordEntry.objects.filter(verb="place.make").count() == 2


def test_places_do_not_stand_endlessly_in_one_another(reception):
    inside = None
    for depth in range(DEEPEST):
        inside = make_place(by=reception, at=RECEIVED, name=f"{depth}", kind="box", inside=inside)
    with pytest.raises(EntryProblem, match="deep"):
        make_place(by=reception, at=RECEIVED, name="too deep", kind="box", inside=inside)


def test_a_bottle_is_put_away_and_moved(reception, bottle, box, fridge):
    store_bottle(bottle, box, by=reception, at=RECEIVED)
    store_bottle(bottle, fridge, by=reception, at=RECEIVED + KEPT)
    bottle.refresh_from_db()
    assert (bottle.stored_in, bottle.stored_at, bottle.state) == (fridge, RECEIVED + KEPT, "ready")
    told = RecordEntry.objects.filter(verb="bottle.store").order_by("position").last()
    assert (told.before, told.after) == ({"stands in": "Fridge 2, Box 7"}, {"stands in": "Fridge 2"})


def test_what_is_not_here_cannot_be_put_away(reception, arrival, box):
    bottle = arrival.consignments.get().bottles.first()
    with pytest.raises(MoveNotAllowed, match="has not been checked"):
        store_bottle(bottle, box, by=reception, at=RECEIVED)


def test_the_second_of_two_movers_is_told(reception, bottle, box, fridge):
    same = Bottle.objects.select_related("consignment", "stored_in").get(pk=bottle.pk)
    store_bottle(bottle, box, by=reception, at=RECEIVED)
    with pytest.raises(SomebodyWasFaster):
        store_bottle(same, fridge, by=reception, at=RECEIVED)


def test_the_same_scan_twice_counts_once(reception, bottle, box):
    store_bottle(bottle, box, by=reception, at=RECEIVED, token="t")
    with pytest.raises(AlreadyDone):
        store_bottle(bottle, box, by=reception, at=RECEIVED, token="t")


def test_only_the_laboratory_stores_discards_and_makes_places(submitter, refused, box):
    late = RECEIVED + KEPT
    for act in (
        lambda: make_place(by=submitter, at=late, name="x", kind="box"),
        lambda: store_bottle(refused, box, by=submitter, at=late),
        lambda: discard_bottle(refused, by=submitter, at=late),
    ):
        with pytest.raises(NotPermitted):
            act()


def test_a_refused_bottle_is_kept_for_its_time_and_no_longer(reception, refused, box):
    store_bottle(refused, box, by=reception, at=RECEIVED)
    early = RECEIVED + KEPT - timedelta(microseconds=1)
    assert not discardable(early).exists()
    with pytest.raises(MoveNotAllowed, match="not to be discarded yet"):
        discard_bottle(refused, by=reception, at=early)
    assert list(discardable(RECEIVED + KEPT)) == [refused]
    discard_bottle(refused, by=reception, at=RECEIVED + KEPT)
    refused.refresh_from_db()
    assert (refused.stored_in, refused.discarded_by, refused.state) == (None, reception, "refused")
    assert not discardable(RECEIVED + KEPT).exists()
    told = RecordEntry.objects.get(verb="bottle.discard")
    assert told.before == {"stands in": "Fridge 2, Box 7"}


def test_a_measured_bottle_counts_from_its_last_injection(bottle):
    Bottle.objects.filter(pk=bottle.pk).update(state="measured")
    ClockRow.objects.filter(bottle=bottle).update(stopped_at=RECEIVED)
    last = ClockRow.objects.filter(bottle=bottle).first()
    ClockRow.objects.filter(pk=last.pk).update(stopped_at=RECEIVED + timedelta(days=1))
    assert not discardable(RECEIVED + KEPT).exists()
    assert discardable(RECEIVED + KEPT + timedelta(days=1)).get() == bottle


def test_bottles_that_wait_are_never_discarded(reception, bottle):
    with pytest.raises(MoveNotAllowed, match="Put it back"):
        discard_bottle(bottle, by=reception, at=RECEIVED + 100 * KEPT)


def test_nothing_is_done_with_a_discarded_bottle_any_more(reception, refused, box):
    late = RECEIVED + KEPT
    discard_bottle(refused, by=reception, at=late)
    for act in (
        lambda: store_bottle(refused, box, by=reception, at=late),
        lambda: discard_bottle(refused, by=reception, at=late),
        lambda: decide_bottle(refused, by=reception, at=late, decision="held"),
    ):
        with pytest.raises(MoveNotAllowed, match="was discarded"):
            act()


def test_a_failing_record_rolls_the_discarding_back(reception, refused, monkeypatch):
    def fail(**_):
        raise RuntimeError("disk full")

    monkeypatch.setattr("intake.record.write", fail)
    with pytest.raises(RuntimeError):
        discard_bottle(refused, by=reception, at=RECEIVED + KEPT)
    refused.refresh_from_db()
    assert refused.discarded_at is None
    assert StoragePlace.objects.count() == 0
