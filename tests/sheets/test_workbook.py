"""The workbook: written, filled as people fill, read, and given back with its faults."""

from __future__ import annotations

import json
from datetime import date, datetime, time, timedelta
from io import BytesIO, StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook
from openpyxl.worksheet._reader import SHEET_MAIN_NS, WorkSheetParser

from intake.sheets.columns import BY_CODE, COLUMNS
from intake.sheets.mark import marked_workbook
from intake.sheets.problems import CellProblem, SheetProblem
from intake.sheets.read import EXAMPLE, FormulaBlindParser, read_sheet
from intake.sheets.table import read_rows
from intake.sheets.write import consignment_workbook

from . import files
from .samples import ZONES, entries

PLACES = {column.code: place for place, column in enumerate(COLUMNS, 1)}
FEW = [
    "own_id",
    "site",
    "collected_date",
    "collected_time",
    "ph",
    "ec",
    "ec_unit",
    "anion_ions",
    "cation_ions",
]


def reading(data: bytes, zone: str = files.ZONE):
    sheet = read_sheet(data)
    return read_rows(sheet.rows, zone, sheet.letters)


@settings(max_examples=30, deadline=None)
@given(st.data(), st.sampled_from(ZONES))
def test_samples_written_and_read_are_the_same(data: st.DataObject, zone: str) -> None:
    drawn = [
        data.draw(entries(zone, st.just(f"{prefix}{number}")))
        for number, prefix in enumerate(
            data.draw(st.lists(st.sampled_from(["s", "=", "+4", "№ ", "ع"]), max_size=3))
        )
    ]
    book = consignment_workbook(number=files.NUMBER, title="=Title", zone=zone, entries=drawn)
    sheet = read_sheet(book, number=files.NUMBER, zone=zone)
    read = read_rows(sheet.rows, zone, sheet.letters)
    assert read.problems == ()
    assert read.entries == tuple(drawn)
    assert (sheet.number, sheet.zone, sheet.absent, sheet.extra) == (files.NUMBER, zone, (), ())
    for worksheet in load_workbook(BytesIO(book)).worksheets:
        assert not [cell for row in worksheet.iter_rows() for cell in row if cell.data_type in ("f", "e")]


def test_texts_in_cells_are_read_as_openpyxl_reads_them() -> None:
    """Plain, empty, formatted, with a reading aid, in no place, beside a formula: ECMA-376-1, 18.3.1.53."""
    cells = (
        '<c r="B2" t="inlineStr"><is><t xml:space="preserve"> plain </t></is></c>',
        '<c t="inlineStr"><is><t>without a place</t></is></c>',
        '<c r="D2" t="inlineStr"><is><t/></is></c>',
        '<c r="E2" t="inlineStr"><is><r><rPr><b/></rPr><t>bold</t></r><r><t> and not</t></r></is></c>',
        '<c r="F2" t="inlineStr"><is><t>word</t><rPh sb="0" eb="1"><t>sound</t></rPh></is></c>',
        '<c r="G2" t="inlineStr"><is><t>text</t></is><v>3</v></c>',
        '<c r="H2" t="inlineStr"><f>A1</f><is><t>text</t></is></c>',
        '<c r="I2" t="inlineStr"/>',
        '<c r="J2"><is><t>no such kind</t></is></c>',
    )
    xml = f'<worksheet xmlns="{SHEET_MAIN_NS}"><sheetData><row r="2">{"".join(cells)}</row></sheetData>'
    told = []
    for parser in (WorkSheetParser, FormulaBlindParser):
        ((number, row),) = parser(BytesIO(f"{xml}</worksheet>".encode()), []).parse()
        told.append((number, [(cell["column"], cell["value"], cell["data_type"]) for cell in row]))
    assert told[0] == told[1]
    assert told[1][1][0] == (2, " plain ", "s")


