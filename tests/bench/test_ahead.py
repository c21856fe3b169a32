"""The next 72 hours: where things are drawn, and that words and tables say the same."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from intake.models import ClockRow
from labqueue.ahead import HOURS, LEFT, SCALE, due_by_hour, picture_of
from labqueue.around import look_around
from labqueue.foresight import bench_now
from tests.factories import RECEIVED

pytestmark = pytest.mark.django_db
#: Tuesday, 15:00 in a laboratory open from 8:00 to 17:00.
NOW = RECEIVED + timedelta(hours=1)


def picture():
    return picture_of(NOW, bench_now(), look_around())


def test_opening_hours_are_bands_from_now_on(units):
    first, second, *others = picture().open
    assert (first.x, first.width) == (LEFT, round(2 * SCALE, 1))
    assert second.x == round(LEFT + 17 * SCALE, 1)
    assert first.said == "Tue 3 Mar 15:00 UTC to Tue 3 Mar 17:00 UTC"
    assert len(others) == 2


def test_a_run_is_a_block_on_its_unit_with_its_start_up(planned, units):
    found = picture()
    ((unit, run),) = found.runs
    assert unit == "Anion 1"
    assert run.bottles == 5
    assert run.block.x == round(LEFT + (planned.planned_start - NOW) / timedelta(hours=1) * SCALE, 1)
    # 30 min of equilibration and 8 injections of 20 min.
    assert run.lead.width == pytest.approx((3 + 1 / 6) * SCALE, abs=0.1)
    assert run.lead.x == run.block.x
    assert [lane.name for lane in found.lanes] == ["Anion 1", "Anion 2", "Cation 1"]
    assert "5 bottles" in found.description


def test_each_hour_counts_the_bottles_that_run_out_in_it(ready):
    bottles = ready(3)
    at = NOW + timedelta(hours=10, minutes=20)
    ClockRow.objects.all().update(due_at=NOW + timedelta(days=30))
    ClockRow.objects.filter(bottle__in=bottles[:2], ion__in=("nitrate", "nitrite")).update(due_at=at)
    hour = at.replace(minute=0)
    assert due_by_hour(NOW, NOW + timedelta(hours=HOURS)) == {("anion", hour): 2}
    found = picture()
    assert sum(sum(row.counts) for row in found.rows) == 2
    (row,) = found.rows
    assert row.begins <= at < row.ends
    assert found.dues[0].path.startswith(f"M{LEFT + 10.5 * SCALE:.1f} ")
    assert not found.dues[1].path
    assert ": 2." in found.description


def test_the_tables_say_what_the_picture_shows(planned, ready, units, manager, signed_in, monkeypatch):
    ready(2)
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    page = signed_in(manager).get("/queue/ahead/").text
    assert 'role="img" aria-labelledby="ahead-title ahead-words"' in page
    assert "<title id" in page
    assert f"/bench/runs/{planned.number}/" in page
    assert "Tue 3 Mar 15:00 UTC to Tue 3 Mar 17:00 UTC" in page
    assert "style=" not in page


def test_an_empty_laboratory_has_a_picture_too(manager, signed_in):
    page = signed_in(manager).get("/queue/ahead/").text
    assert "No run is planned or running." in page
    assert "The laboratory is not open in these hours." in page


def test_the_page_asks_as_often_for_2_and_12_bottles(ready, units, manager, signed_in):
    client = signed_in(manager)
    client.get("/queue/ahead/")
    counts = []
    for many in (2, 10):
        ready(many)
        with CaptureQueriesContext(connection) as queries:
            client.get("/queue/ahead/")
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 8, counts


@pytest.mark.parametrize("zone", ["Asia/Kathmandu", "America/St_Johns", "Europe/Vienna"])
def test_hours_of_any_zone_are_marked_at_their_local_midnights(units, settings, zone):
    settings.TIME_ZONE = zone
    assert len(picture().days) in (3, 4)
