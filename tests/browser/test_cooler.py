"""A whole cooler emptied at the pace of a practised hand, by one person and by two at once."""

from __future__ import annotations

from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from selenium.webdriver.common.keys import Keys

from intake.models import Bottle
from tests.browser.bench import (
    IN_ORDER,
    SLOW_SCANNER_MS,
    STRIP_IN_ORDER,
    Bench,
    Move,
    announced,
    on_the_bench,
    water,
)
from tests.conftest import PASSWORD

#: What the eye finds on some bottles, and what the hand then types or scans off the card.
SEEN_WRONG = {
    "RM-03 anion": f"1{Keys.ENTER}",  # not cold
    "RM-07 anion": f"2{Keys.ENTER}",  # air over the water
    "RM-12 cation": f".3{Keys.ENTER}",  # leaking
    "RM-18 anion": f"5{Keys.ENTER}",  # cloudy
    "RM-22 cation": f"6{Keys.ENTER}",  # label unlike the list
    "RM-27 anion": f"7{Keys.ENTER}",  # broken
}
#: What the eye passes and the rules must stop: acid where anions are measured, water never filtered,
#: a strip without acid.
NOT_SEEN = {
    "RM-15 anion": IN_ORDER + STRIP_IN_ORDER,
    "RM-31 anion": IN_ORDER,
    "RM-36 cation": f".PH6.5{Keys.ENTER}",
}


def survey():
    """Forty samples of two bottles, three of them with a fault that only the rules find."""
    faults = {
        15: {"acidified": True, "acid_kind": "nitric", "acid_mol_l": 1.0, "acid_ml": 0.5},
        31: {"filter_pore_um": 0.0, "filter_membrane": "", "filtered_at": None},
    }
    return [water(f"RM-{number:02}", **faults.get(number, {})) for number in range(40)]


def name(bottle: Bottle) -> str:
    return f"{bottle.sample.own_id} {bottle.line}"


def move(bottle: Bottle) -> Move:
    usual = STRIP_IN_ORDER if bottle.line == "cation" else IN_ORDER
    hand = {**SEEN_WRONG, **NOT_SEEN}.get(name(bottle), usual)
    return Move(bottle.number, hand)


def bottles_of(consignment) -> list[Bottle]:
    return list(consignment.bottles.select_related("sample").order_by("sample__position", "line"))


@pytest.mark.long
def test_eighty_bottles_at_the_pace_of_a_scanner_and_nothing_wrong_passes(
    sign_in, submitter, reception, group, rulebook
):
    consignment = announced(submitter, group, rulebook, "Weir survey", *survey())
    arrival = on_the_bench(reception, consignment)
    bottles = bottles_of(consignment)
    assert len(bottles) == 80
    bench = Bench(sign_in(reception), arrival, SLOW_SCANNER_MS)
    bench.work_at_pace([move(bottle) for bottle in bottles])
    bench.page.wait(lambda _: bench.waiting() == 0, "the last scan to be answered")

    wrong = {name(bottle): bottle.number for bottle in bottles if name(bottle) in {**SEEN_WRONG, **NOT_SEEN}}
    told = bench.told()
    tones: dict[str, list[str]] = {bottle.number: [] for bottle in bottles}
    for answer in told:
        tones[answer["on"]].append(answer["tone"])
    assert len(told) == 80 * 2 + 1, "two answers a bottle, one more where the strip was asked for"
    right = [tones[bottle.number] for bottle in bottles if bottle.number not in wrong.values()]
    assert right == [["look", "accepted"]] * 71, "one scan and one key each"
    assert {tones[number][-1] for number in wrong.values()} == {"stopped"}
    assert not any(answer["left"] for answer in told)
    assert bench.times_focus_was_lost() == 0
    assert bench.focused()

    after = bottles_of(consignment)
    assert {name(bottle) for bottle in after if bottle.state == "on hold"} == set(wrong)
    assert Counter(bottle.state for bottle in after) == {"ready": 71, "on hold": 9}
    made = arrival.checks.order_by("checked_at")
    assert [check.bottle_id for check in made] == [bottle.pk for bottle in bottles], "each when it was made"
    assert {check.bottle_id for check in made if check.in_order is False} == {
        bottle.pk for bottle in bottles if name(bottle) in SEEN_WRONG
    }
    stops = bench.driver.find_elements("css selector", "#stops li")
    assert len(stops) == 9
    assert "Every expected bottle is checked" in bench.driver.find_element("id", "progress").text
    assert not bench.page.script_errors()


def empty(bench: Bench, own: list[Bottle], contested: list[Bottle], together: Barrier) -> None:
    """One person's part: the own half, then bottles at which both reach at the same moment."""
    bench.work_at_pace([move(bottle) for bottle in own])
    for bottle in contested:
        together.wait()
        bench.type(f"{bottle.number}{Keys.ENTER}{move(bottle).hand}")


def test_two_people_empty_the_same_cooler_at_once(
    sign_in, second_page, submitter, reception, person, group, rulebook
):
    """Each bottle is checked once, by whoever was first; the other is told who it was."""
    consignment = announced(
        submitter, group, rulebook, "Weir survey", *(water(f"TW-{number:02}") for number in range(12))
    )
    arrival = on_the_bench(reception, consignment)
    bottles = bottles_of(consignment)
    contested = bottles[20:]
    second = person("Rita Reception", "reception")
    second_page.sign_in(second.email, PASSWORD)
    benches = [Bench(sign_in(reception), arrival), Bench(second_page, arrival)]
    together = Barrier(2)
    with ThreadPoolExecutor(2) as both:
        work = [
            both.submit(empty, bench, bottles[half:20:2], contested, together)
            for half, bench in enumerate(benches)
        ]
        assert [done.result() for done in work] == [None, None]
    for bench in benches:
        bench.page.wait(lambda _, bench=bench: bench.waiting() == 0, "the last scan to be answered")
        assert bench.times_focus_was_lost() == 0
        assert len(bench.told()) == 14 * 2, "no scan is lost"

    assert {bottle.state for bottle in bottles_of(consignment)} == {"ready"}
    checks = {check.bottle_id: check.checked_by for check in arrival.checks.all()}
    assert arrival.checks.count() == len(checks) == 24
    for half, who in enumerate((reception, second)):
        assert {checks[bottle.pk] for bottle in bottles[half:20:2]} == {who}
    for bottle in contested:
        heard = [bench.told() for bench in benches]
        last = [[one["word"] for one in told if one["on"] == bottle.number][-1] for told in heard]
        assert sorted(last) == ["Accepted", "Checked already"]
        first = benches[last.index("Accepted")]
        assert checks[bottle.pk] == (reception if first is benches[0] else second)
