"""How long a full sheet takes, beside what openpyxl alone takes, and how much memory.

Run by hand: ``python tests/benchmarks/sheet_speed.py``. The bars: 5,000 rows read, typed, judged
and saved in at most four times what openpyxl's read-only mode needs to read the same file, and
under 300 MB. What is saved is read in a process apart, as an upload is, and that process counts.
Ends with 1 when a bar is missed. Each measurement has a process of its own, so that the peaks of
memory are theirs alone, and saving a database of its own.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

ROWS = 5000
ZONE = "Europe/Berlin"
AT = datetime(2026, 5, 4, 9, 0, tzinfo=UTC)
MOST_TIMES, MOST_MEGABYTES = 4.0, 300.0
ROUNDS = 3


def set_up() -> None:
    sys.path.insert(0, str(Path(__file__).parent.parent.parent))
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labqueue.settings")
    import django

    django.setup()


def make(path: Path) -> None:
    """A sheet in which every everyday cell is filled, in one of the ways people fill it."""
    from intake.numbers import CONSIGNMENT, new_number
    from intake.sheets.columns import COLUMNS
    from intake.sheets.table import RawRow, read_rows
    from intake.sheets.write import consignment_workbook

    rows = []
    for row in range(ROWS):
        cells = {column.code: column.example for column in COLUMNS if column.example}
        cells |= {
            "own_id": f"Mill brook {row}",
            "site": f"Weir {row % 40}",
            "collected_date": f"2026-03-{row % 28 + 1:02}",
            "collected_time": f"{row % 24:02}:{row % 60:02}",
            "ph": str(6 + row % 300 / 100),
            "anion_chilled": f"2026-04-{row % 28 + 1:02} {row % 24:02}:30",
        }
        rows.append(RawRow(row, cells))
    reading = read_rows(rows, ZONE)
    assert not reading.problems, reading.problems[:3]
    path.write_bytes(
        consignment_workbook(
            number=new_number(CONSIGNMENT), title="Speed", zone=ZONE, entries=reading.entries
        )
    )


def bare(path: Path) -> int:
    """openpyxl alone, in the mode it has for large files."""
    from openpyxl import load_workbook

    workbook = load_workbook(BytesIO(path.read_bytes()), read_only=True)
    return sum(len(row) > 0 for row in workbook["Samples"].iter_rows(values_only=True)) - 4


def read(path: Path) -> int:
    """The sheet read and its rows typed."""
    from intake.sheets.read import read_sheet
    from intake.sheets.table import read_rows

    sheet = read_sheet(path.read_bytes())
    return len(read_rows(sheet.rows, sheet.zone, sheet.letters).entries)


def laboratory() -> dict[str, object]:
    """A database with one person, one group and the house rulebook; what a draft is made of."""
    from django.core.management import call_command

    from intake.actions.rulebooks import take_rulebooks
    from intake.models import Group, Membership, User
    from intake.shipped import shipped_data

    call_command("migrate", verbosity=0)
    (version,) = take_rulebooks([shipped_data("house")], by=User.objects.system(), at=AT)
    person = User.objects.create(email="speed@benchmark.example", name="Speed")
    group = Group.objects.create(name="Speed", zone=ZONE)
    Membership.objects.create(user=person, group=group)
    return {"by": person, "group": group, "rulebook": version, "zone": ZONE, "title": "Speed", "at": AT}


def saved(path: Path, draft: dict[str, object]) -> int:
    """A draft filled with the whole sheet, as an upload does it."""
    from intake.actions.registering import enter_samples, make_consignment
    from intake.sheets.apart import read_apart
    from intake.sheets.packed import unpack
    from intake.sheets.table import read_rows

    consignment = make_consignment(**draft)
    sheet = unpack(read_apart(path.read_bytes(), number="", zone=ZONE))
    entries = read_rows(sheet.rows, sheet.zone, sheet.letters).entries
    enter_samples(consignment, entries, by=draft["by"], at=AT, version=consignment.version)
    return consignment.samples.count()


def measure(what: str, path: Path) -> None:
    """Print the best time of some rounds in seconds, the peak of memory in MB, and the samples found.

    The time is that of the processor, so that other work on the machine does not count; a process
    started meanwhile counts with both.
    """
    import resource

    def spent() -> float:
        children = resource.getrusage(resource.RUSAGE_CHILDREN)
        return time.process_time() + children.ru_utime + children.ru_stime

    def peak_kb() -> int:
        return max(
            resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
        )

    work = {"bare": bare, "read": read, "saved": saved}[what]
    told = [laboratory()] if work is saved else []
    times = []
    for _ in range(ROUNDS):
        started = spent()
        found = work(path, *told)
        times.append(spent() - started)
    print(min(times), peak_kb() / 1024, found)


def main() -> int:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "full.xlsx"
        subprocess.run([sys.executable, __file__, "make", path], check=True)
        print(f"{ROWS:,} rows, {path.stat().st_size / 1024:,.0f} kB")
        own = {**os.environ, "LABQUEUE_VAR": folder, "DATABASE_URL": ""}
        told = {}
        for what in ("bare", "read", "saved"):
            command = [sys.executable, __file__, what, path]
            answer = subprocess.run(command, check=True, capture_output=True, env=own)
            seconds, megabytes, found = (float(part) for part in answer.stdout.split())
            assert found == ROWS, found
            told[what] = (seconds, megabytes)
            times = seconds / told["bare"][0]
            print(f"{what}: {seconds:.2f} s, {times:.2f} times bare, peak {megabytes:.0f} MB")
    print(f"bars, for what is saved: {MOST_TIMES:.0f} times bare, peak {MOST_MEGABYTES:.0f} MB")
    return int(times > MOST_TIMES or megabytes > MOST_MEGABYTES)


if __name__ == "__main__":
    set_up()
    if len(sys.argv) == 1:
        sys.exit(main())
    if sys.argv[1] == "make":
        make(Path(sys.argv[2]))
    else:
        measure(sys.argv[1], Path(sys.argv[2]))
