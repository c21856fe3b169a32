"""Friday, half past four, 140 bottles: plan, move one, print, scan the tray, start, injections, statement."""

from __future__ import annotations

import base64
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pypdfium2
import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from intake.actions import receiving, registering, sending
from intake.actions.checking import check_bottle
from intake.models import ClockRow, Injection, Statement
from labqueue.actions.equipping import UNIT_FIELDS, change_unit, make_usual_units
from labqueue.actions.injections import enter_as_planned
from labqueue.actions.running import start_run
from labqueue.models import Place, PlanDraft, Run, Unit
from tests.bench.bench import SEEN
from tests.browser.chromium import NARROW, WIDE
from tests.factories import anion_bottle, sample

FRIDAY = datetime(2026, 3, 6, 16, 30, tzinfo=UTC)
COLLECTED = FRIDAY - timedelta(hours=10)
BOTTLES = 140
#: Pages that tell of every bottle: looked at by axe at one width.
LONG = ("plan", "dragging", "statement-draft", "statement")


@pytest.fixture
def clock(monkeypatch):
    """The server's clock; ``clock.now`` may be set on."""

    class Clock:
        now = FRIDAY

    monkeypatch.setattr("django.utils.timezone.now", lambda: Clock.now)
    return Clock


@pytest.fixture
def bottles(submitter, reception, manager, group, rulebook, transactional_db):
    """140 bottles collected this morning, received this afternoon and ready."""
    return received_today(BOTTLES, submitter, reception, manager, group, rulebook)


@pytest.fixture
def few(submitter, reception, manager, group, rulebook, transactional_db):
    """A dozen of such bottles."""
    return received_today(12, submitter, reception, manager, group, rulebook)


