"""A person at the desk, for browser tests: scanner, keyboard, eyes; and boxes to empty."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from django.utils import timezone
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from intake.actions import receiving, registering, sending
from intake.models import Arrival, Bottle
from tests.browser.chromium import Page
from tests.factories import anion_bottle, cation_bottle, sample

#: What a wedge scanner puts between two characters, ms; most are as quick as that.
BETWEEN_CHARACTERS_MS = 5
#: A slow one, ms, and the pace of a practised hand, s a bottle, of which it looks that long before
#: it presses a key (our choices).
SLOW_SCANNER_MS = 40
A_BOTTLE_S = 1.5
LOOKING_S = 0.9
#: What the hand does with a bottle in which it sees nothing wrong: one key; or, where acid belongs
#: in, one scan off the card for the pH of the portion.
IN_ORDER = " "
STRIP_IN_ORDER = f".PH1.5{Keys.ENTER}"


@dataclass(frozen=True, slots=True)
class Move:
    """A bottle that is scanned, and what is then typed without waiting for an answer."""

    number: str
    hand: str


def water(own_id: str, hazards: str = "", **anion):
    """A sample of some hours ago with both bottles."""
    collected = timezone.now() - timedelta(hours=8)
    moments = {"chilled_at": collected, "filtered_at": collected}
    bottles = (anion_bottle(**{**moments, **anion}), cation_bottle(**moments, acid_at=collected))
    return sample(own_id, collected_at=collected, bottles=bottles, hazards=hazards)


def announced(by, group, rulebook, title, *entries):
    made = timezone.now() - timedelta(hours=1)
    consignment = registering.make_consignment(
        by=by, at=made, group=group, title=title, rulebook=rulebook, zone="Europe/Berlin"
    )
    registering.enter_samples(consignment, entries, by=by, at=made, version=consignment.version)
    return sending.send_consignment(consignment, by=by, at=made, version=consignment.version)


def on_the_bench(by, *consignments) -> Arrival:
    now = timezone.now()
    return receiving.open_arrival(
        consignments,
        by=by,
        at=now,
        received_at=now,
        transport={"temperature_c": 4.2, "measured_on": "temperature blank", "cooling": "ice"},
    )


#: Notes every answer that the page shows, and every time that the box loses the focus.
WATCHED = """
    const said = document.getElementById('answer');
    window.told = [];
    window.lost = 0;
    new MutationObserver(() => window.told.push({
        tone: said.className.replace('answer answer-', ''),
        word: said.querySelector('.answer-word').textContent,
        left: said.querySelector('.answer-left')?.textContent ?? '',
        on: document.querySelector('#desk-form [name=on]')?.value ?? '',
    })).observe(said, {attributes: true, attributeFilter: ['data-answered']});
    document.getElementById('scan').addEventListener('blur', () => { window.lost += 1; });
"""


class Scanning:
    """A person with a scanner at a page whose box takes every scan, and eyes on its answers."""

    def __init__(self, page: Page, address: str, ready: str, between_ms: int = BETWEEN_CHARACTERS_MS) -> None:
        self.page = page
        self.driver = page.driver
        self.between_s = between_ms / 1000
        page.go(address)
        page.find(ready)
        self.driver.execute_script(WATCHED)

    def type(self, text: str) -> None:
        """Type without waiting for an answer, as a scanner does, wherever the focus is."""
        keys = ActionChains(self.driver, duration=0)
        for character in text:
            keys = keys.send_keys(character).pause(self.between_s)
        keys.perform()

    def scan(self, text: str) -> str:
        """Scan and wait for the word that the desk answers with."""
        return self.press(text + Keys.ENTER)

    def press(self, keys: str) -> str:
        before = self.answered()
        self.type(keys)
        self.page.wait(lambda _: self.answered() != before, f"an answer to {keys!r}")
        assert self.focused(), "the box keeps the focus"
        return self.word()

    def answered(self) -> str | None:
        return self.driver.execute_script("return document.getElementById('answer').dataset.answered")

    def word(self) -> str:
        return self.driver.find_element("css selector", ".answer-word").text

    def said(self) -> str:
        return self.driver.find_element("css selector", "#answer").text

    def focused(self) -> bool:
        return self.driver.execute_script("return document.activeElement.id === 'scan'")

    def told(self) -> list[dict[str, str]]:
        """Every answer shown since the desk was opened, in order."""
        return self.driver.execute_script("return window.told")

    def times_focus_was_lost(self) -> int:
        return self.driver.execute_script("return window.lost")


class Bench(Scanning):
    """A person at the desk of an arrival."""

    def __init__(self, page: Page, arrival: Arrival, between_ms: int = BETWEEN_CHARACTERS_MS) -> None:
        # The button for sound is shown by the script once it runs.
        super().__init__(page, f"/reception/arrivals/{arrival.number}/desk/", "#sound", between_ms)

    def waiting(self) -> int:
        """Scans that the browser keeps because no answer came yet."""
        return self.driver.execute_script(
            """return Object.entries(localStorage).filter(([key]) => key.startsWith('labqueue-desk-A'))
            .reduce((count, [, kept]) => count + JSON.parse(kept).waiting.length, 0);"""
        )

    def in_order(self, bottle: Bottle) -> str:
        """Scan, look, press the one key; where a pH is asked for, scan it off the card."""
        self.scan(bottle.number)
        word = self.press(" ")
        return self.scan(".PH1.5") if word == "Which pH?" else word

    def work_at_pace(self, moves: Sequence[Move], each_s: float = A_BOTTLE_S) -> None:
        """Scan a bottle and press what the hand presses, every ``each_s``, whatever is answered."""
        begun = time.monotonic()
        for count, move in enumerate(moves):
            _sleep_until(begun + count * each_s)
            self.type(move.number + Keys.ENTER)
            _sleep_until(begun + count * each_s + LOOKING_S)
            self.type(move.hand)


def _sleep_until(moment: float) -> None:
    time.sleep(max(0.0, moment - time.monotonic()))
