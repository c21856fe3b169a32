"""The server is killed (signal 9) at random moments: what it acknowledged is there once, nothing half.

A few times in each run; `make faults` does it a hundred times each. The moments come from a seed that
is printed, so that a failure can be looked at again.
"""

from __future__ import annotations

import random
import secrets
import threading
import time
from collections.abc import Callable

import pytest

from intake.sheets.write import consignment_workbook
from tests.factories import sample
from tests.faults.conftest import TIMES
from tests.faults.lab import AWAY, Lab, Person, hidden

ROWS = 520


@pytest.fixture
def chance():
    seed = secrets.randbits(32)
    print(f"random moments from seed {seed}")
    return random.Random(seed)


def soon(chance: random.Random, lab: Lab, longest_s: float) -> threading.Thread:
    """Kill the server at a random moment from now on."""

    def later() -> None:
        time.sleep(chance.uniform(0, longest_s))
        lab.kill()

    thread = threading.Thread(target=later)
    thread.start()
    return thread


def assert_sound(facts: dict) -> None:
    assert facts["faults"] == []
    assert facts["differing"] == []


class Scanner:
    """Somebody who checks one bottle after the other; knows which checks were answered and which not."""

    def __init__(self, lab: Lab, email: str, bottles: list[str]) -> None:
        self.person = Person(lab, email)
        self.arrival = lab.seeded["arrival"]
        self.bottles = iter(bottles)
        self.acknowledged: set[str] = set()
        self.unanswered: list[tuple[str, str]] = []

    def work(self) -> None:
        """Scan until the server is away."""
        for number in self.bottles:
            token = secrets.token_hex(8)
            try:
                if self.person.scan(self.arrival, number, token) == "accepted":
                    self.acknowledged.add(token)
            except AWAY:
                self.unanswered.append((number, token))
                return

    def send_again(self) -> None:
        """Whoever got no answer sends the same again, whether it took effect or not."""
        while self.unanswered:
            number, token = self.unanswered.pop()
            self.person.scan(self.arrival, number, token)
            self.acknowledged.add(token)


def test_in_the_middle_of_scanning(laboratory, chance):
    lab = laboratory(max(80, 40 * TIMES))
    lab.start()
    bottles = lab.seeded["bottles"]
    people = ("rolf@lab.example", "rita@lab.example")
    scanners = [Scanner(lab, person, bottles[start::2]) for start, person in enumerate(people)]
    before = lab.facts()
    for _ in range(TIMES):
        killer = soon(chance, lab, 1.0)
        threads = [threading.Thread(target=scanner.work) for scanner in scanners]
        for thread in threads:
            thread.start()
        for thread in (*threads, killer):
            thread.join()
        assert_each_once(lab.facts(), before, scanners[0].acknowledged | scanners[1].acknowledged)
        lab.start()
        for scanner in scanners:
            scanner.send_again()
    facts = lab.facts()
    acknowledged = scanners[0].acknowledged | scanners[1].acknowledged
    assert_each_once(facts, before, acknowledged)
    assert acknowledged == set(facts["check_tokens"])


def assert_each_once(facts: dict, before: dict, acknowledged: set[str]) -> None:
    """What was acknowledged is there, and what is there is whole: token, check and entry."""
    assert_sound(facts)
    assert acknowledged <= set(facts["check_tokens"])
    new = len(facts["check_tokens"]) - len(before["check_tokens"])
    assert facts["check_entries"] - before["check_entries"] == new
    assert facts["checks"] - before["checks"] == new
    assert facts["checked_twice"] == 0


@pytest.mark.long
def test_in_the_middle_of_an_import(laboratory, chance):
    lab = laboratory(2)
    lab.start()
    sami = Person(lab, "sami@lab.example")
    number = lab.seeded["draft"]
    before = lab.facts()["sheet_entries"]
    for turn in range(1, TIMES + 1):
        content = workbook(number, f"Sheet {turn}")
        job = until_away(soon(chance, lab, 4.0), said_yes, sami, number, content)
        facts = lab.facts()
        assert_sound(facts)
        done = facts["sheet_entries"] - before
        assert done in (turn - 1, turn)
        assert facts["sites"] in ([f"Sheet {done}"] * ROWS, [])
        lab.start()
        if not job and done < turn:
            job = said_yes(sami, number, content)
        if job:
            wait_for(sami, job)
        facts = lab.facts()
        assert facts["sheet_entries"] - before == turn
        assert facts["sites"] == [f"Sheet {turn}"] * ROWS


def workbook(number: str, site: str) -> bytes:
    entries = [sample(f"S{count}", site=site) for count in range(ROWS)]
    return consignment_workbook(number=number, title="Faults", zone="Europe/Berlin", entries=entries)


def said_yes(person: Person, number: str, content: bytes) -> str:
    """Upload a workbook and say yes to it; the address of the job that saves it."""
    answer = person.upload(f"/consignments/{number}/sheet/", "sheet", content)
    assert answer.status == 302, answer.text
    page = answer.location
    if "/jobs/" in page:
        page = wait_for(person, page)
    answer = person.post(page, hidden(person.get(page), "token", "version", "seen"))
    assert answer.status == 302, answer.text
    return answer.location


def wait_for(person: Person, job: str) -> str:
    """Look at a job's page until it leads on; where to."""
    until = time.monotonic() + 120
    while time.monotonic() < until:
        answer = person.get(job)
        if answer.status == 302:
            return answer.location
        assert "notice-error" not in answer.text, answer.text
        time.sleep(0.1)
    raise AssertionError(answer.text)


def until_away(killer: threading.Thread, step: Callable, *arguments: object):
    """What ``step`` gives, or nothing if the server is killed before; it is killed afterwards anyway."""
    try:
        return step(*arguments)
    except AWAY:
        return ""
    finally:
        killer.join()


@pytest.mark.long
def test_in_the_middle_of_accepting_a_plan(laboratory, chance):
    lab = laboratory(2)
    lab.start()
    mara = Person(lab, "mara@lab.example")
    accepted = set()
    for _ in range(TIMES):
        draft = proposed(mara)
        hidden_fields = hidden(mara.get(draft), "version", "token")
        killer = soon(chance, lab, 0.6)
        answer = until_away(killer, mara.post, f"{draft}accept/", hidden_fields)
        key = draft.strip("/").rpartition("/")[2]
        if answer and answer.status == 302:
            accepted.add(key)
        facts = lab.facts()
        assert_sound(facts)
        assert accepted <= set(facts["accepted"])
        assert facts["placed"] == facts["awaiting"]
        assert len(facts["placed"]) in (0, 20)
        assert bool(facts["placed"]) == bool(facts["accepted"])
        lab.start()
        # The same once more: whoever got no answer may send it again.
        mara.post(f"{draft}accept/", hidden_fields)
        accepted.add(key)
        facts = lab.facts()
        assert set(facts["accepted"]) == accepted
        assert facts["placed"] == facts["awaiting"]
        assert len(facts["placed"]) == 20


def proposed(person: Person) -> str:
    page = person.get("/bench/plan/")
    units = [part.partition('"')[0] for part in page.text.split('name="units" value="')[1:]]
    answer = person.post("/bench/plan/", {"units": units, "days": 7})
    assert answer.status == 302, answer.text
    return answer.location