def test_an_empty_workbook_has_headings_choices_notes_and_cautions() -> None:
    workbook = load_workbook(BytesIO(files.empty()))
    sheet = workbook["Samples"]
    assert [cell.value for cell in sheet[3]] == [column.heading for column in COLUMNS]
    assert all(cell.comment.text for cell in sheet[3])
    assert sheet["B1"].value == "CF5T VGD6" and sheet["D1"].value == files.ZONE
    assert sheet["A4"].value == EXAMPLE and sheet.freeze_panes == "B5"
    assert sheet.protection.sheet and sheet["A3"].protection.locked
    assert not sheet.column_dimensions["A"].protection.locked
    listed = {str(each.sqref): each.formula1 for each in sheet.data_validations.dataValidation}
    assert listed["C5:C5004"] == '"grab,composite"'
    assert all(len(formula) <= 257 for formula in listed.values()), "a spreadsheet takes 255 characters here"
    told = " ".join(str(cell.value) for row in workbook["How to fill"].iter_rows() for cell in row)
    assert all(word in told for word in ("goggles", "gloves", "acid to water", "hazardous", "Rules of your"))
    assert files.ZONE in told
    assert reading(files.empty()).entries == ()


def test_the_example_row_is_read_by_nobody_but_would_be_sound() -> None:
    real = reading(files.edited(lambda sheet: setattr(sheet["A4"], "value", "real")))
    assert real.problems == ()
    assert [len(entry.bottles) for entry in real.entries] == [2]
    assert reading(files.filled({"own_id": "example"})).entries[0].own_id == "example"


def test_folded_columns_unfold_when_they_are_filled() -> None:
    letter = read_sheet(files.empty()).letters["anion_container"]
    sheet = load_workbook(BytesIO(files.empty()))["Samples"]
    assert sheet.column_dimensions[letter].hidden
    (entry,) = reading(files.filled({"own_id": "a", "anion_ions": "Cl", "anion_container": "glass"})).entries
    book = consignment_workbook(number=files.NUMBER, title="", zone=files.ZONE, entries=[entry])
    assert not load_workbook(BytesIO(book))["Samples"].column_dimensions[letter].hidden


def test_what_spreadsheets_make_of_typing_is_understood() -> None:
    (entry,) = reading(
        files.filled(
            {
                "own_id": 7,
                "collected_date": date(2026, 3, 4),
                "collected_time": time(14, 5),
                "ph": "7,2 ",
                "ec": 0.35,
                "ec_unit": "mS / cm",
                "chlorinated": False,
                "anion_ions": " Nutrients ",
                "anion_brim": "X",
                "anion_chilled": datetime(2026, 3, 4, 14, 20),
            }
        )
    ).entries
    assert (entry.own_id, entry.ph, entry.ec_value, entry.ec_unit) == ("7", 7.2, 0.35, "mS/cm")
    assert entry.chlorinated is False and entry.bottles[0].to_brim is True
    assert (entry.bottles[0].chilled_at - entry.collected_at).seconds == 900


@pytest.mark.parametrize(
    "headings",
    [
        [BY_CODE[code].heading for code in FEW],
        [f"  {BY_CODE[code].heading.upper()} " for code in FEW],
        FEW,
        [
            "Own Sample-ID",
            "SITE",
            "Collected date",
            "collected: time",
            "pH",
            "EC",
            "EC-unit",
            "anion ions",
            "Cation ions",
        ],
    ],
)
def test_headings_as_people_write_them(headings: list[str]) -> None:
    row = ["a", "Weir", "4 Mar 2026", "1405", "7,2", 350, "uS/cm", "Cl, NO3", "Na"]
    order = [4, 1, 8, 0, 7, 3, 2, 6, 5]
    data = files.plain(
        ["Some title"],
        [],
        ["my notes", *(headings[place] for place in order), None, "more"],
        [],
        ["note", *(row[place] for place in order), "stray", "x"],
        [" ", "\u200e"],
    )
    sheet = read_sheet(data)
    assert sheet.extra == ("my notes", "more")
    assert sheet.letters["own_id"] == "E"
    assert BY_CODE["water_kind"].heading in sheet.absent
    (entry,) = read_rows(sheet.rows, files.ZONE, sheet.letters).entries
    assert (entry.own_id, entry.site, entry.ph, entry.ec_unit) == ("a", "Weir", 7.2, "µS/cm")
    assert [bottle.ions for bottle in entry.bottles] == [("chloride", "nitrate"), ("sodium",)]


