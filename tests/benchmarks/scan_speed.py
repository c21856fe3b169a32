"""Scan to answer at the desk, before a real server on SQLite.

First one scanner alone, then eight at once for two minutes (`LABQUEUE_SECONDS`), each a bottle a second,
while a manager opens the queue again and again. Times are those of the wall, since people wait by it: on
a machine that does other work they say little. Bars: no error; median 50 ms alone; 95 of 100 under
250 ms with eight; no page waits more than 1 s for those who write.
"""

from __future__ import annotations

import os
import statistics
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

SECONDS = int(os.environ.get("LABQUEUE_SECONDS", "120"))
SCANNERS, PACE_S, ALONE = 8, 1.0, 60
MOST_ALONE_MS, MOST_TOGETHER_MS, MOST_READING_MS = 50.0, 250.0, 1000.0


def timed(work: Callable[[], object], into: list[float]) -> None:
    started = time.perf_counter()
    work()
    into.append((time.perf_counter() - started) * 1000)


def ninety_fifth(times: list[float]) -> float:
    return statistics.quantiles(times, n=20)[-1]


def main() -> int:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labqueue.settings")
    import django

    django.setup()
    from tests.faults.lab import Lab, Person

    with TemporaryDirectory() as folder:
        lab = Lab(Path(folder))
        lab.seeded = lab.seed(ALONE + SCANNERS * SECONDS)
        lab.start()
        try:
            return told(lab, Person)
        finally:
            lab.kill()


def told(lab: object, person: Callable[..., object]) -> int:
    arrival, bottles = lab.seeded["arrival"], list(lab.seeded["bottles"])
    alone, together, reading, wrong = [], [], [], []
    one = person(lab, "rolf@lab.example")
    for number in bottles[:ALONE]:
        timed(lambda number=number: one.scan(arrival, number, f"alone{number}"), alone)
    over = threading.Event()

    def scan(who: object, mine: list[str]) -> None:
        begun = time.perf_counter()
        for count, number in enumerate(mine):
            time.sleep(max(begun + count * PACE_S - time.perf_counter(), 0))
            try:
                timed(lambda number=number: who.scan(arrival, number, f"at{number}"), together)
            except Exception as fault:
                wrong.append(repr(fault)[:200])

    def read(who: object) -> None:
        while not over.is_set():
            timed(lambda: who.get("/queue/"), reading)
            time.sleep(0.5)

    people = [person(lab, f"{name}@lab.example") for name in ("rolf", "rita") * (SCANNERS // 2)]
    left = bottles[ALONE:]
    threads = [
        threading.Thread(target=scan, args=(who, left[place::SCANNERS])) for place, who in enumerate(people)
    ]
    reader = threading.Thread(target=read, args=(person(lab, "mara@lab.example"),))
    for thread in (*threads, reader):
        thread.start()
    for thread in threads:
        thread.join()
    over.set()
    reader.join()
    print(f"alone, {len(alone)} scans: median {statistics.median(alone):.0f} ms (bar {MOST_ALONE_MS:.0f})")
    print(
        f"{SCANNERS} scanners for {SECONDS} s, {len(together)} scans: median "
        f"{statistics.median(together):.0f} ms, 95 of 100 under {ninety_fifth(together):.0f} ms "
        f"(bar {MOST_TOGETHER_MS:.0f}), slowest {max(together):.0f} ms, {len(wrong)} wrong"
    )
    print(
        f"the queue meanwhile, {len(reading)} times: median {statistics.median(reading):.0f} ms, "
        f"slowest {max(reading):.0f} ms (bar {MOST_READING_MS:.0f})"
    )
    for fault in wrong[:5]:
        print(fault)
    missed = (
        statistics.median(alone) > MOST_ALONE_MS
        or ninety_fifth(together) > MOST_TOGETHER_MS
        or max(reading) > MOST_READING_MS
        or wrong
    )
    return int(bool(missed))


if __name__ == "__main__":
    sys.exit(main())
