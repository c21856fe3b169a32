"""The manager closes a consignment: injections with faults, results, statement, correction, overview."""

from __future__ import annotations

from datetime import timedelta

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from intake.models import Injection, Result, Statement
from labqueue.actions import injections
from labqueue.actions.accepting import accept_plan
from labqueue.actions.equipping import make_usual_units
from labqueue.actions.proposing import propose_plan
from labqueue.actions.running import start_run
from labqueue.models import ColumnMatch, Place, Unit
from tests.bench.bench import received
from tests.browser.chromium import WIDE
from tests.factories import COLLECTED, ENTERED, RECEIVED, anion_bottle, sample

SMALL = 360
NEXT_DAY = RECEIVED + timedelta(hours=30)


@pytest.fixture
def clock(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NEXT_DAY)


@pytest.fixture
def run(submitter, reception, manager, group, rulebook, transactional_db):
    """A run of four bottles that was started."""
    kept = {"chilled_at": COLLECTED, "filtered_at": COLLECTED}
    entries = [sample(f"S{number}", bottles=(anion_bottle(**kept),)) for number in range(1, 5)]
    received(submitter, reception, group, rulebook, *entries)
    make_usual_units(by=manager, at=ENTERED)
    at = RECEIVED + timedelta(hours=1)
    draft = propose_plan([Unit.objects.get(name="Anion 1")], 3, by=manager, at=at)
    (run,) = accept_plan(draft, by=manager, at=at, version=0)
    at = max(run.planned_start, at)
    return start_run(run, by=manager, at=at, started_at=at, version=run.version)


@pytest.fixture
def injected(run, manager):
    """The same, all injected as planned."""
    injections.enter_as_planned(run, by=manager, at=NEXT_DAY, version=run.version, zone="UTC")
    return run


@pytest.fixture
def at_both(page, assert_accessible):
    """Looks at the page as it stands, small and wide."""

    def look():
        for width in (SMALL, WIDE):
            page.width(width)
            assert_accessible()

    return look


def press_by_keyboard(page, text):
    """Go through the page with Tab until the control called ``text`` has the focus, then press Enter."""
    page.driver.execute_script("document.activeElement.blur()")
    for _step in range(80):
        page.driver.switch_to.active_element.send_keys(Keys.TAB)
        if page.driver.switch_to.active_element.text.strip() == text:
            page.driver.switch_to.active_element.send_keys(Keys.ENTER)
            return
    pytest.fail(f"The keyboard does not reach “{text}”.")


@pytest.mark.usefixtures("clock")
def test_a_list_with_faults_tells_each_and_takes_the_rest(run, manager, page, sign_in, at_both, tmp_path):
    places = list(Place.objects.filter(run=run, awaiting=True).select_related("bottle").order_by("position"))
    first, second, third, fourth = places

    def line(place, moment, bottle=""):
        return f"{place.position};{bottle};{moment:%Y-%m-%d %H:%M}"

    rows = [
        line(first, first.planned_at, first.bottle.number),
        line(first, first.planned_at),
        line(second, second.planned_at + timedelta(days=7)),
        line(third, RECEIVED - timedelta(hours=5)),
        line(fourth, fourth.planned_at, "B2345678"),
    ]
    file = tmp_path / "unit.csv"
    file.write_text("\n".join(["Nr;Flasche;Zeit", *rows]), encoding="utf-8")
    sign_in(manager)
    page.go(f"/bench/runs/{run.number}/import/")
    page.labelled("List of injections").send_keys(str(file))
    page.press("Read the list")
    page.wait_for_text("Which column holds what")
    at_both()
    page.labelled("Column with the place").send_keys("Nr")
    page.labelled("Column with the bottle number").send_keys("Flasche")
    page.labelled("Column with date and time").send_keys("Zeit")
    page.labelled("Remember this matching as").send_keys("Anion 1")
    page.press("Look at what would be entered")
    page.wait_for_text("1 injection can be entered")
    text = page.find("main").text
    assert f"Place {first.position} is there twice" in text
    assert text.count("lies outside this run") == 2
    assert "is not on this run" in text
    at_both()
    page.press("Enter these injections")
    page.wait_for_text("Run list")
    assert Injection.objects.get().bottle == first.bottle
    assert ColumnMatch.objects.get().name == "Anion 1"
    page.go(f"/bench/runs/{run.number}/import/")
    page.labelled("List of injections").send_keys(str(file))
    page.press("Read the list")
    # The columns are known by now; the first place was entered a moment ago.
    page.wait_for_text("is entered already")


@pytest.mark.usefixtures("clock")
def test_results_statement_and_its_correction(injected, manager, page, sign_in, at_both, tmp_path):
    bottle = Place.objects.filter(run=injected, kind="sample").first().bottle
    sign_in(manager)
    page.go("/results/")
    at_both()

    def upload(value, wait):
        file = tmp_path / f"values-{value}.csv"
        file.write_text(f"Bottle,Ion,Value\n{bottle.number},nitrate,{value}\n", encoding="utf-8")
        page.labelled("File").send_keys(str(file))
        for radio in page.driver.find_elements(By.CSS_SELECTOR, "input[type=radio][value=no]"):
            radio.click()
        page.press("Enter the results")
        page.wait_for_text(wait)

    upload("1.5", "1 values entered")
    consignment = bottle.consignment
    page.go(f"/consignments/{consignment.number}/statement/")
    page.wait_for_text("Issue the statement?")
    at_both()
    press_by_keyboard(page, "Issue the statement below")
    page.wait_for_text("Issued. The group was told by mail.")
    at_both()
    page.go("/results/")
    upload("many", "to put right; nothing was entered")
    at_both()
    upload("2.5", "Say why 1 value changed")
    at_both()
    page.type_into("Why values entered before are corrected", "The blank was not taken off.")
    upload("2.5", "1 of them correct an older one")
    assert Result.objects.count() == 2
    first = Statement.objects.get()
    page.go(f"/statements/{first.number}/")
    press_by_keyboard(page, "Correct it")
    page.wait_for_text("Correct the statement?")
    at_both()
    page.type_into("Why it replaces the one before", "Nitrate was corrected.")
    page.press("Issue the statement below")
    page.wait_for_text(f"Statement {consignment}".split(" Weir")[0])
    page.wait_for_text("Nitrate was corrected.")
    page.go(f"/statements/{first.number}/")
    page.wait_for_text("Replaced by statement")
    at_both()


@pytest.mark.usefixtures("clock")
def test_the_overview_small_and_wide(injected, manager, page, sign_in, at_both):
    sign_in(manager)
    page.go("/overview/")
    page.wait_for_text("Use of units")
    pictures = page.driver.find_elements(By.CSS_SELECTOR, "svg.bars")
    assert len(pictures) >= 4
    assert all(picture.get_attribute("aria-label") for picture in pictures)
    at_both()
    for summary in page.driver.find_elements(By.CSS_SELECTOR, "summary"):
        summary.send_keys(Keys.ENTER)
    at_both()
    assert page.script_errors() == []
