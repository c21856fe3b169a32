"""Lists in a full laboratory: how many questions they ask, and how long they take beside a bare loop.

Two laboratories are grown, one with a hundredth of the other's past (`LABQUEUE_HISTORY`, 1,000,000
bottles unless told otherwise), both with 10,000 bottles waiting. Each page is asked for in this
process, signed in, through all middleware; times are the processor's, medians of some rounds. The
floor is a page that shows the same 50 bottles by a plain loop in a template. Bars: at most 8
queries, three times the floor for the queue, and 1.2 times the small laboratory for every page.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).parent.parent.parent
HISTORY = int(os.environ.get("LABQUEUE_HISTORY", "1000000"))
WAITING = 10_000
ROUNDS = 15
MOST_QUERIES, MOST_TIMES_FLOOR, MOST_TIMES_SMALL = 8, 3.0, 1.2

FLOOR = "{% for b in bottles %}<tr><td>{{ b.number }}<td>{{ b.sample.own_id }}<td>{{ b.sample.site }}<td>{{ b.consignment.group }}<td>{{ b.line }}<td>{{ b.state }}<td>{% for c in b.clocks.all %}{{ c.ion }} {{ c.due_at }}{% endfor %}{% endfor %}"  # noqa: E501
#: Deep pages are such as both laboratories have.
PAGES = {
    "floor": "/floor/",
    "queue": "/queue/",
    "queue, page 150": "/queue/?page=150",
    "queue, one line": "/queue/?line=anion",
    "queue, searched": "/queue/?q=outlet",
    "queue, a number": "/queue/?q={bottle}",
    "consignments": "/consignments/",
    "consignments, page 12": "/consignments/?page=12",
    "consignments, rare word": "/consignments/?q=springs",
    "consignments, word of many": "/consignments/?q=outlet",
    "consignments, three words": "/consignments/?q=outlet+shore+lake",
    "consignments, one letter": "/consignments/?q=o",
    "consignments, no such": "/consignments/?q=nowhere",
    "consignments, by next clock": "/consignments/?sort=next_due",
    "to discard": "/storage/discard/",
    "reception": "/reception/",
    "a bottle": "/bottles/{bottle}/",
    "overview": "/overview/",
}


def set_up() -> None:
    os.environ["DJANGO_SETTINGS_MODULE"] = "labqueue.settings"
    import django

    django.setup()


def make(history: int) -> None:
    """A demo laboratory in LABQUEUE_VAR, grown."""
    from django.core.management import call_command

    with Path(os.devnull).open("w") as silent:
        call_command("migrate", verbosity=0, stdout=silent)
        call_command("load_demo", stdout=silent)
        call_command("grow_lab", history=history, waiting=WAITING, stdout=silent)


def floor(request: object) -> object:
    """The same 50 bottles as the queue's first page, by a plain loop."""
    from django.http import HttpResponse
    from django.template import Context, Template
    from django.utils import timezone

    from intake.models import Bottle
    from labqueue.queue import Wanted, keys_between

    keys = keys_between(request.user, Wanted(), timezone.now(), 0, 50).pks
    related = Bottle.objects.select_related("sample", "consignment__group").prefetch_related("clocks")
    found = related.in_bulk(keys)
    bottles = [found[key] for key in keys]
    return HttpResponse(Template(FLOOR).render(Context({"bottles": bottles})))


def measure() -> None:
    """Print for each page: queries, milliseconds of processor time, kilobytes."""
    from django.conf import settings
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext
    from django.urls import path

    import labqueue.urls
    from intake.models import Bottle, User

    labqueue.urls.urlpatterns.append(path("floor/", floor))
    settings.ALLOWED_HOSTS = ["testserver"]
    client = Client()
    client.force_login(User.objects.get(email="manager@demo.example"))
    client.get(PAGES["queue"])  # what is made once in a process, the session's first note among it
    bottle = Bottle.objects.filter(state="ready").latest("pk").number
    only = os.environ.get("LABQUEUE_PAGES", "")
    for name, address in PAGES.items():
        if not name.startswith(only):
            continue
        there = address.format(bottle=bottle)
        with CaptureQueriesContext(connection) as queries:
            answer = client.get(there)
            asked = len(queries)  # the next request empties the list
        assert answer.status_code == 200, (there, answer.status_code)
        times = []
        for _round in range(ROUNDS):
            started = time.process_time()
            client.get(there)
            times.append(time.process_time() - started)
        print(name, asked, statistics.median(times) * 1000, len(answer.content) / 1000, sep="\t")


def told(history: int, folder: Path) -> dict[str, tuple[int, float, float]]:
    """What ``measure`` printed for a laboratory with so much history."""
    environment = {**os.environ, "LABQUEUE_VAR": str(folder), "LABQUEUE_ZONE": "Europe/Vienna"}
    folder.mkdir()
    command = [sys.executable, "-m", "tests.benchmarks.page_speed"]
    subprocess.run([*command, "make", str(history)], cwd=ROOT, env=environment, check=True)
    answer = subprocess.run(
        [*command, "measure"], cwd=ROOT, env=environment, check=True, capture_output=True, text=True
    )
    rows = (line.split("\t") for line in answer.stdout.splitlines())
    return {name: (int(queries), float(ms), float(kilobytes)) for name, queries, ms, kilobytes in rows}


def main() -> int:
    with TemporaryDirectory() as folder:
        small = told(HISTORY // 100, Path(folder) / "small")
        full = told(HISTORY, Path(folder) / "full")
        size = sum(file.stat().st_size for file in (Path(folder) / "full").glob("*.sqlite3"))
    print(
        f"{HISTORY:,} bottles of history, {WAITING:,} waiting, {size / 1e9:.1f} GB; "
        f"small: {HISTORY // 100:,} of history"
    )
    print(f"{'page':<28}{'queries':>8}{'ms':>8}{'small ms':>10}{'full/small':>12}{'/floor':>8}{'kB':>7}")
    missed = False
    for name, (queries, ms, kilobytes) in full.items():
        to_small, to_floor = ms / small[name][1], ms / full["floor"][1]
        bars = queries > MOST_QUERIES and name.startswith("queue"), to_small > MOST_TIMES_SMALL
        over = any(bars) or (name == "queue" and to_floor > MOST_TIMES_FLOOR)
        missed |= over
        print(
            f"{name:<28}{queries:>8}{ms:>8.1f}{small[name][1]:>10.1f}{to_small:>12.2f}{to_floor:>8.2f}"
            f"{kilobytes:>7.0f}{'  over' if over else ''}"
        )
    print(f"bars: {MOST_QUERIES} queries, {MOST_TIMES_FLOOR} x floor (queue), {MOST_TIMES_SMALL} x small")
    return int(missed)


if __name__ == "__main__":
    if len(sys.argv) == 1:
        sys.exit(main())
    set_up()
    if sys.argv[1] == "make":
        make(int(sys.argv[2]))
    else:
        measure()