def test_faults_bear_row_and_letter() -> None:
    found = reading(
        files.filled({"own_id": "a", "ph": "seven"}, {"own_id": "a", "site": "x" * 3000, "ec": "=A1"})
    )
    assert [(problem.row, problem.letter, problem.column) for problem in found.problems] == [
        (5, "G", "ph"),
        (6, "B", "site"),
        (6, "H", "ec"),
        (6, "A", "own_id"),
    ]
    assert "3,000 characters" in found.problems[1].sentence
    assert "holds a formula" in found.problems[2].sentence
    assert found.problems[2].value == "=A1"


def test_another_spreadsheet_programs_ways() -> None:
    """Inline strings, no dimension, no theme, styled empty cells, prefixes on every tag."""
    codes = ["own_id", "collected_date", "collected_time", "anion_ions", "cation_ions"]
    contents = files.parts(files.plain(codes))
    headings = "".join(
        f'<x:c t="inlineStr"><x:is><x:t xml:space="preserve"> {code} </x:t></x:is></x:c>' for code in codes
    )
    contents[files.SHEET_PART] = (
        '<?xml version="1.0"?>'
        '<x:worksheet xmlns:x="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><x:sheetData>'
        f'<x:row>{headings}</x:row><x:row r="9"><x:c r="A9" t="str"><x:v>läufer</x:v></x:c>'
        '<x:c r="B9" t="d"><x:v>2026-03-04</x:v></x:c><x:c r="C9" s="0"/></x:row>'
        "</x:sheetData></x:worksheet>"
    ).encode()
    del contents["xl/theme/theme1.xml"]
    sheet = read_sheet(files.archive_of(contents))
    (entry,) = read_rows(sheet.rows, "UTC", sheet.letters).entries
    assert (entry.own_id, entry.precision, sheet.rows[0].number) == ("läufer", "date", 9)


def test_a_workbook_of_another_consignment_or_zone_is_refused() -> None:
    with pytest.raises(SheetProblem, match="made for consignment CF5T VGD6"):
        read_sheet(files.empty(), number="C2222222")
    with pytest.raises(SheetProblem, match="local times of Europe/Berlin; this consignment uses UTC"):
        read_sheet(files.empty(), number=files.NUMBER, zone="UTC")
    assert read_sheet(files.empty(), number=files.NUMBER.lower(), zone=files.ZONE).number == files.NUMBER
    with pytest.raises(SheetProblem, match="no time zone"):
        read_sheet(files.edited(lambda sheet: setattr(sheet["D1"], "value", "Atlantis/Nowhere")))


def test_faults_go_back_into_the_same_workbook_and_away_again() -> None:
    typed = {"own_id": "a", "site": "'=1+1", "ph": "seven", "began": "=NOW()", "collection": "grab"}
    data = files.edited(lambda sheet: setattr(sheet["AR5"], "value", "my own note"), files.filled(typed))
    sheet = read_sheet(data)
    problems = read_rows(sheet.rows, files.ZONE, sheet.letters).problems
    marked = marked_workbook(data, sheet, problems)

    worksheet = load_workbook(BytesIO(marked))["Samples"]
    assert "not a number" in worksheet["G5"].comment.text
    assert worksheet["G5"].fill.fgColor.rgb == "FFF6C7BD"
    assert (worksheet["G5"].value, worksheet["F5"].value, worksheet["AR5"].value) == (
        "seven",
        "=NOW()",
        "my own note",
    )
    assert worksheet["AS3"].value == "What is wrong"
    assert "Field pH: “seven” is not a number" in worksheet["AS5"].value
    again = read_sheet(marked)
    assert again.rows == sheet.rows and again.extra == ()

    mended = files.edited(
        lambda sheet: (setattr(sheet["G5"], "value", 7), setattr(sheet["F5"], "value", None)), marked
    )
    sheet = read_sheet(mended)
    assert read_rows(sheet.rows, files.ZONE, sheet.letters).problems == ()
    worksheet = load_workbook(BytesIO(marked_workbook(mended, sheet, ())))["Samples"]
    assert worksheet["G5"].comment is None and worksheet["G5"].fill.fill_type is None
    assert worksheet["AS3"].value == "What is wrong" and worksheet["AS5"].value is None


