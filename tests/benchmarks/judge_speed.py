"""How many bottles the rules judge a second on one core.

Run by ``make benchmark`` or ``python -m tests.benchmarks.judge_speed``. The bar: 20,000 bottles of
ordinary samples, two bottles and twelve ions each, by the house rulebook. No two samples are alike.
Time is that of the process, so that a busy machine disturbs it less; the best of some rounds
counts. Ends with 1 when the bar is missed.
"""

from __future__ import annotations

import random
import sys
import time
from dataclasses import replace
from datetime import timedelta

from intake.rules.book import Rulebook
from intake.rules.examples import ANION, ARRIVAL, CATION, COLLECTED, SAMPLE, SEEN
from intake.rules.facts import AcidKind, BottleFacts, SampleFacts
from intake.rules.ions import SETS
from intake.rules.judge import judge
from intake.shipped import shipped_book

SAMPLES = 2000
ROUNDS = 15
BAR = 20_000

Case = tuple[SampleFacts, tuple[BottleFacts, ...]]


def declared() -> list[Case]:
    """Samples as they are sent: well kept, each with its own water and moment."""
    chance = random.Random(7)
    cases = []
    for number in range(SAMPLES):
        moment = COLLECTED + timedelta(minutes=chance.randrange(300 * 1440))
        filtered = {"filtered_at": moment + timedelta(minutes=9)}
        sample = replace(
            SAMPLE,
            key=str(number),
            name=f"Weir {number}",
            collected_at=moment,
            declared_at=moment + timedelta(hours=3),
            ec_value=chance.uniform(60, 1500),
            ph=chance.uniform(6, 8.5),
        )
        anion = replace(ANION, ions=frozenset(SETS["common anions"]), **filtered)
        acid = {"acid_at": moment + timedelta(minutes=15)}
        cation = replace(CATION, ions=frozenset(SETS["common cations"]), **filtered, **acid)
        cases.append((sample, (anion, cation)))
    return cases


def received(cases: list[Case]) -> list[Case]:
    """The same on arrival, each bottle looked at."""
    told = []
    for sample, bottles in cases:
        arrival = replace(ARRIVAL, received_at=sample.collected_at + timedelta(hours=20))
        seen = replace(SEEN, checked_at=arrival.received_at + timedelta(hours=1))
        told.append((sample, tuple(replace(bottle, arrival=arrival, seen=seen) for bottle in bottles)))
    return told


def faulty(cases: list[Case]) -> list[Case]:
    """The same with most things wrong: unfiltered, warm, half full, acid in the wrong bottle."""
    wrong = {"filter_pore_um": 0, "filtered_at": None, "chilled": False, "to_brim": False, "volume_ml": 20}
    anion = {**wrong, "acidified": True, "acid_kind": AcidKind.NITRIC, "acid_ml": 0.5, "acid_mol_l": 1}
    cation = {**wrong, "acidified": False, "acid_kind": None, "acid_ml": None, "acid_at": None}
    return [
        (sample, (replace(bottles[0], **anion), replace(bottles[1], **cation))) for sample, bottles in cases
    ]


def bottles_a_second(cases: list[Case], book: Rulebook) -> float:
    """The best of some rounds."""
    best = float("inf")
    for _ in range(ROUNDS):
        started = time.process_time()
        for sample, bottles in cases:
            judge(sample, bottles, book)
        best = min(best, time.process_time() - started)
    return 2 * len(cases) / best


def bare_loops_a_second() -> float:
    """How fast this machine runs Python just now: turns of an empty counting loop, in millions."""
    best = float("inf")
    for _ in range(ROUNDS):
        started = time.process_time()
        for _ in range(1_000_000):
            pass
        best = min(best, time.process_time() - started)
    return 1 / best


def main() -> int:
    house = shipped_book("house")
    plain = declared()
    measured = bottles_a_second(plain, house)
    print(f"this machine: {bare_loops_a_second():,.0f} million turns of an empty loop a second")
    print(f"declared, house rulebook: {measured:,.0f} bottles a second (bar {BAR:,})")
    for words, cases in (("received and checked", received(plain)), ("most things wrong", faulty(plain))):
        print(f"{words}: {bottles_a_second(cases, house):,.0f} bottles a second")
    other = bottles_a_second(plain, shipped_book("us-wastewater"))
    print(f"declared, US wastewater: {other:,.0f} bottles a second")
    return int(measured < BAR)


if __name__ == "__main__":
    sys.exit(main())
