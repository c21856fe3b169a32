"""`make benchmark`: runs every `*_speed.py` beside it and keeps what they print in README.md."""

from __future__ import annotations

import datetime
import os
import platform
import sqlite3
import subprocess
import sys
from pathlib import Path

FOLDER = Path(__file__).parent
ROOT = FOLDER.parent.parent
KEPT = FOLDER / "README.md"


def machine() -> str:
    """The machine, versions and state of the code that the figures belong to."""
    processor = platform.processor() or platform.machine()
    cpuinfo = Path("/proc/cpuinfo")
    if cpuinfo.exists():
        named = [line for line in cpuinfo.read_text().splitlines() if line.startswith("model name")]
        processor = named[0].partition(":")[2].strip() if named else processor
    commit = subprocess.run(
        ["git", "describe", "--always", "--dirty"], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout.strip()
    return (
        f"{datetime.datetime.now(datetime.UTC):%Y-%m-%d %H:%M} UTC, {processor}, {os.cpu_count()} cores, "
        f"{platform.system()} {platform.release()}, Python {platform.python_version()}, "
        f"SQLite {sqlite3.sqlite_version}, commit {commit or 'unknown'}, "
        f"load before it began {os.getloadavg()[0]:.1f}"
    )


def run(path: Path) -> tuple[str, bool]:
    """What one benchmark printed, and whether it met its bars."""
    print(f"\n{path.stem}", flush=True)
    result = subprocess.run(
        [sys.executable, "-m", f"tests.benchmarks.{path.stem}"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    print(result.stdout, result.stderr, sep="", flush=True)
    return result.stdout.strip(), result.returncode == 0


def main() -> int:
    about = machine()
    print(about)
    parts = ["# Speed\n", "Written by `make benchmark`; each part says its bars.\n", f"{about}.\n"]
    missed = []
    for path in sorted(FOLDER.glob("*_speed.py")):
        told, met = run(path)
        parts.append(f"## {path.stem.removesuffix('_speed').replace('_', ' ')}\n\n```text\n{told}\n```\n")
        if not met:
            missed.append(path.stem)
            parts.append("**A bar was missed here.**\n")
    KEPT.write_text("\n".join(parts), encoding="utf-8")
    print(f"Kept in {KEPT.relative_to(ROOT)}." + (f" Bars missed by: {', '.join(missed)}." if missed else ""))
    return int(bool(missed))


if __name__ == "__main__":
    sys.exit(main())
