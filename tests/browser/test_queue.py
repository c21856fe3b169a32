"""The manager at the queue: gathering, choosing by keyboard, views, files, the next 72 hours."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from intake.models import Bottle, ClockRow
from labqueue.actions.accepting import accept_plan
from labqueue.actions.equipping import make_usual_units
from labqueue.actions.proposing import propose_plan
from labqueue.models import SavedView, Unit
from tests.bench.bench import received
from tests.browser.chromium import NARROW, WIDE
from tests.factories import COLLECTED, ENTERED, anion_bottle, cation_bottle, sample

pytestmark = pytest.mark.browser
NOW = datetime(2026, 3, 3, 15, 0, tzinfo=UTC)
PHONE = 360


@pytest.fixture
def bottles(submitter, reception, manager, group, rulebook, transactional_db, monkeypatch):
    """Two consignments, one of them planned on the cation unit."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    make_usual_units(by=manager, at=ENTERED)
    first = [sample(f"R{n}", bottles=(anion_bottle(),)) for n in range(1, 5)]
    early = COLLECTED - timedelta(hours=9)
    kept = {"chilled_at": early, "filtered_at": early}
    both = (anion_bottle(**kept), cation_bottle(**kept, acid_at=early))
    second = [sample(f"W{n}", collected_at=early, bottles=both) for n in range(1, 4)]
    made = received(submitter, reception, group, rulebook, *first)
    made += received(submitter, reception, group, rulebook, *second)
    ClockRow.objects.filter(bottle=made[0]).update(due_at=NOW - timedelta(hours=1))
    draft = propose_plan([Unit.objects.get(name="Cation 1")], 3, by=manager, at=NOW)
    accept_plan(draft, by=manager, at=NOW, version=0)
    return made


def picture(page, name):
    folder = os.environ.get("BENCH_PICTURES")
    if folder:
        page.driver.save_screenshot(str(Path(folder) / f"{name}.png"))


def ticked(page):
    return page.driver.find_elements("css selector", 'input[name="bottle"]:checked')


def press(page, *keys):
    ActionChains(page.driver).send_keys(*keys).perform()


def focus(page, selector):
    page.driver.execute_script("document.querySelector(arguments[0]).focus()", selector)


@pytest.mark.parametrize("width", [PHONE, NARROW, WIDE])
def test_every_page_of_the_queue_at_each_width(page, sign_in, manager, bottles, assert_accessible, width):
    sign_in(manager)
    page.width(width)
    numbers = "&".join(f"bottle={bottle.number}" for bottle in bottles[:3])
    for address in (
        "/queue/",
        "/queue/?by=consignment",
        "/queue/?changed=came",
        "/queue/ahead/",
        "/queue/views/?query=line%3Danion",
        f"/queue/selected/?{numbers}",
    ):
        page.go(address)
        for fold in page.driver.find_elements("css selector", "summary"):
            fold.click()
        assert_accessible()
        picture(page, f"queue{address.strip('/').replace('/', '-')[5:20]}-{width}")


def test_the_first_screen_of_a_phone_shows_what_is_lost_soonest(page, sign_in, manager, bottles):
    sign_in(manager)
    page.width(PHONE)
    page.go("/queue/")
    row = page.driver.execute_script(
        "return document.querySelector('.queue tbody tr').getBoundingClientRect().top"
    )
    assert row < page.driver.execute_script("return window.innerHeight")


@pytest.mark.parametrize("scheme", ["dark", "forced"])
def test_the_picture_in_dark_and_with_forced_colours(
    page, sign_in, manager, bottles, assert_accessible, scheme
):
    sign_in(manager)
    page.media(**({"prefers-color-scheme": "dark"} if scheme == "dark" else {"forced-colors": "active"}))
    page.go("/queue/ahead/")
    assert_accessible()
    picture(page, f"ahead-{scheme}")
    look = "getComputedStyle(document.querySelector(arguments[0]))[arguments[1]]"
    run = page.driver.execute_script(f"return {look}", ".ahead .run", "stroke")
    ground = page.driver.execute_script(f"return {look}", ".ahead .run", "fill")
    assert run != ground, "blocks have an edge"


def test_bottles_are_chosen_by_keyboard_and_put_on_hold(page, sign_in, manager, bottles, assert_accessible):
    sign_in(manager)
    page.go("/queue/?by=consignment")
    focus(page, "#select-all")
    press(page, Keys.SPACE)
    assert len(ticked(page)) == 7
    assert page.find("#chosen").text == "7 of 7 shown selected."
    press(page, Keys.SPACE)
    assert not ticked(page)

    focus(page, "[data-selects]")
    press(page, Keys.ENTER)
    assert len(ticked(page)) == 3, "the three of the urgent consignment"
    assert_accessible()
    focus(page, "[data-selects]")
    press(page, Keys.ENTER)

    focus(page, 'input[name="bottle"]')
    press(page, Keys.SPACE, Keys.TAB, Keys.TAB, Keys.SPACE)
    chosen = [box.get_attribute("value") for box in ticked(page)]
    assert len(chosen) == 2
    focus(page, "#go-on")
    press(page, Keys.ENTER)
    page.wait_for_text("2 selected bottles")
    page.find("#hold_reason").send_keys("The fridge stood open.")
    press(page, Keys.TAB, Keys.ENTER)
    page.wait_for_text("2 bottles are on hold.")
    assert set(Bottle.objects.filter(state="on hold").values_list("number", flat=True)) == set(chosen)


def test_a_range_is_chosen_with_shift(page, sign_in, manager, bottles):
    sign_in(manager)
    page.go("/queue/")
    boxes = page.driver.find_elements("css selector", 'input[name="bottle"]')
    boxes[1].click()
    ActionChains(page.driver).key_down(Keys.SHIFT).click(boxes[4]).key_up(Keys.SHIFT).perform()
    assert len(ticked(page)) == 4


def test_a_view_is_kept_and_found_again(page, sign_in, manager, bottles, assert_accessible):
    sign_in(manager)
    page.go("/queue/?line=anion&by=consignment")
    page.find("#views summary").click()
    page.find("#views .row a").click()
    page.find("[name=name]").send_keys("Anions by consignment", Keys.ENTER)
    page.wait_for_text("is saved")
    assert SavedView.objects.get().query == "line=anion&by=consignment"
    page.go("/queue/")
    page.find("#views summary").click()
    assert_accessible()
    page.driver.find_element("link text", "Anions by consignment").click()
    page.wait_for_text("Gathered by consignment.")
    page.go("/queue/views/")
    page.driver.find_element("css selector", ".plain-list button").click()
    page.wait_for_text("is deleted")
    assert not SavedView.objects.exists()


def test_both_files_are_offered_for_what_is_shown(page, sign_in, manager, bottles):
    sign_in(manager)
    page.go("/queue/?line=anion")
    links = [link.get_attribute("href") for link in page.driver.find_elements("css selector", "#files a")]
    assert [link.rpartition("/queue/")[2] for link in links] == [
        "list.csv?line=anion",
        "list.xlsx?line=anion",
    ]
