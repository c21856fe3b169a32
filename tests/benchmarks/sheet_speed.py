"""How long a full sheet takes, beside what openpyxl alone takes, and how much memory.

Run by hand: ``python tests/benchmarks/sheet_speed.py``. The bars: reading and typing 5,000 rows in
at most four times what openpyxl's read-only mode needs for the same file, and under 300 MB.
Ends with 1 when a bar is missed. Each measurement has a process of its own, so that the peaks of
memory are theirs alone.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

ROWS = 5000
ZONE = "Europe/Berlin"
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


def ours(path: Path) -> int:
    from intake.sheets.read import read_sheet
    from intake.sheets.table import read_rows

    sheet = read_sheet(path.read_bytes())
    return len(read_rows(sheet.rows, sheet.zone, sheet.letters).entries)


def measure(what: str, path: Path) -> None:
    """Print the best time of some rounds in seconds, the peak of memory in MB, and the samples found.

    The time is that of the processor, so that other work on the machine does not count.
    """
    import resource

    work = {"bare": bare, "ours": ours}[what]
    times = []
    for _ in range(ROUNDS):
        started = time.process_time()
        found = work(path)
        times.append(time.process_time() - started)
    print(min(times), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, found)


def main() -> int:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "full.xlsx"
        subprocess.run([sys.executable, __file__, "make", path], check=True)
        print(f"{ROWS:,} rows, {path.stat().st_size / 1024:,.0f} kB")
        told = {}
        for what in ("bare", "ours"):
            answer = subprocess.run([sys.executable, __file__, what, path], check=True, capture_output=True)
            seconds, megabytes, found = (float(part) for part in answer.stdout.split())
            assert found == ROWS, found
            told[what] = (seconds, megabytes)
            print(f"{what}: {seconds:.2f} s, peak {megabytes:.0f} MB")
    times = told["ours"][0] / told["bare"][0]
    print(
        f"ratio {times:.2f} (bar {MOST_TIMES}), peak {told['ours'][1]:.0f} MB (bar {MOST_MEGABYTES:.0f} MB)"
    )
    return int(times > MOST_TIMES or told["ours"][1] > MOST_MEGABYTES)


if __name__ == "__main__":
    set_up()
    if len(sys.argv) == 1:
        sys.exit(main())
    if sys.argv[1] == "make":
        make(Path(sys.argv[2]))
    else:
        measure(sys.argv[1], Path(sys.argv[2]))
