"""Entering samples on one page as a person does: keyboard, paste, lost session, lost network."""

from __future__ import annotations

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from intake.models import Sample
from tests.conftest import PASSWORD
from tests.factories import anion_bottle, cation_bottle, draft, sample, sent

INNER = ("", "samples/", "sheet/", "send/", "amend/", "withdraw/")
BLOCK = "A 1\tUpper weir\tgrab\t2026-03-03\t09:00\nA 2\tLower weir\tgrab\t2026-03-03\t09:30\n"


@pytest.fixture
def consignment(submitter, group, rulebook):
    return draft(submitter, group, rulebook)


@pytest.fixture
def entry(sign_in, submitter, consignment):
    """The page of samples, opened by a submitter."""
    page = sign_in(submitter)
    page.go(f"/consignments/{consignment.number}/samples/")
    page.find("form[data-samples]")
    yield page
    page.driver.execute_cdp_cmd("Network.enable", {})
    cut(page, False)
    page.driver.execute_script("localStorage.clear()")


def cell(page, row, column):
    rows = page.driver.find_elements(By.CSS_SELECTOR, ".sample-row")
    return rows[row - 1].find_element(By.NAME, column)


def value(page, row, column):
    return cell(page, row, column).get_property("value")


def focused(page):
    return page.driver.switch_to.active_element


def paste(page, field, text):
    page.driver.execute_script(
        """const data = new DataTransfer();
        data.setData('text/plain', arguments[1]);
        arguments[0].dispatchEvent(
          new ClipboardEvent('paste', {clipboardData: data, bubbles: true, cancelable: true}));""",
        field,
        text,
    )


def cut(page, off):
    """Take the network away, or give it back."""
    page.driver.execute_cdp_cmd(
        "Network.emulateNetworkConditions",
        {"offline": off, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1},
    )


def fill_one(page):
    cell(page, 1, "own_id").send_keys("Mill 1")
    cell(page, 1, "collected_date").send_keys("2026-03-03")
    cell(page, 1, "collected_time").send_keys("09:00")
    cell(page, 1, "ec").send_keys("420")
    cell(page, 1, "ec_unit").send_keys("µS/cm")
    cell(page, 1, "anion_ions").send_keys("nutrients")


def saved(page, count=1):
    page.wait(lambda _: Sample.objects.count() == count, f"{count} samples to be saved")


def test_the_keyboard_alone_enters_samples(entry, consignment):
    page = entry
    cell(page, 1, "own_id").click()
    keys = ActionChains(page.driver)
    keys.send_keys("Mill 1", Keys.ENTER).perform()
    assert focused(page) == cell(page, 2, "own_id")
    ActionChains(page.driver).key_down(Keys.CONTROL).send_keys("d").key_up(Keys.CONTROL).perform()
    assert value(page, 2, "own_id") == "Mill 2"
    ActionChains(page.driver).send_keys(Keys.ARROW_UP, Keys.END, Keys.ARROW_RIGHT, "Upper weir").perform()
    assert value(page, 1, "site") == "Upper weir"
    ActionChains(page.driver).send_keys(Keys.ARROW_DOWN).key_down(Keys.CONTROL).send_keys("d").key_up(
        Keys.CONTROL
    ).perform()
    assert value(page, 2, "site") == "Upper weir"
    ActionChains(page.driver).send_keys(Keys.HOME, Keys.ARROW_LEFT).perform()
    assert focused(page) == cell(page, 2, "own_id")
    page.find(".samples-foot .button-main").send_keys(Keys.ENTER)
    page.wait_for_text("Saved: 2 samples, judged anew.")
    assert list(consignment.samples.values_list("own_id", "site")) == [
        ("Mill 1", "Upper weir"),
        ("Mill 2", "Upper weir"),
    ]
    assert page.driver.execute_script("return localStorage.length") == 0


def test_a_block_from_a_spreadsheet_is_pasted_and_taken_back(entry, consignment):
    page = entry
    paste(page, cell(page, 5, "own_id"), BLOCK)
    assert value(page, 6, "own_id") == "A 2"
    assert value(page, 6, "collected_time") == "09:30"
    page.press("Undo")
    assert len(page.driver.find_elements(By.CSS_SELECTOR, ".sample-row")) == 5
    assert value(page, 5, "own_id") == ""
    paste(page, cell(page, 1, "own_id"), BLOCK)
    page.press("Save")
    saved(page, 2)
    assert consignment.samples.get(own_id="A 1").site == "Upper weir"


def test_a_row_taken_out_comes_back_by_undo_and_goes_by_saving(sign_in, submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample("S1"), sample("S2"))
    page = sign_in(submitter)
    page.go(f"/consignments/{consignment.number}/samples/")
    page.driver.find_element(By.CSS_SELECTOR, "[data-does=remove]").click()
    page.wait_for_text("“S1” was taken out")
    page.press("Undo")
    assert value(page, 1, "own_id") == "S1"
    page.driver.find_element(By.CSS_SELECTOR, "[data-does=remove]").click()
    page.press("Save")
    saved(page, 1)
    assert Sample.objects.get().own_id == "S2"


