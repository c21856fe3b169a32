"""The whole way of a bottle, by three people, with the keyboard alone, at both widths.

A submitter registers by the page and by spreadsheet and sends; reception receives, one bottle
of it warm; the manager finds every bottle in its place in the queue.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone
from openpyxl import load_workbook
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from intake.models import Arrival, Bottle, Consignment
from labqueue.queuerows import left_of
from tests.browser.chromium import NARROW, WIDE, ZOOMED, Page

ZONE = ZoneInfo("Europe/Berlin")


class Hands:
    """Somebody who uses no mouse."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.driver = page.driver

    def keys(self, *keys: str) -> None:
        ActionChains(self.driver, duration=0).send_keys(*keys).perform()

    def reach(self, element: object) -> None:
        """Go to ``element`` with the Tab key from the top of the page; it has to be on the way."""
        self.driver.execute_script("document.activeElement.blur(); window.scrollTo(0, 0);")
        for _step in range(400):
            self.keys(Keys.TAB)
            if self.driver.execute_script("return document.activeElement === arguments[0]", element):
                return
        raise AssertionError(f"the Tab key never reaches {element.text or element.get_attribute('name')}")

    def press(self, text: str, then: str) -> None:
        """Reach the control that carries ``text``, press Enter on it and wait for the words ``then``."""
        self.reach(self.page.control(text))
        self.keys(Keys.ENTER)
        self.page.wait_for_text(then)

    def fill(self, label: str, text: str) -> None:
        field = self.page.labelled(label)
        self.reach(field)
        if field.tag_name == "select":
            self.keys(text)
        else:
            self.keys(text)

    def fill_row(self, values: dict[str, str]) -> None:
        """Go through the first row of the page of samples with the Tab key, typing where there is a value."""
        left = dict(values)
        self.reach(self.driver.find_element("id", "r1-own_id"))
        for _step in range(60):
            code = self.driver.execute_script("return document.activeElement.id").removeprefix("r1-")
            if code in left:
                self.keys(left.pop(code))
            if not left:
                return
            self.keys(Keys.TAB)
        raise AssertionError(f"the Tab key passes by the cells {sorted(left)}")


def row_of(own_id: str, collected: datetime) -> dict[str, str]:
    """A sample with both bottles, kept as the house rulebook asks."""
    there = collected.astimezone(ZONE)
    return {
        "own_id": own_id,
        "site": "Lower weir",
        "collected_date": f"{there:%Y-%m-%d}",
        "collected_time": f"{there:%H:%M}",
        "ph": "7.4",
        "ec": "420",
        "ec_unit": "µS/cm",
        "ec_reference": "compensated to 25 °C",
        "filter_pore": "0.45",
        "anion_ions": "common anions",
        "anion_volume": "50",
        "anion_brim": "yes",
        "anion_chilled": "at once",
        "cation_ions": "common cations",
        "cation_volume": "50",
        "cation_brim": "yes",
        "cation_chilled": "at once",
        "cation_acid": "nitric",
        "cation_acid_mol_l": "1",
        "cation_acid_ml": "1",
    }


@pytest.mark.parametrize(
    ("width", "forced"),
    [
        pytest.param(WIDE, "none", marks=pytest.mark.long),
        pytest.param(NARROW, "none", marks=pytest.mark.long),
        (ZOOMED, "none"),
        (WIDE, "active"),
    ],
    ids=["1280 px", "390 px", "400 % zoom", "forced colours"],
)
def test_from_the_stream_to_the_queue(
    width: int,
    forced: str,
    page: Page,
    sign_in: Callable,
    submitter: object,
    reception: object,
    manager: object,
    rulebook: object,
    assert_accessible: Callable,
    tmp_path: Path,
):
    page.width(width)
    page.media(forced_colors=forced)
    hands = Hands(page)
    now = timezone.now().replace(second=0, microsecond=0)
    register(hands, sign_in(submitter), now, assert_accessible, tmp_path)
    consignment = Consignment.objects.get()
    assert (consignment.state, consignment.bottles.count()) == ("sent", 4)
    receive(hands, sign_in(reception), consignment, assert_accessible)
    find_in_the_queue(page, sign_in(manager), now, assert_accessible)
    # The browser itself complains of the sheet that was answered with 422, as it should have been.
    assert not [error for error in page.script_errors() if "422" not in error]


def register(hands: Hands, page: Page, now: datetime, accessible: Callable, folder: Path) -> None:
    page.go("/consignments/")
    accessible()
    hands.press("New consignment", "First what the samples have in common")
    accessible()
    hands.fill("Title", "Weir survey")
    hands.press("Go on to the samples", "One row a sample")
    accessible()
    hands.fill_row(row_of("ältere Probe", now - timedelta(hours=20)))
    hands.press("Save", "Saved: 1 sample")
    accessible()
    by_sheet(hands, page, now, accessible, folder)
    hands.press("Send", "Send to the laboratory?")
    accessible()
    hands.press("Send", "What was done")
    accessible()


