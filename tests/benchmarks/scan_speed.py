"""Scan to answer at the desk, before a real server: on SQLite, then on PostgreSQL with two processes.

PostgreSQL is that of ``DATABASE_URL``, in a database of its own which is dropped afterwards; without it,
one that ``.ci/postgres`` starts, flushing to disk as in earnest, where its programs are installed.
``LABQUEUE_ON`` names the one to measure (``sqlite`` or ``postgresql``); usually both are.

First one scanner alone, then eight at once for two minutes (`LABQUEUE_SECONDS`), each a bottle a second,
while a manager opens the queue again and again. Times are those of the wall, since people wait by it: on
a machine that does other work they say little. Bars: no error; median 50 ms alone; 95 of 100 under
250 ms with eight, and less on PostgreSQL; no page waits more than 1 s for those who write. Beside them
stands the processor time of the server for one scan alone, which other work changes less.
"""

from __future__ import annotations

import os
import sqlite3
import statistics
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from urllib.parse import urlsplit

import psycopg

from labqueue import database

ROOT = Path(__file__).parent.parent.parent

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
    url, only = os.environ.pop("DATABASE_URL", ""), os.environ.get("LABQUEUE_ON", "")
    import django

    django.setup()
    missed = False
    if only != "postgresql":
        print(f"SQLite {sqlite3.sqlite_version} ({database.SQLITE_JOURNAL}), 1 process", flush=True)
        missed |= measured("", processes=1)
    if only != "sqlite" and url:
        with own_database(url) as ours:
            print("PostgreSQL, 2 processes", flush=True)
            missed |= measured(ours, processes=2)
    elif only != "sqlite" and list(Path("/usr/lib/postgresql").glob("*/bin/initdb")):
        command = [ROOT / ".ci" / "postgres", sys.executable, "-m", "tests.benchmarks.scan_speed"]
        more = os.environ | {"FSYNC": "on", "LABQUEUE_ON": "postgresql"}
        missed |= subprocess.run(command, cwd=ROOT, env=more, check=False).returncode != 0
    return int(missed)


@contextmanager
def own_database(url: str) -> Iterator[str]:
    """The address of a new database beside that of ``url``, dropped at the end."""
    name = f"scan_speed_{os.getpid()}"
    with psycopg.connect(url, autocommit=True) as server:
        server.execute(f"CREATE DATABASE {name}")
        try:
            yield urlsplit(url)._replace(path=f"/{name}").geturl()
        finally:
            server.execute(f"DROP DATABASE {name} WITH (FORCE)")


def measured(url: str, *, processes: int) -> bool:
    """Whether a bar was missed by a laboratory in the database at ``url``."""
    from tests.faults.lab import Lab, Person

    with TemporaryDirectory() as folder:
        lab = Lab(Path(folder), url, processes=processes)
        lab.seeded = lab.seed(ALONE + SCANNERS * SECONDS)
        lab.start()
        try:
            return told(lab, Person)
        finally:
            lab.kill()


def processor_ms(group: int) -> float:
    """The processor time that the processes of ``group`` have used (proc(5), fields 14 and 15)."""
    used = 0
    for found in Path("/proc").glob("[0-9]*/stat"):
        try:
            stat = found.read_text().rpartition(")")[2].split()
        except OSError:  # it has ended
            continue
        if int(stat[2]) == group:
            used += int(stat[11]) + int(stat[12])
    return used * 1000 / os.sysconf("SC_CLK_TCK")


def told(lab: object, person: Callable[..., object]) -> bool:
    arrival, bottles = lab.seeded["arrival"], list(lab.seeded["bottles"])
    alone, together, reading, wrong = [], [], [], []
    one = person(lab, "rolf@lab.example")
    used = processor_ms(lab.process.pid)
    for number in bottles[:ALONE]:
        timed(lambda number=number: one.scan(arrival, number, f"alone{number}"), alone)
    used = processor_ms(lab.process.pid) - used
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
    print(
        f"alone, {len(alone)} scans: median {statistics.median(alone):.0f} ms (bar {MOST_ALONE_MS:.0f}), "
        f"{used / len(alone):.0f} ms of the server's processor each"
    )
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
    return bool(
        statistics.median(alone) > MOST_ALONE_MS
        or ninety_fifth(together) > MOST_TOGETHER_MS
        or max(reading) > MOST_READING_MS
        or wrong
    )


if __name__ == "__main__":
    sys.exit(main())
