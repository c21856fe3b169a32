"""Two people at once before a real server: nobody's work is lost, doubled or half done."""

from __future__ import annotations

import threading
from collections.abc import Callable

from tests.faults.conftest import TIMES
from tests.faults.lab import Person, hidden
from tests.faults.test_killed import assert_sound, proposed

#: 500 with `make faults`, which has the time; what is tried is the same.
BOTTLES = 500 if TIMES >= 100 else 30


def together(*steps: Callable[[], object]) -> list[object]:
    """What ``steps`` gave, begun at the same moment; raises what one of them raised."""
    gate, found = threading.Barrier(len(steps)), [None] * len(steps)

    def run(place: int, step: Callable[[], object]) -> None:
        gate.wait()
        try:
            found[place] = step()
        except Exception as fault:
            found[place] = fault

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(steps)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for one in found:
        if isinstance(one, Exception):
            raise one
    return found


def test_two_receptionists_scan_the_same_bottles(laboratory):
    lab = laboratory(BOTTLES)
    before = lab.facts()
    lab.start()
    people = [Person(lab, "rolf@lab.example"), Person(lab, "rita@lab.example")]
    arrival, bottles = lab.seeded["arrival"], lab.seeded["bottles"]
    assert len(bottles) == BOTTLES

    def scan(name: str, person: Person) -> Callable[[], dict[str, str]]:
        return lambda: {number: person.scan(arrival, number, f"{name}{number}") for number in bottles}

    said = together(*(scan(name, person) for name, person in zip("ab", people, strict=True)))
    facts = lab.facts()
    assert_sound(facts)
    assert facts["checked_twice"] == 0
    new = set(facts["check_tokens"]) - set(before["check_tokens"])
    # No bottle without a check, and each check with its entry.
    assert {token[1:] for token in new} == set(bottles)
    assert facts["check_entries"] - before["check_entries"] == facts["checks"] - before["checks"] == len(new)
    # Everybody got an answer that says what is the case.
    words = {word for answers in said for word in answers.values()}
    assert words <= {"accepted", "stopped", "told"}
    for number in bottles:
        assert "accepted" in {answers[number] for answers in said}


def test_two_managers_plan_the_same_queue(laboratory):
    lab = laboratory(2)
    lab.start()
    people = [Person(lab, "mara@lab.example"), Person(lab, "max@lab.example")]
    drafts = together(*(lambda person=person: proposed(person) for person in people))
    fields = [
        hidden(person.get(draft), "version", "token") for person, draft in zip(people, drafts, strict=True)
    ]

    def accept(place: int) -> Callable[[], object]:
        return lambda: people[place].post(f"{drafts[place]}accept/", fields[place])

    answers = sorted(together(accept(0), accept(1)), key=lambda answer: answer.status)
    assert [answer.status for answer in answers] == [302, 409]
    assert "Plan again" in answers[1].text
    facts = lab.facts()
    assert_sound(facts)
    assert len(facts["accepted"]) == 1
    assert facts["placed"] == facts["awaiting"]
    assert len(facts["placed"]) == len(set(facts["placed"])) == 20