def by_sheet(hands: Hands, page: Page, now: datetime, accessible: Callable, folder: Path) -> None:
    """The second sample comes by the workbook, first with a fault in it."""
    consignment = Consignment.objects.get()
    page.go(f"/consignments/{consignment.number}/sheet/")
    accessible()
    content = downloaded(page, f"/consignments/{consignment.number}/sheet.xlsx")
    path = folder / "weir.xlsx"
    path.write_bytes(content)
    values = row_of("zweite", now - timedelta(hours=2))
    add_row(path, {**values, "ph": "seven"})
    upload(hands, page, path, "1 cell needs correcting")
    accessible()
    path.write_bytes(content)
    add_row(path, values)
    page.go(f"/consignments/{consignment.number}/sheet/")
    upload(hands, page, path, "Nothing is saved yet")
    accessible()
    assert consignment.samples.count() == 1
    hands.press("Save these samples", "One row a sample")
    accessible()
    page.go(f"/consignments/{consignment.number}/")
    accessible()
    assert list(consignment.samples.values_list("own_id", flat=True)) == ["ältere Probe", "zweite"]


def downloaded(page: Page, address: str) -> bytes:
    """The file at ``address``, fetched with the cookies of the browser."""
    numbers = page.driver.execute_async_script(
        """const done = arguments[arguments.length - 1];
        fetch(arguments[0]).then((answer) => answer.arrayBuffer())
            .then((content) => done([...new Uint8Array(content)]));""",
        address,
    )
    return bytes(numbers)


def add_row(path: Path, values: dict[str, str]) -> None:
    """Fill the first free row of the workbook, as a person would with its headings in sight."""
    from intake.sheets.columns import BY_CODE

    book = load_workbook(path)
    sheet = book.worksheets[0]
    headings = {}
    for row in sheet.iter_rows():
        texts = {str(cell.value): cell for cell in row if cell.value is not None}
        if BY_CODE["own_id"].heading in texts:
            headings = {text: cell.column for text, cell in texts.items()}
            start = row[0].row
            break
    column = headings[BY_CODE["own_id"].heading]
    free = next(n for n in range(start + 1, sheet.max_row + 2) if sheet.cell(n, column).value is None)
    for code, text in values.items():
        sheet.cell(free, headings[BY_CODE[code].heading]).value = text
    book.save(path)


def upload(hands: Hands, page: Page, path: Path, then: str) -> None:
    page.find("input[type=file]").send_keys(str(path))
    hands.press("Upload and check", then)


def receive(hands: Hands, page: Page, consignment: Consignment, accessible: Callable) -> None:
    page.go("/reception/")
    accessible()
    hands.keys(consignment.number, Keys.ENTER)
    page.wait_for_text("Weir survey")
    if not page.driver.current_url.endswith("/open/"):
        page.wait_for_text("Open")
    accessible()
    hands.fill("Temperature on opening", "4.2")
    hands.fill("Read on", "temp")
    hands.fill("Cooling found", "ice")
    hands.press("Open and go to the desk", "of 4 checked")
    page.find("#sound")
    accessible()
    empty_the_box(hands, page, consignment)
    accessible()
    arrival = Arrival.objects.get()
    page.go(f"/reception/arrivals/{arrival.number}/close/")
    accessible()


def empty_the_box(hands: Hands, page: Page, consignment: Consignment) -> None:
    """Scan every bottle; the newer sample's bottle for anions is warm in the hand."""

    def answered() -> str | None:
        return page.driver.execute_script("return document.getElementById('answer').dataset.answered")

    def enter(keys: str) -> str:
        before = answered()
        hands.keys(*keys)
        page.wait(lambda _: answered() != before, f"an answer to {keys!r}")
        return page.driver.find_element("css selector", ".answer-word").text

    for bottle in consignment.bottles.select_related("sample").order_by("sample__position", "line"):
        enter(bottle.number + Keys.ENTER)
        if bottle.sample.own_id == "zweite" and bottle.line == "anion":
            enter("1" + Keys.ENTER)
            continue
        if enter(" ") == "Which pH?":
            enter(".PH1.5" + Keys.ENTER)
    states = dict(Bottle.objects.values_list("number", "state"))
    warm = Bottle.objects.get(sample__own_id="zweite", line="anion")
    assert states.pop(warm.number) == "on hold"
    assert set(states.values()) == {"ready"}


def find_in_the_queue(page: Page, _page: Page, now: datetime, accessible: Callable) -> None:
    page.go("/queue/")
    accessible()
    rows = [row.text for row in page.driver.find_elements("css selector", ".queue tbody tr")]
    assert len(rows) == 4
    assert "ältere Probe" in rows[0]
    assert "zweite" in rows[1]
    assert "on hold" in rows[1]
    warm = Bottle.objects.prefetch_related("clocks").get(sample__own_id="zweite", line="anion")
    assert {"nitrite", "nitrate", "phosphate"} <= set(left_of(warm.clocks.all(), now).ions)
    for ion in left_of(warm.clocks.all(), now).ions:
        assert ion in rows[1]