def test_wrong_cells_are_named_and_nothing_is_lost(entry):
    page = entry
    fill_one(page)
    cell(page, 1, "ph").send_keys("seven")
    page.press("Save")
    page.wait_for_text("“seven” is not a number")
    assert page.driver.title.startswith("Error:")
    assert value(page, 1, "ph") == "seven"
    page.find(".notice-error a").click()
    assert focused(page) == cell(page, 1, "ph")
    cell(page, 1, "ph").clear()
    cell(page, 1, "ph").send_keys("7.1")
    page.press("Save")
    saved(page)
    assert Sample.objects.get().ph == 7.1


def test_what_was_typed_survives_a_reload(entry):
    page = entry
    fill_one(page)
    page.driver.refresh()
    page.wait_for_text("did not save was put back.")
    assert value(page, 1, "own_id") == "Mill 1"
    page.press("Save it now")
    saved(page)
    page.driver.refresh()
    page.find("form[data-samples]")
    assert "was put back" not in page.driver.page_source


def test_a_lost_session_loses_nothing(entry, submitter, consignment):
    page = entry
    fill_one(page)
    page.driver.delete_all_cookies()
    page.press("Save")
    page.wait_for_text("You are signed out.")
    assert value(page, 1, "own_id") == "Mill 1"
    first = page.driver.current_window_handle
    page.driver.switch_to.new_window("tab")
    page.sign_in(submitter.email, PASSWORD)
    page.driver.close()
    page.driver.switch_to.window(first)
    page.press("Send again")
    saved(page)
    assert consignment.record.filter(verb="samples.enter").count() == 1


def test_a_lost_network_loses_nothing_and_it_is_sent_by_itself_once(entry, consignment):
    page = entry
    fill_one(page)
    page.driver.execute_cdp_cmd("Network.enable", {})
    cut(page, True)
    page.press("Save")
    page.wait_for_text("There is no network.")
    assert not Sample.objects.exists()
    cut(page, False)
    saved(page)
    page.wait_for_text("Saved: 1 sample, judged anew.")
    assert consignment.record.filter(verb="samples.enter").count() == 1


def test_the_network_comes_back_after_a_reload(entry, consignment):
    page = entry
    fill_one(page)
    page.driver.execute_cdp_cmd("Network.enable", {})
    cut(page, True)
    page.press("Save")
    page.wait_for_text("There is no network.")
    cut(page, False)
    page.driver.refresh()
    saved(page)
    assert consignment.record.filter(verb="samples.enter").count() == 1


def test_a_sent_consignment_is_changed_with_its_reason_after_the_network_was_lost(
    sign_in, submitter, group, rulebook
):
    consignment = sent(submitter, group, rulebook, sample("S1"))
    page = sign_in(submitter)
    page.go(f"/consignments/{consignment.number}/samples/")
    cell(page, 1, "site").clear()
    cell(page, 1, "site").send_keys("Upper weir")
    page.find("[name=reason]").send_keys("the wrong weir was named")
    page.driver.execute_cdp_cmd("Network.enable", {})
    cut(page, True)
    page.press("Save")
    page.wait_for_text("There is no network.")
    cut(page, False)
    page.driver.refresh()
    saved(page)
    entry = consignment.record.order_by("-position").first()
    assert (entry.verb, entry.reason) == ("samples.enter", "the wrong weir was named")
    assert Sample.objects.get().site == "Upper weir"


def test_somebody_else_on_the_same_device_does_not_see_it(entry, sign_in, manager, consignment):
    page = entry
    fill_one(page)
    page.driver.execute_script("window.dispatchEvent(new Event('pagehide'))")
    sign_in(manager)
    page.go(f"/consignments/{consignment.number}/samples/")
    page.find("form[data-samples]")
    assert value(page, 1, "own_id") == ""


def test_the_submitter_s_pages_are_accessible_at_both_widths(
    at_width, sign_in, submitter, group, rulebook, assert_accessible
):
    wrong = sample("S2", ph=15.2, bottles=(anion_bottle(filter_pore_um=0.7), cation_bottle()))
    consignment = draft(submitter, group, rulebook, sample("S1"), wrong)
    page = sign_in(submitter)
    inner = ("", "samples/", "sheet/", "send/", "amend/", "withdraw/")
    for path in (
        "/consignments/",
        "/consignments/new/",
        *(f"/consignments/{consignment.number}/{one}" for one in inner),
    ):
        page.go(path)
        assert_accessible()
    page.go(f"/consignments/{consignment.number}/samples/")
    cell(page, 1, "ph").clear()
    cell(page, 1, "ph").send_keys("seven")
    page.press("Save")
    page.wait_for_text("is not a number")
    assert_accessible()
    assert not [line for line in page.script_errors() if "Failed to load resource" not in line]
