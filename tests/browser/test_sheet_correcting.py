"""Putting an uploaded sheet right in the browser, wide and on a phone; entering with one hand."""

from __future__ import annotations

from io import BytesIO

import pytest
from openpyxl import load_workbook
from selenium.webdriver.common.by import By

from intake.models import Sample
from intake.sheets.write import consignment_workbook
from tests.factories import draft, sample

#: The narrowest phone that is looked after, CSS px.
PHONE = 360
#: The least side of what is tapped, CSS px (WCAG 2.2, 2.5.8).
LEAST_TARGET = 24


@pytest.fixture
def consignment(submitter, group, rulebook):
    return draft(submitter, group, rulebook)


@pytest.fixture
def workbook(tmp_path, consignment):
    content = consignment_workbook(
        number=consignment.number,
        title=consignment.title,
        zone=consignment.zone,
        entries=[sample("S1"), sample("S2"), sample("S3")],
    )
    file = load_workbook(BytesIO(content))
    sheet = file["Samples"]
    places = {cell.value: cell.column for cell in sheet[3]}
    sheet.cell(6, places["Field pH"]).value = "seven"
    path = tmp_path / "filled.xlsx"
    file.save(path)
    return path


@pytest.mark.parametrize("width", [1280, PHONE])
def test_a_faulty_cell_is_put_right_and_the_sheet_is_confirmed(
    sign_in, submitter, consignment, workbook, width, assert_accessible
):
    page = sign_in(submitter)
    page.width(width)
    page.go(f"/consignments/{consignment.number}/sheet/")
    page.find("input[type=file]").send_keys(str(workbook))
    page.press("Upload and check")
    page.wait_for_text("1 cell needs correcting")
    assert_accessible()
    page.find(".notice-error a").click()
    field = page.driver.switch_to.active_element
    assert field.get_attribute("value") == "seven"
    field.clear()
    field.send_keys("7.1")
    page.press("Check again")
    page.wait_for_text("Every cell could be read.")
    assert not Sample.objects.exists()
    assert_accessible()
    page.press("Save these samples")
    page.wait_for_text("Saved: 3 samples from the sheet")
    assert sorted(Sample.objects.values_list("ph", flat=True)) == [7.1, 7.4, 7.4]


def test_what_takes_seconds_is_said_while_it_runs(sign_in, submitter, consignment):
    page = sign_in(submitter)
    page.go(f"/consignments/{consignment.number}/sheet/")
    page.find("form[data-once]")
    words = page.driver.find_element(By.CSS_SELECTOR, "[data-while-sent]")
    assert not words.is_displayed()
    # The sending is held back, so that the page can be looked at while it runs.
    page.driver.execute_script(
        "const form = document.querySelector('form[data-once]');"
        "document.addEventListener('submit', (event) => event.preventDefault());"
        "form.requestSubmit();"
    )
    assert words.is_displayed()
    assert "Nothing is saved yet" in words.text


def test_one_hand_reaches_everything_on_a_phone(sign_in, submitter, consignment, assert_accessible):
    page = sign_in(submitter)
    page.width(PHONE)
    page.go(f"/consignments/{consignment.number}/samples/")
    page.find("form[data-samples]")
    assert_accessible()
    targets = page.driver.find_elements(
        By.CSS_SELECTOR, ".samples button, .sample-row input:not([type=hidden])"
    )
    sizes = [(one.accessible_name, one.size) for one in targets if one.is_displayed()]
    assert len(sizes) > 20
    small = [name for name, size in sizes if min(size["width"], size["height"]) < LEAST_TARGET]
    assert not small
    seen = page.driver.execute_script(
        "return [...document.querySelectorAll('.samples-foot button')].filter((one) => one.offsetParent)"
        ".every((one) => { const box = one.getBoundingClientRect();"
        " return box.top >= 0 && box.bottom <= innerHeight && box.right <= innerWidth; })"
    )
    assert seen, "saving and adding have to be reached without scrolling"