def test_a_column_that_is_not_in_the_sheet_is_added_for_its_correction() -> None:
    data = files.plain(FEW, ["a", "Weir", "2026-03-04", "14:05", 77, 420, "uS/cm", "nutrients", ""])
    sheet = read_sheet(data)
    assert "water_temperature" not in sheet.letters
    corrections = {"2": {"water_temperature": "8.4", "ph": "7.7", "chlorinated": " "}}
    marked = marked_workbook(data, sheet, (), corrections)
    again = read_sheet(marked)
    assert again.letters["water_temperature"] == "J"
    assert "chlorinated" not in again.letters
    (entry,) = read_rows(again.rows, files.ZONE, again.letters).entries
    assert (entry.ph, entry.water_temperature_c) == (7.7, 8.4)
    worksheet = load_workbook(BytesIO(marked)).active
    assert worksheet["J1"].value == BY_CODE["water_temperature"].heading
    assert not worksheet["J2"].protection.locked


def test_a_fault_that_asks_for_a_missing_column_is_marked_in_it() -> None:
    """A volume of acid without its kind: the kind has no column, so the fault had no cell."""
    codes = [*(code for code in FEW if code != "site"), "cation_acid_ml"]
    typed = ["a", "2026-03-04", "14:05", 7.7, 420, "uS/cm", "nutrients", "Na", 0.5]
    data = files.plain(codes, typed)
    sheet = read_sheet(data)
    problem = CellProblem(2, "cation_acid", BY_CODE["cation_acid"].heading, "", "Say which acid it is.")
    worksheet = load_workbook(BytesIO(marked_workbook(data, sheet, [problem]))).active
    assert worksheet["J1"].value == BY_CODE["cation_acid"].heading
    assert "Say which acid" in worksheet["J2"].comment.text
    assert worksheet["K1"].value == "What is wrong"


def checked(path: Path, *options: str) -> tuple[int, str]:
    told = StringIO()
    try:
        call_command("check_sheet", str(path), *options, stdout=told)
    except SystemExit as ended:
        return int(ended.code), told.getvalue()
    return 0, told.getvalue()


def test_the_command_tells_people_and_machines(tmp_path: Path) -> None:
    path = tmp_path / "round one.xlsx"
    path.write_bytes(files.filled({"own_id": "a", "ph": "seven"}, {"own_id": "b"}))
    code, told = checked(path)
    assert code == 1
    assert "Row 5, column G (Field pH): “seven” is not a number." in told
    assert "2 samples, 1 with something to correct. Nothing was saved." in told
    code, told = checked(path, "--json")
    answer = json.loads(told)
    assert (code, answer["samples"], answer["rows_wrong"], answer["consignment"]) == (1, 2, 1, files.NUMBER)
    assert answer["problems"][0]["letter"] == "G"

    path.write_bytes(files.filled({"own_id": "b"}))
    assert checked(path)[0] == 0
    path.write_bytes(b"a,b")
    assert checked(path) == (1, checked(path)[1]) and "such as CSV" in checked(path)[1]
    assert "such as CSV" in json.loads(checked(path, "--json")[1])["refused"]


def test_the_command_asks_for_what_it_lacks(tmp_path: Path) -> None:
    path = tmp_path / "own.xlsx"
    with pytest.raises(CommandError, match="could not be opened"):
        checked(path)
    path.write_bytes(
        files.plain(["own_id", "collected_date", "collected_time", "anion_ions", "cation_ions"], ["a"])
    )
    with pytest.raises(CommandError, match="--zone"):
        checked(path)
    with pytest.raises(CommandError, match="no time zone"):
        checked(path, "--zone", "Nowhere")
    assert checked(path, "--zone", "Europe/Berlin")[0] == 0


def test_midnight_keeps_its_time() -> None:
    """A spreadsheet holds midnight and a date without time alike."""
    midnight = {
        "own_id": "a",
        "collection": "composite",
        "began": "'2026-03-03 00:00",
        "collected_date": "4 Mar 2026",
    }
    (entry,) = reading(files.filled(midnight | {"collected_time": time(0)})).entries
    assert (entry.precision, entry.collected_at - entry.collection_began_at) == ("minute", timedelta(days=1))
    book = consignment_workbook(number=files.NUMBER, title="", zone=files.ZONE, entries=[entry])
    assert reading(book).entries == (entry,)
    (problem,) = reading(files.filled(midnight | {"began": datetime(2026, 3, 3)})).problems
    assert "for midnight" in problem.sentence
