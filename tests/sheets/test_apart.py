"""Parsing in a process of its own: the same result, the same refusals, and bounds that hold."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from shlex import quote

import pytest

from intake.sheets import apart
from intake.sheets.apart import read_apart
from intake.sheets.packed import pack, unpack
from intake.sheets.problems import SheetProblem
from intake.sheets.read import read_sheet
from intake.sheets.table import RawRow
from intake.sheets.texts import Formula, SheetError
from tests.sheets import files
from tests.sheets.test_hostile import CORPUS

BOOK = files.filled({"own_id": "S1", "site": "Weir"}, {"own_id": "S2", "ph": 7.2})


def test_every_kind_of_cell_comes_back_as_it_was():
    cells = {
        "a": "text \x00 🌊",
        "b": 7,
        "c": -0.1,
        "d": True,
        "e": datetime(2026, 3, 4, 5, 6, 7, 89),
        "f": date(2026, 3, 4),
        "g": time(5, 6),
        "h": timedelta(days=-1, seconds=5),
        "i": Formula("=A1"),
        "j": SheetError("#N/A"),
        "k": float("inf"),
    }
    sheet = replace(read_sheet(BOOK), rows=(RawRow(12, cells),))
    again = unpack(pack(sheet))
    assert again == sheet
    assert [type(value) for value in again.rows[0].cells.values()] == [
        type(value) for value in cells.values()
    ]


def test_it_is_read_as_it_would_be_here():
    heard = []
    packed = read_apart(BOOK, number=files.NUMBER, zone=files.ZONE, told=heard.append)
    assert unpack(packed) == read_sheet(BOOK)


def test_refusals_come_through():
    with pytest.raises(SheetProblem, match="made for consignment"):
        read_apart(BOOK, number="C2222222", zone=files.ZONE)
    with pytest.raises(SheetProblem, match="at most 5,000"):
        read_apart(CORPUS["20,000 rows"][0], number="", zone="")


@pytest.fixture
def process(tmp_path, monkeypatch):
    """``process(line)`` puts ``line`` of Python in place of the parser."""

    def put(line):
        parser = tmp_path / "parser.py"
        parser.write_text(
            f"import os, sys\nsys.path.insert(0, {str(apart.ROOT)!r})\n"
            f"from intake.sheets import apart\napart.MOST_SECONDS = 1\napart._limit()\n{line}\n"
        )
        # By a shell, since a first line cannot name an interpreter whose path has spaces.
        script = tmp_path / "python"
        script.write_text(f"#!/bin/sh\nexec {quote(sys.executable)} {quote(str(parser))}\n")
        script.chmod(0o700)
        monkeypatch.setattr(sys, "executable", str(script))

    return put


needs_bounds = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such bounds")


@needs_bounds
@pytest.mark.parametrize("line", ["while True: pass", "hold = [bytes(10**7) for _ in range(10**4)]"])
def test_a_file_that_takes_too_much_is_refused(process, line):
    process(line)
    with pytest.raises(SheetProblem, match="far longer"):
        read_apart(BOOK, number="", zone="")


@needs_bounds
def test_the_process_gets_no_secret(process, monkeypatch):
    monkeypatch.setenv("LABQUEUE_SECRET_KEY", "hush")
    process("sys.stdin.buffer.read(); print('problem'); print(*os.environ.items())")
    with pytest.raises(SheetProblem, match="PATH") as told:
        read_apart(BOOK, number="", zone="")
    assert "hush" not in str(told.value)


def test_waiting_ends(monkeypatch):
    monkeypatch.setattr(apart, "MOST_WAITING_S", 0.01)
    with pytest.raises(SheetProblem, match="far longer"):
        read_apart(BOOK, number="", zone="")
