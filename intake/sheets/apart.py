"""Parsing an upload in a process of its own, which may take neither long nor much memory.

Whatever a file does to the parser, the server goes on. The process gets the file and nothing else:
no settings, no secrets, no database. It answers in lines: `rows N` as it goes, and last either
`problem`, with a sentence, or `sheet`, with what stands in the workbook (``packed``).
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

from intake.sheets.guard import MOST_BYTES, guard, too_large_inside
from intake.sheets.problems import SheetProblem

#: Our choice, after the measured need of a full sheet: 1.5 s of processor time and 200 MB of addresses.
MOST_SECONDS = 10
MOST_MEMORY = 512 * 1024 * 1024
#: On a machine that is busy otherwise those seconds may take so long.
MOST_WAITING_S = 60

ROOT = Path(__file__).parent.parent.parent
#: What a process needs of its environment: to find libraries and, on Windows, itself.
KEPT = ("PATH", "SYSTEMROOT", "LD_LIBRARY_PATH", "TMPDIR", "TEMP")


def too_long() -> SheetProblem:
    return SheetProblem(
        "Reading this file takes far longer than a sheet of samples should. "
        "Copy the samples into a fresh workbook and upload that."
    )


def read_apart(
    data: bytes, *, number: str, zone: str, told: Callable[[int], None] = lambda rows: None
) -> bytes:
    """What stands in the workbook ``data``, packed; ``told`` hears how many rows were read so far.

    Raises ``SheetProblem`` as ``read_sheet`` does, and for a file that takes too long or too much.
    """
    guard(data)
    command = [sys.executable, "-m", "intake.sheets.apart", number, zone]
    environment = {name: os.environ[name] for name in KEPT if name in os.environ}
    with subprocess.Popen(  # noqa: S603
        command,
        cwd=ROOT,
        env=environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    ) as process:
        alarm = threading.Timer(MOST_WAITING_S, process.kill)
        alarm.start()
        try:
            return _answer(process, data, told)
        finally:
            alarm.cancel()
            process.kill()


def _answer(process: subprocess.Popen[bytes], data: bytes, told: Callable[[int], None]) -> bytes:
    assert process.stdin is not None and process.stdout is not None  # noqa: S101  (both are pipes)
    try:
        process.stdin.write(data)
        process.stdin.close()
    except BrokenPipeError:
        raise too_long() from None
    for line in process.stdout:
        word, _space, rest = line.strip().partition(b" ")
        if word == b"rows":
            told(int(rest))
        elif word == b"problem":
            raise SheetProblem(process.stdout.read().decode())
        else:
            return process.stdout.read()
    raise too_long()


def _limit() -> None:
    """Hold this process to its bounds, where the system knows them (Windows does not)."""
    try:
        import resource
    except ImportError:
        return
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS, MOST_SECONDS))


def _parse(number: str, zone: str) -> None:
    """The work of the process itself: a workbook comes in, lines go out."""
    _limit()
    from django.conf import settings

    settings.configure(USE_I18N=False)
    from intake.sheets.packed import pack
    from intake.sheets.read import read_sheet

    out = sys.stdout.buffer

    def told(rows: int) -> None:
        out.write(b"rows %d\n" % rows)
        out.flush()

    try:
        packed = pack(read_sheet(sys.stdin.buffer.read(MOST_BYTES), number=number, zone=zone, told=told))
    except SheetProblem as problem:
        too_much = isinstance(problem.__cause__, MemoryError)
        sentence = too_large_inside().sentence if too_much else problem.sentence
        out.write(b"problem\n" + sentence.encode())
    except MemoryError:
        out.write(b"problem\n" + too_large_inside().sentence.encode())
    else:
        out.write(b"sheet\n" + packed)


if __name__ == "__main__":
    _parse(*sys.argv[1:3])
