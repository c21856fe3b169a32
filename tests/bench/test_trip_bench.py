"""What a trip is told of the bench: units, and the spells in which runs and repairs take them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from urllib.parse import urlencode

import pytest

from intake.models import Consignment
from intake.rules.facts import Line
from labqueue.laboratory import bench
from labqueue.models import Unit
from labqueue.reaching import send_by
from tests.factories import draft, sample
from tests.views.pages import text_of

#: Tuesday, a quarter of an hour after the bottles of the run were received.
NOW = datetime(2026, 3, 3, 14, 15, tzinfo=UTC)
FORTNIGHT = timedelta(days=14)


def march(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 3, day, hour, minute, tzinfo=UTC)


def anion_1(now: datetime = NOW):
    return bench(NOW - FORTNIGHT, NOW + FORTNIGHT, now).units[Line.ANION][0]


def test_a_planned_run_takes_its_unit_and_offers_its_next_place(planned):
    """Start-up and checks: 30 min + 8 x 20 min; 5 samples from 18:10, duplicate, spike and two checks
    to 20:50. The last injection ends 21:10, with 30 min turnaround the unit is free at 21:40.

    A sixth bottle goes behind all of that at 21:10; its tray is loaded at the start, 15:00.
    Alone: 190 min, 1 + 2 + 2 injections of 20 min and 30 min turnaround are 320 min.
    """
    unit = anion_1()
    assert unit.taken == ((march(3, 15), march(3, 21, 40)),)
    assert unit.places == ((march(3, 15), march(3, 21, 10)),)
    assert (unit.lead_min, unit.alone_min) == (190, 320)


def test_a_run_that_was_not_started_in_time_is_taken_to_start_now(planned):
    """Planned for 15:00, still not started at 16:00: all of it an hour later."""
    unit = anion_1(march(3, 16))
    assert unit.taken == ((march(3, 16), march(3, 22, 40)),)
    assert unit.places == ((march(3, 16), march(3, 22, 10)),)


def test_a_running_run_counts_from_its_start(started):
    unit = anion_1()
    assert unit.taken == ((started.started_at, started.started_at + timedelta(minutes=400)),)


def test_a_full_tray_offers_no_place(planned):
    """13 places, 8 of them reserved: 5 less the 2 for duplicate and spike hold 3 samples."""
    Unit.objects.filter(name="Anion 1").update(tray_places=13)
    assert anion_1().places == ()


def test_repairs_take_a_unit(units):
    Unit.objects.filter(name="Anion 1").update(out_from=march(4, 8))
    assert anion_1().taken == ((march(4, 8), NOW + FORTNIGHT),)
    Unit.objects.filter(name="Anion 1").update(out_until=march(5, 8))
    assert anion_1().taken == ((march(4, 8), march(5, 8)),)


def test_what_is_not_in_use_any_more_does_not_count(planned):
    Unit.objects.filter(name="Anion 1").update(retired_at=NOW)
    (only,) = bench(NOW - FORTNIGHT, NOW + FORTNIGHT, NOW).units[Line.ANION]
    assert only.taken == ()


def test_the_card_says_by_when_the_box_has_to_come(signed_in, submitter, group, rulebook, units):
    """Collected on Tuesday 08:00 UTC: nitrite is due on Thursday 08:00. Start-up takes 190 min, so a run
    starts by 04:50, that is on Wednesday by 17:00, an hour after handing over: by 16:00.
    """
    consignment = draft(submitter, group, rulebook, sample("S1"))
    told = send_by(consignment, NOW)
    assert (told.due_at, told.latest_at) == (march(5, 8), march(4, 16))
    # Both units out of service from Wednesday 09:00 on: nothing can be started after Wednesday 08:59.
    Unit.objects.filter(line="anion").update(out_from=march(4, 9))
    assert send_by(consignment, NOW).latest_at < march(4, 8)
    # From Tuesday 14:00 on: nothing any more.
    Unit.objects.filter(line="anion").update(out_from=march(3, 14))
    assert send_by(consignment, NOW).latest_at is None
    assert send_by(consignment, NOW + 2 * FORTNIGHT).due_at > NOW + 2 * FORTNIGHT
    assert send_by(consignment, NOW + timedelta(days=400)) is None
    card = signed_in(submitter).get(f"/consignments/{consignment.number}/field-card/")
    assert card["Content-Type"] == "application/pdf"


@pytest.fixture
def ask(client, rulebook, monkeypatch):
    """The answer to a trip for nitrate on Tuesday 3 March 15:00, in the van at 16:00."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)

    def asked():
        given = {
            "ions": ["nitrate"],
            "sites": "1",
            "begins": "2026-03-03T15:00",
            "ends": "2026-03-03T15:00",
            "zone": "UTC",
            "transport_h": "1",
            "kept": ["filtered", "chilled"],
            "water": "unknown",
            "ec": "",
            "alkalinity": "",
            "book": str(rulebook.pk),
        }
        return client.get("/trip/?" + urlencode(given, doseq=True))

    return asked


def test_the_page_waits_for_the_unit_that_is_free(ask, planned):
    """At the door at 16:00, ready 17:00. Anion 1 is taken to 21:40; Anion 2 is free: 17:00 + 190 min
    is 20:10. Without Anion 2 nobody is there at 21:40, so Wednesday 08:00 + 190 min is 11:10.
    """
    assert "First injection, arriving as planned Tue 3 Mar 20:10" in text_of(ask())
    Unit.objects.filter(name="Anion 2").update(retired_at=NOW)
    assert "First injection, arriving as planned Wed 4 Mar 11:10" in text_of(ask())


def test_units_that_are_out_of_service_are_said_to_be_the_reason(ask, units):
    Unit.objects.update(out_from=NOW)
    said = text_of(ask())
    assert "no injection can start in time for: nitrate" in said
    assert "The units are taken until it is too late" in said


def test_nothing_of_a_consignment_is_told_and_nothing_more_is_asked(
    ask, planned, django_assert_max_num_queries
):
    with django_assert_max_num_queries(8):
        answer = ask()
    page = answer.content.decode()
    consignment = Consignment.objects.get()
    names = [consignment.number, consignment.title, consignment.group.name, planned.number, "Anion 1"]
    names += consignment.bottles.values_list("number", flat=True)
    assert not [name for name in names if name in page]
