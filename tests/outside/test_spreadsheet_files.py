"""Workbooks against programs that are not ours and not openpyxl.

One workbook of ours was opened and saved by LibreOffice Calc 7.4.7 (``data/saved_by_calc.xlsx``);
where LibreOffice is installed another goes through it during the test.
Written files are read by python-calamine (a reader in Rust); files are also made by XlsxWriter (a
writer in Python, with shared texts and its own styles) and read by us.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from datetime import UTC, date, datetime, time
from io import BytesIO
from pathlib import Path

import pytest
from python_calamine import CalamineWorkbook

from intake.actions.entries import BottleEntry, SampleEntry
from intake.sheets.columns import COLUMNS
from intake.sheets.read import read_sheet
from intake.sheets.table import RawRow, read_rows
from intake.sheets.write import consignment_workbook

xlsxwriter = pytest.importorskip("xlsxwriter")

CALC = Path(__file__).parent / "data" / "saved_by_calc.xlsx"
ZONE = "Europe/Berlin"
PLACES = {column.code: place for place, column in enumerate(COLUMNS)}

#: The rows of ``data/saved_by_calc.xlsx``, as people type them.
ROWS = [
    {
        "own_id": "Mill brook 1", "site": "Weir, مياه 🌊", "collected_date": "2026-03-04",
        "collected_time": "14:05:30", "ph": "7,25", "ec": "0.4 mS/cm", "ec_reference": "25",
        "water_temperature": "-0.5", "water_kind": "peat", "chlorinated": "no", "filter_pore": "0.2 | none",
        "filter_membrane": "PES", "filtered_at": "at once", "anion_ions": "nutrients", "anion_volume": "50",
        "anion_brim": "yes", "anion_chilled": "14:20", "anion_frozen": "2026-03-05 08:00",
        "cation_ions": "Na, Ca", "cation_acid": "nitric", "cation_acid_mol_l": "1", "cation_acid_ml": "0.5",
        "cation_acid_at": "at once", "cation_container": "glass", "cation_chilled": "no",
    },
    {"own_id": "=1+1", "collected_date": "2026-10-25", "collected_time": "02:30+01:00", "ph": "7.1"},
    {"own_id": "007", "collected_date": "2026-03-29", "collected_time": "14 h", "anion_ions": "SO4, Br"},
    {
        "own_id": "3/4", "collection": "composite", "began": "2026-03-03 23:59",
        "collected_date": "2026-03-04", "anion_ions": "common anions", "anion_chilled": "yes",
        "anion_acid": "none",
    },
]  # fmt: skip

#: Text that a spreadsheet would like to make something else of.
TEMPTING = ["=1+1", "+49 30", "-3", "@home", "#N/A", "007", "1e5", "3/4", "TRUE", "مياه 🌊"]


def test_another_reader_sees_what_was_written() -> None:
    entries = [
        SampleEntry(
            own_id=text,
            site=text,
            collected_at=datetime(2026, 3, 4, 13, 5, tzinfo=UTC),
            ph=7.25,
            water_temperature_c=-0.5,
            bottles=(
                BottleEntry(
                    line="anion",
                    ions=("nitrate",),
                    to_brim=True,
                    chilled=True,
                    chilled_at=datetime(2026, 3, 4, 13, 20, tzinfo=UTC),
                ),
            ),
        )
        for text in TEMPTING
    ]
    book = consignment_workbook(number="CF5TVGD6", title="Spring", zone=ZONE, entries=entries)
    rows = CalamineWorkbook.from_filelike(BytesIO(book)).get_sheet_by_name("Samples").to_python()
    assert rows[0][:4] == ["Consignment", "CF5T VGD6", "Local times of", ZONE]
    assert rows[2] == [column.heading for column in COLUMNS]
    assert [row[PLACES["own_id"]] for row in rows[4:]] == TEMPTING
    assert [row[PLACES["site"]] for row in rows[4:]] == TEMPTING
    for row in rows[4:]:
        told = {code: row[place] for code, place in PLACES.items()}
        assert (told["ph"], told["water_temperature"]) == (7.25, -0.5)
        assert told["collected_date"] == date(2026, 3, 4)
        assert told["collected_time"] == time(14, 5)
        assert told["anion_chilled"] == datetime(2026, 3, 4, 14, 20)
        assert (told["anion_ions"], told["anion_brim"]) == ("nitrate", "yes")


def test_a_file_saved_by_libreoffice_reads_the_same() -> None:
    typed = read_rows([RawRow(number, cells) for number, cells in enumerate(ROWS, 5)], ZONE)
    sheet = read_sheet(CALC.read_bytes(), number="CF5TVGD6", zone=ZONE)
    saved = read_rows(sheet.rows, ZONE, sheet.letters)
    assert (typed.problems, saved.problems) == ((), ())
    assert saved.entries == typed.entries
    assert saved.numbers == typed.numbers
    assert (sheet.absent, sheet.extra) == ((), ())


@pytest.mark.skipif(shutil.which("soffice") is None, reason="LibreOffice is not installed")
def test_what_is_written_here_comes_back_from_libreoffice_as_it_was(tmp_path: Path) -> None:
    """Our workbook with the same samples, opened and saved by the LibreOffice at hand."""
    entries = read_rows([RawRow(number, cells) for number, cells in enumerate(ROWS, 5)], ZONE).entries
    ours, theirs = tmp_path / "ours.xlsx", tmp_path / "theirs"
    ours.write_bytes(consignment_workbook(number="CF5TVGD6", title="Spring", zone=ZONE, entries=entries))
    profile = f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}"
    command = ["soffice", profile, "--headless", "--convert-to", "xlsx", "--outdir", str(theirs), str(ours)]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    sheet = read_sheet((theirs / "ours.xlsx").read_bytes(), number="CF5TVGD6", zone=ZONE)
    saved = read_rows(sheet.rows, ZONE, sheet.letters)
    assert (saved.problems, sheet.absent, sheet.extra) == ((), (), ())
    assert saved.entries == entries


def made(fill: Callable[..., None], options: dict[str, object]) -> bytes:
    stream = BytesIO()
    workbook = xlsxwriter.Workbook(stream, {"in_memory": True, **options})
    fill(workbook, workbook.add_worksheet())
    workbook.close()
    return stream.getvalue()


@pytest.mark.parametrize("options", [{}, {"date_1904": True}, {"constant_memory": True}])
def test_files_of_another_writer_are_read(options: dict[str, object]) -> None:
    def fill(workbook: object, sheet: object) -> None:
        for column in COLUMNS:
            sheet.write_string(0, PLACES[column.code], column.heading)
        days = workbook.add_format({"num_format": "d. mmm yyyy"})
        clocks = workbook.add_format({"num_format": "h:mm AM/PM"})
        moments = workbook.add_format({"num_format": "dd/mm/yy hh:mm"})
        sheet.write_string(1, PLACES["own_id"], "=1+1")
        sheet.write_datetime(1, PLACES["collected_date"], date(2026, 3, 4), days)
        sheet.write_datetime(1, PLACES["collected_time"], time(14, 5), clocks)
        sheet.write_number(1, PLACES["ph"], 7.1 + 0.1)
        sheet.write_boolean(1, PLACES["chlorinated"], False)
        sheet.write_rich_string(1, PLACES["anion_ions"], workbook.add_format({"bold": True}), "ni", "trate")
        sheet.write_datetime(1, PLACES["anion_chilled"], datetime(2026, 3, 4, 14, 20), moments)
        sheet.write_string(2, PLACES["own_id"], "b")
        sheet.write_formula(2, PLACES["ph"], "=7+1", None, 8)
        sheet.write_blank(5000, 3, None, days)

    sheet = read_sheet(made(fill, options))
    reading = read_rows(sheet.rows, ZONE, sheet.letters)
    (entry,) = reading.entries
    assert (entry.own_id, entry.ph, entry.chlorinated) == ("=1+1", 7.2, False)
    assert entry.collected_at == datetime(2026, 3, 4, 13, 5, tzinfo=UTC)
    assert entry.bottles[0].ions == ("nitrate",)
    assert entry.bottles[0].chilled_at == datetime(2026, 3, 4, 13, 20, tzinfo=UTC)
    (problem,) = reading.problems
    assert problem.place == "row 3, column G (Field pH)"
    assert "formula" in problem.sentence
