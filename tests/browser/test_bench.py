"""Friday, half past four, 140 bottles: plan, move one, print, scan the tray, start, injections back."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from intake.actions import receiving, registering, sending
from intake.actions.checking import check_bottle
from intake.models import ClockRow, Injection
from labqueue.actions.equipping import make_usual_units
from labqueue.models import Place, PlanDraft, Run
from tests.bench.bench import SEEN
from tests.browser.chromium import NARROW, WIDE
from tests.factories import anion_bottle, sample

FRIDAY = datetime(2026, 3, 6, 16, 30, tzinfo=UTC)
COLLECTED = FRIDAY - timedelta(hours=10)
BOTTLES = 140


@pytest.fixture
def clock(monkeypatch):
    """The server's clock; ``clock.now`` may be set on."""

    class Clock:
        now = FRIDAY

    monkeypatch.setattr("django.utils.timezone.now", lambda: Clock.now)
    return Clock


@pytest.fixture
def bottles(submitter, reception, manager, group, rulebook, transactional_db):
    """Bottles collected this morning, received this afternoon and ready."""
    entered, received = COLLECTED + timedelta(hours=2), FRIDAY - timedelta(hours=1)
    kept = {"chilled_at": COLLECTED, "filtered_at": COLLECTED}
    entries = [
        sample(f"S{number:03}", collected_at=COLLECTED, bottles=(anion_bottle(**kept),))
        for number in range(1, BOTTLES + 1)
    ]
    consignment = registering.make_consignment(
        by=submitter, at=entered, group=group, rulebook=rulebook, title="Flood", zone="UTC"
    )
    registering.enter_samples(consignment, entries, by=submitter, at=entered, version=consignment.version)
    sending.send_consignment(consignment, by=submitter, at=entered, version=consignment.version)
    arrival = receiving.open_arrival(
        [consignment],
        by=reception,
        at=received,
        received_at=received,
        transport={"temperature_c": 4.0, "measured_on": "temperature blank", "cooling": "ice"},
    )
    for bottle in consignment.bottles.all():
        check_bottle(bottle, arrival, by=reception, at=received, seen=SEEN, in_order=True)
    make_usual_units(by=manager, at=entered)
    return list(consignment.bottles.order_by("pk"))


def picture(page, name):
    """A picture of the page for whoever asks for them with BENCH_PICTURES."""
    folder = os.environ.get("BENCH_PICTURES")
    if folder:
        height = page.driver.execute_script("return document.documentElement.scrollHeight")
        width = page.driver.execute_script("return window.innerWidth")
        page.driver.set_window_size(width, min(height, 2400))
        page.driver.save_screenshot(str(Path(folder) / f"{name}-{width}.png"))


def look(page, assert_accessible, name):
    """The page at both widths, held to axe."""
    for width in (NARROW, WIDE):
        page.width(width)
        assert_accessible()
        picture(page, name)


def plan_and_move(page, check):
    """Propose a plan on the anion units, put one bottle later, accept."""
    page.go("/bench/")
    page.wait_for_text(f"{BOTTLES} bottles are ready and on no run.")
    check("bench")
    page.press("Plan runs")
    page.wait_for_text("Every ready bottle is put where the fewest clocks run out")
    check("plan-form")
    page.labelled("Cation 1").click()
    page.press("Propose a plan")
    page.wait_for_text("Can it be better?")
    check("plan")
    first = page.find("button[name=down]").get_attribute("value")
    page.press("Later")
    page.wait_for_text("stays where you put it")
    assert [pin[0] for pin in PlanDraft.objects.get().pins] == [first]
    page.press("Accept this plan")
    page.wait_for_text("planned.")


def scan_the_tray(page, run, places):
    """Three bottles into their places, and one into a wrong one."""
    page.go(f"/bench/runs/{run.number}/tray/")
    for place in places[:3]:
        page.wait_for_text(f"Place {place.position}")
        page.type_into("Bottle", place.bottle.number)
        page.press("It stands here")
        page.wait_for_text(f"Place {place.position}: bottle")
    page.type_into("Bottle", places[0].bottle.number)
    page.press("It stands here")
    page.wait_for_text(f"belongs on place {places[0].position}")
    assert page.labelled("Bottle").get_attribute("value") == ""


def import_injections(page, run, count, file, check):
    """The list as the unit wrote it, with one row that cannot be."""
    lines = ["Nr;Flasche;Zeit"]
    for place in Place.objects.filter(run=run).select_related("bottle").order_by("position"):
        number = place.bottle.number if place.bottle else ""
        lines.append(f"{place.position};{number};{place.planned_at:%Y-%m-%d %H:%M}")
    lines.append("999;;2026-03-07 10:00")
    file.write_text("\n".join(lines), encoding="utf-8")
    page.go(f"/bench/runs/{run.number}/import/")
    page.labelled("List of injections").send_keys(str(file))
    page.press("Read the list")
    page.wait_for_text("Which column holds what")
    page.labelled("Column with the place").send_keys("Nr")
    page.labelled("Column with the bottle number").send_keys("Flasche")
    page.labelled("Column with date and time").send_keys("Zeit")
    page.press("Look at what would be entered")
    page.wait_for_text(f"{count} injections can be entered")
    page.wait_for_text("Place “999” is not on this run.")
    check("import")
    page.press("Enter these injections")
    page.wait_for_text("The run is over.")


def test_friday_half_past_four(bottles, manager, page, sign_in, clock, assert_accessible, tmp_path):
    def check(name):
        look(page, assert_accessible, name)

    sign_in(manager)
    plan_and_move(page, check)
    run = Run.objects.order_by("planned_start", "pk").first()
    assert run.planned_start == FRIDAY
    page.go(f"/bench/runs/{run.number}/")
    page.wait_for_text("Run list")
    check("run")
    places = list(Place.objects.filter(run=run, awaiting=True).select_related("bottle").order_by("position"))
    scan_the_tray(page, run, places)
    check("tray")
    page.go(f"/bench/runs/{run.number}/start/")
    page.press("Note the start")
    page.wait_for_text("Injections back")

    clock.now = FRIDAY + timedelta(hours=64)  # Monday morning
    sign_in(manager)
    import_injections(page, run, len(places), tmp_path / "injections.csv", check)
    assert Injection.objects.count() == len(places)
    stopped = ClockRow.objects.filter(bottle__in=[place.bottle for place in places])
    assert not stopped.filter(stopped_at__isnull=True).exists()
    refused = [error for error in page.script_errors() if "422" not in error]
    assert refused == []


def test_units_hours_and_queue_at_both_widths(at_width, manager, sign_in, assert_accessible, clock):
    make_usual_units(by=manager, at=FRIDAY)
    sign_in(manager)
    for path, words in (
        ("/bench/units/", "Opening hours"),
        ("/bench/units/new/", "Add a unit"),
        ("/bench/hours/", "Public holidays of"),
        ("/queue/", "Nothing waits"),
    ):
        at_width.go(path)
        at_width.wait_for_text(words)
        assert_accessible()
        picture(at_width, path.strip("/").replace("/", "-"))
    at_width.go("/bench/units/")
    at_width.driver.execute_script("document.querySelector('input[name=day]').value = '2026-05-15';")
    at_width.type_into("Reason", "Outing")
    at_width.press("Close this day")
    at_width.wait_for_text("The day is closed.")
    at_width.wait_for_text("Fri 15 May 2026, Outing")
    at_width.press("Open it again")
    at_width.wait_for_text("The day is open again.")
    assert_accessible()
