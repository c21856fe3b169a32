"""A submitter who never spoke to the laboratory, by keyboard alone, on a desk and on a phone.

Trip, consignment, day of analysis, labels, sending, a change after that, a copy, withdrawing.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from intake.models import Consignment, DateRequest, RecordEntry
from tests.browser.chromium import WIDE, Page
from tests.browser.test_entering import cut
from tests.browser.test_main_path import Hands, downloaded
from tests.conftest import PASSWORD
from tests.factories import draft, sample, sent
from tests.papers.seeing import text_of

PHONE = 360


@pytest.fixture(params=[WIDE, PHONE], ids=["1280 px", "360 px"])
def hands(page: Page, request: pytest.FixtureRequest) -> Hands:
    page.width(request.param)
    return Hands(page)


@pytest.fixture
def signed_in_hands(hands: Hands, sign_in: Callable, submitter: object) -> Hands:
    sign_in(submitter)
    return hands


def test_a_trip_becomes_a_consignment_with_its_sites(hands, submitter, rulebook, assert_accessible):
    page = hands.page
    page.go("/trip/")
    hands.press("Check the trip", "At reception by")
    assert_accessible()
    hands.press("Make it a consignment", "Sign in")
    hands.reach(page.find("input[name=login]"))
    hands.keys(submitter.email, Keys.TAB)
    hands.reach(page.find("input[name=password]"))
    hands.keys(PASSWORD, Keys.ENTER)
    page.wait_for_text("4 samples")
    assert_accessible()
    hands.press("Go on to the samples", "One row a sample")
    consignment = Consignment.objects.get()
    assert (consignment.samples.count(), consignment.bottles.count()) == (4, 8)
    assert consignment.title.startswith("Trip of")


def test_a_day_is_chosen_and_asked_for(
    signed_in_hands, manager, submitter, group, rulebook, assert_accessible
):
    hands, page = signed_in_hands, signed_in_hands.page
    consignment = draft(submitter, group, rulebook, sample())
    page.go(f"/consignments/{consignment.number}/")
    hands.press("ask for a day", "Room on the next days")
    hands.reach(page.find(".trip-day a, .room-day a, main ol a, main ul a[href*='day=']"))
    hands.keys(Keys.ENTER)
    page.wait(lambda driver: "day=" in driver.current_url, "a day to be chosen")
    hands.press("Ask for this day", "asked for")
    assert_accessible()
    asked = DateRequest.objects.get()
    assert (asked.state, asked.anion_bottles) == ("asked", consignment.bottles.filter(line="anion").count())


def test_labels_packing_list_and_card_are_reached_and_printed(
    signed_in_hands, submitter, group, rulebook, assert_accessible
):
    hands, page = signed_in_hands, signed_in_hands.page
    consignment = draft(submitter, group, rulebook, sample("S1"), sample("S2"))
    page.go(f"/consignments/{consignment.number}/")
    hands.reach(page.control("packing list"))
    hands.reach(page.control("field card"))
    hands.press("labels", "Make the labels")
    assert_accessible()
    hands.reach(page.control("Make the labels"))
    address = page.driver.execute_script(
        "const form = document.activeElement.form;"
        "return form.action + '?' + new URLSearchParams(new FormData(form));"
    )
    told = text_of(downloaded(page, address))
    assert "S1" in told
    assert "S2" in told


def test_sent_changed_with_a_reason_and_seen_by_reception(
    signed_in_hands, sign_in, reception, submitter, group, rulebook, assert_accessible
):
    hands, page = signed_in_hands, signed_in_hands.page
    consignment = draft(submitter, group, rulebook, sample())
    page.go(f"/consignments/{consignment.number}/")
    hands.press("Send", "Send to the laboratory?")
    hands.press("Send", "What was done")
    page.go(f"/consignments/{consignment.number}/amend/")
    assert_accessible()
    title = page.labelled("Title")
    hands.reach(title)
    hands.keys(Keys.END, " after rain")
    hands.fill("Why", "It rained.")
    hands.press("Save", "Saved.")
    sign_in(reception)
    page.go("/reception/")
    page.wait_for_text("after rain")
    page.wait_for_text("changed after sending")
    assert_accessible()
    page.press("It has come")
    page.wait_for_text("It rained.")
    assert_accessible()


def test_a_former_one_is_copied_without_its_dates_and_withdrawn(
    signed_in_hands, submitter, group, rulebook, assert_accessible
):
    hands, page = signed_in_hands, signed_in_hands.page
    former = sent(submitter, group, rulebook, sample("S1", site="Weir"))
    page.go(f"/consignments/{former.number}/")
    assert_accessible()
    hands.press("New one like it", "Go on to the samples")
    assert_accessible()
    hands.press("Go on to the samples", "One row a sample")
    copied = Consignment.objects.exclude(pk=former.pk).get()
    (one,) = copied.samples.all()
    assert (one.own_id, one.site, one.collected_at, one.ph) == ("S1", "Weir", None, None)
    page.go(f"/consignments/{former.number}/")
    hands.press("Withdraw", "Why you withdraw it")
    assert_accessible()
    hands.fill("Why you withdraw it", "The weir is dry.")
    hands.press("Withdraw", "Withdrawn. The laboratory no longer expects these bottles.")
    assert RecordEntry.objects.filter(verb="consignment.withdraw", reason="The weir is dry.").exists()


def test_on_the_phone_the_network_is_lost_in_mid_entry_and_nothing_is(
    page, sign_in, submitter, group, rulebook
):
    """Typed without network, the page loaded anew without it and with it: there, and sent once."""
    consignment = draft(submitter, group, rulebook)
    page.width(PHONE)
    sign_in(submitter)
    page.go(f"/consignments/{consignment.number}/samples/")
    page.find("form[data-samples]")
    try:
        page.driver.execute_cdp_cmd("Network.enable", {})
        page.driver.find_element(By.NAME, "own_id").send_keys("Mill 1")
        cut(page, True)
        page.driver.find_element(By.NAME, "site").send_keys("Upper weir")
        page.driver.find_element(By.NAME, "anion_ions").send_keys("nutrients")
        page.press("Save")
        page.wait_for_text("There is no network.")
        assert not consignment.samples.exists()
        cut(page, False)
        page.wait(lambda _: consignment.samples.count() == 1, "the sample to be sent by itself")
    finally:
        cut(page, False)
    page.wait(lambda _: RecordEntry.objects.filter(verb="samples.enter").count() == 1, "one entry")
    stored = consignment.samples.get()
    assert (stored.own_id, stored.site) == ("Mill 1", "Upper weir")
