"""A bottle with a value above the calibrated range comes back in the plan with the next dilution."""

from datetime import timedelta

import pytest

from intake.models import Bottle, Injection, Result
from labqueue.actions import injections
from labqueue.models import Place
from tests.statement.test_results import posted

pytestmark = pytest.mark.django_db


@pytest.fixture
def injected(started, manager):
    """All five bottles of the run, injected as planned."""
    last = max(place.planned_at for place in injections.all_places(started))
    injections.enter_as_planned(
        started, by=manager, at=last + timedelta(hours=1), version=started.version, zone="UTC"
    )
    return started


def test_the_next_run_list_has_it_diluted_further(injected, plan_and_accept, manager, signed_in):
    place = injected.places.filter(kind="sample").first()
    shot = Injection.objects.get(bottle=place.bottle)
    assert (shot.run, shot.place) == (injected.number, place.position)
    assert (shot.dilution, shot.volume_factor) == (place.dilution, place.volume_factor)
    # Twelve times the top at the dilution it had.
    text = f"Run,Place,Ion,Value,Range top\n{injected.number},{place.position},chloride,480,40\n"
    assert posted(signed_in(manager), text, requeue="on").status_code == 302
    bottle = Bottle.objects.get(pk=place.bottle_id)
    assert bottle.state == "ready"
    (run,) = plan_and_accept("Anion 1", at=shot.at + timedelta(hours=6))
    again = Place.objects.get(run=run, bottle=bottle, kind="sample")
    assert again.dilution >= 12 * place.dilution
    assert again.remark.startswith("above the range before")
    (old,) = Result.objects.filter(bottle=bottle)
    assert old.above_range
    assert old.range_top == 40


def test_without_the_tick_it_stays_measured_and_is_flagged(injected, manager, signed_in):
    place = injected.places.filter(kind="sample").first()
    posted(signed_in(manager), f"Bottle,Ion,Value,Range top\n{place.bottle.number},chloride,41,40\n")
    assert Bottle.objects.get(pk=place.bottle_id).state == "measured"
    assert Result.objects.get().above_range