def received_today(count, submitter, reception, manager, group, rulebook):
    entered, received = COLLECTED + timedelta(hours=2), FRIDAY - timedelta(hours=1)
    kept = {"chilled_at": COLLECTED, "filtered_at": COLLECTED}
    entries = [
        sample(f"S{number:03}", collected_at=COLLECTED, bottles=(anion_bottle(**kept),))
        for number in range(1, count + 1)
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


def sent_again(submitter, group, rulebook):
    """A consignment of three that is to come on the Monday after."""
    at = COLLECTED + timedelta(hours=3)
    consignment = registering.make_consignment(
        by=submitter,
        at=at,
        group=group,
        rulebook=rulebook,
        title="Monday",
        zone="UTC",
        requested_on=(FRIDAY + timedelta(days=3)).date(),
    )
    entries = [
        sample(f"M{number}", collected_at=COLLECTED, bottles=(anion_bottle(),)) for number in (1, 2, 3)
    ]
    registering.enter_samples(consignment, entries, by=submitter, at=at, version=consignment.version)
    sending.send_consignment(consignment, by=submitter, at=at, version=consignment.version)
    return consignment


def picture(page, name):
    """A picture of the page for whoever asks for them with BENCH_PICTURES."""
    folder = os.environ.get("BENCH_PICTURES")
    if folder:
        height = page.driver.execute_script("return document.documentElement.scrollHeight")
        width = page.driver.execute_script("return window.innerWidth")
        page.driver.set_window_size(width, min(height, 2400))
        page.driver.save_screenshot(str(Path(folder) / f"{name}-{width}.png"))


def look(page, assert_accessible, name, widths=(NARROW, WIDE)):
    """The page at both widths, held to axe."""
    for width in widths:
        page.width(width)
        assert_accessible()
        picture(page, name)


def plan_and_move(page, check):
    """Propose a plan on the anion units, put one bottle later, drag another, accept."""
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
    drag_one(page, check)
    page.press("Accept this plan")
    page.wait_for_text("planned.")


def rows_of_first_run(page):
    return page.driver.find_elements(By.CSS_SELECTOR, ".plan-run:first-of-type tr[data-bottle]")


def grip_of(row):
    return row.find_element(By.CSS_SELECTOR, ".grip")


def cost_stands_there(page):
    page.wait(
        lambda driver: "It costs no clock." in driver.find_element(By.CSS_SELECTOR, ".moving-cost").text,
        "the cost of the move",
    )


def drag_one(page, check):
    """With the pointer: the cost stands there while the bottle hovers, and before anything is moved."""
    page.width(WIDE)
    page.find(".grip")
    rows = rows_of_first_run(page)[:8]
    taken, target = rows[2], rows[6]
    number = taken.get_attribute("id").removeprefix("b-")
    page.driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", rows[4])
    hand = ActionChains(page.driver).move_to_element(grip_of(taken)).click_and_hold()
    hand.move_to_element(grip_of(target)).move_by_offset(0, 1).perform()
    page.wait_for_text("→ Place")
    cost_stands_there(page)
    assert len(PlanDraft.objects.get().pins) == 1
    ActionChains(page.driver).release().perform()
    picture(page, "dragged")
    page.press("Leave it where it was")
    assert not page.driver.find_element(By.ID, "moving").is_displayed()
    hand = ActionChains(page.driver).drag_and_drop(grip_of(taken), grip_of(target))
    hand.perform()
    cost_stands_there(page)
    check("dragging")
    page.width(WIDE)
    page.press("Put it there")
    page.wait_for_text("stays where you put it")
    (pin,) = [pin for pin in PlanDraft.objects.get().pins if pin[0] == number]
    assert pin[3] == 6
    by_form(page, check)


def by_form(page, check):
    """The same without a pointer or a script: the cost is asked for, then the bottle is left where it was."""
    rows_of_first_run(page)[9].find_element(By.CSS_SELECTOR, "th a").click()
    page.wait_for_text("Its place")
    page.type_into("As sample number", "3")
    page.press("See what that costs")
    page.wait_for_text("It costs no clock.")
    check("move-by-form")
    page.press("Leave it")
    page.wait_for_text("Can it be better?")
    assert len(PlanDraft.objects.get().pins) == 2


def print_the_list(page, run, places):
    """What the printer gets: every bottle and its dilution, and none of the buttons."""
    page.go(f"/bench/runs/{run.number}/")
    page.wait_for_text("Run list")
    printed = page.driver.execute_cdp_cmd(
        "Page.printToPDF", {"paperWidth": 8.27, "paperHeight": 11.69, "preferCSSPageSize": True}
    )
    data = base64.b64decode(printed["data"])
    folder = os.environ.get("BENCH_PICTURES")
    if folder:
        Path(folder, "run-list.pdf").write_bytes(data)
    paper = pypdfium2.PdfDocument(data)
    text = " ".join("\n".join(sheet.get_textpage().get_text_range() for sheet in paper).split())
    for place in places:
        assert str(place.bottle) in text, place.bottle
        assert place.bottle.sample.own_id in text
    for word in ("Dilution", "Volume correction", "Remarks", "Planned"):
        assert word in text
    for button in ("Note the start", "Check the tray", "Spreadsheet"):
        assert button not in text


def scan(page, number, wanted):
    """Type a bottle number as a scanner does, and wait for the answer of the page that follows."""
    page.type_into("Bottle", number + Keys.ENTER)
    page.wait_for_text(wanted)


def scan_the_tray(page, run, places):
    """Every bottle of the tray into its place, and one into a wrong one."""
    page.go(f"/bench/runs/{run.number}/tray/")
    for place in places[:-1]:
        scan(page, place.bottle.number, f"Place {place.position}: bottle")
    scan(page, places[0].bottle.number, f"belongs on place {places[0].position}")
    assert page.labelled("Bottle").get_attribute("value") == ""
    scan(page, places[-1].bottle.number, "Every bottle is in its place")


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


def measure_the_rest(manager, clock):
    """The other runs start when they are planned and go in as planned."""
    for run in Run.objects.filter(state="planned").order_by("planned_start"):
        at = max(clock.now, run.planned_start)
        started = start_run(run, by=manager, at=at, started_at=at, version=run.version)
        clock.now = at + timedelta(hours=30)
        enter_as_planned(started, by=manager, at=clock.now, version=started.version, zone="UTC")


def issue_the_statement(page, consignment, check):
    page.go(f"/consignments/{consignment.number}/")
    page.press("look at the draft and issue it")
    page.wait_for_text("Issue the statement?")
    check("statement-draft")
    page.press("Issue the statement below")
    page.wait_for_text("Issued. The group was told by mail.")
    statement = Statement.objects.get()
    assert statement.consignment == consignment
    check("statement")


def test_friday_half_past_four(bottles, manager, page, sign_in, clock, assert_accessible, tmp_path):
    def check(name):
        # A plan of 140 bottles at one width; both are looked at where the pages are short.
        look(page, assert_accessible, name, (WIDE,) if name in LONG else (NARROW, WIDE))

    sign_in(manager)
    plan_and_move(page, check)
    run = Run.objects.order_by("planned_start", "unit__name").first()
    assert run.planned_start == FRIDAY
    places = list(
        Place.objects.filter(run=run, awaiting=True).select_related("bottle__sample").order_by("position")
    )
    print_the_list(page, run, places)
    check("run")
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
    measure_the_rest(manager, clock)
    assert Injection.objects.count() == BOTTLES
    sign_in(manager)
    issue_the_statement(page, bottles[0].consignment, check)
    refused = [error for error in page.script_errors() if "422" not in error]
    assert refused == []


@pytest.mark.parametrize("what", ["deadline", "unit"])
def test_an_open_plan_does_not_lie(few, manager, page, sign_in, clock, assert_accessible, what):
    """A due moment passes, a unit is taken out of service: the open plan says so and is not accepted."""
    sign_in(manager)
    page.go("/bench/plan/")
    page.press("Propose a plan")
    page.wait_for_text("Can it be better?")
    assert "does not hold any more" not in page.find("body").text
    address = page.driver.current_url
    if what == "deadline":
        clock.now = COLLECTED + timedelta(hours=48, minutes=1)
        sign_in(manager)
        wanted = "clocks have run out since this plan was made."
    else:
        unit = Unit.objects.get(name="Anion 1")
        fields = {name: getattr(unit, name) for name in UNIT_FIELDS}
        change_unit(unit, {**fields, "out_from": FRIDAY}, by=manager, at=FRIDAY, version=unit.version)
        wanted = "Units or hours have changed since this plan was made."
    page.driver.get(address)
    page.wait_for_text("This plan does not hold any more.")
    page.wait_for_text(wanted)
    look(page, assert_accessible, f"stale-{what}")
    page.press("Accept this plan")
    page.wait_for_text("Plan again")
    assert not Run.objects.exists()


def test_places_reserved_and_given_up(
    submitter, manager, group, rulebook, transactional_db, page, sign_in, clock, assert_accessible, few
):
    """Announced for Monday, planned, not come when the run starts: said before, and given up."""
    announced = sent_again(submitter, group, rulebook)
    clock.now = FRIDAY + timedelta(hours=64)
    sign_in(manager)
    page.go("/bench/plan/")
    page.labelled("Reserve places for bottles that are still to come").click()
    look(page, assert_accessible, "plan-form-announced")
    page.press("Propose a plan")
    page.wait_for_text("3 places are reserved for bottles that have not come.")
    look(page, assert_accessible, "plan-announced")
    page.press("Accept this plan")
    page.wait_for_text("planned.")
    places = Place.objects.filter(reserved=True).select_related("run")
    assert {place.bottle for place in places} == set(announced.bottles.all())
    run = places[0].run
    clock.now = run.planned_start
    sign_in(manager)
    page.go(f"/bench/runs/{run.number}/")
    page.wait_for_text("not here yet")
    look(page, assert_accessible, "run-reserved")
    page.press("Note the start")
    page.wait_for_text("their bottles have not come" if len(places) > 1 else "its bottle has not come")
    look(page, assert_accessible, "start-without")


def test_a_priority_in_the_browser(few, manager, page, sign_in, clock, assert_accessible):
    sign_in(manager)
    number = few[7].number
    page.go(f"/bench/priority/{number}/")
    page.press("Note the priority")
    page.wait_for_text("Fill in: reason.")
    page.labelled("first:").click()
    page.type_into("Reason", "Drinking water complaint")
    look(page, assert_accessible, "priority")
    page.press("Note the priority")
    page.wait_for_text("The priority is noted.")
    page.go("/bench/plan/")
    page.press("Propose a plan")
    page.wait_for_text("Can it be better?")
    assert "first" in page.find(f"#b-{number}").text


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
