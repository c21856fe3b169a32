"""The statement as a workbook: one row an injection, every text as text and never a formula."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from openpyxl import Workbook
from openpyxl.styles import Alignment
from openpyxl.worksheet.worksheet import Worksheet

from intake.models import Statement
from intake.saying import (
    VOID,
    about_content,
    about_release,
    bottle_lines,
    ion_lines,
    notes,
    replaced_words,
    sample_lines,
)
from intake.sheets.instructions import fit_to_paper, font
from intake.sheets.plaintable import Cell, table_csv, write_table
from intake.sheets.write import put_text, saved
from intake.stating import moment_of

Plain = Mapping[str, object]

#: Heading and width in characters; a heading ending in a comma gets the time zone.
COLUMNS = (
    ("Sample", 14), ("Site", 24), ("Collected,", 18), ("Bottle", 12), ("Line", 9), ("Received,", 18),
    ("Ion", 13), ("Limit", 11), ("Due,", 18), ("Injected,", 18), ("Used, %", 9), ("Outcome", 14),
    ("Value, mg/L", 12), ("As element, mg/L", 12), ("Element", 9), ("Flags", 30),
    ("Dilution, 1 to", 10), ("Acid volume correction", 11),
    ("Remarks", 40), ("Bottle and sample", 70), ("How the clock was counted", 60),
)  # fmt: skip
#: The column of remarks, which breaks its lines.
REMARKS = 1 + [heading for heading, _width in COLUMNS].index("Remarks")
#: What a file of one table says of the statement in every row.
OF_ALL = ("Statement", "Standing", "Rulebook", "Issued by", "Seal (SHA-256)")


def _headings(zone: str) -> list[tuple[str, float]]:
    return [
        (f"{heading} {zone}" if heading.endswith(",") else heading, float(width))
        for heading, width in COLUMNS
    ]


def statement_workbook(statement: Statement, *, sound: bool, replaced_by: Statement | None) -> bytes:
    """The statement's ions, one row an injection, and a sheet that says what it is about."""
    workbook = Workbook()
    sheet = workbook.active
    sheet.title = "Ions"
    zone = statement.content["consignment"]["zone"]
    write_table(sheet, _headings(zone), _rows(statement.content, zone), wrapped=(REMARKS,))
    about = workbook.create_sheet("About")
    _write_about(about, statement, sound=sound, replaced_by=replaced_by)
    if not sound:
        workbook.active = about
    workbook.properties.creator = "labqueue"
    workbook.properties.title = f"Statement {statement}"
    return saved(workbook)


def statement_csv(statement: Statement, *, sound: bool, replaced_by: Statement | None) -> bytes:
    """The same rows as CSV, each with what it needs to be understood alone."""
    content = statement.content
    zone, book = content["consignment"]["zone"], content["rulebook"]
    standing = replaced_words(replaced_by) if replaced_by else "stands"
    of_all = [
        str(statement),
        standing if sound else str(VOID),
        f"{book['title']}, version {book['version']}",
        about_release(statement)[0][1],
        statement.digest,
    ]
    headings = [*(heading for heading, _width in _headings(zone)), *OF_ALL]
    return table_csv(headings, ([*row, *of_all] for row in _rows(content, zone)))


def _rows(content: Plain, zone: str) -> Iterator[list[Cell]]:
    for sample in content["samples"]:
        for bottle in sample["bottles"]:
            told = " ".join([*sample_lines(sample), *bottle_lines(bottle, zone)])
            handled = {shot["at"]: shot for shot in bottle["injections"]}
            for ion in bottle["ions"]:
                for injected in (ion, *ion["further"]):
                    yield [
                        sample["own_id"],
                        sample["site"],
                        _local(sample["collected_at"], zone),
                        bottle["number"],
                        bottle["line"],
                        _local(bottle["received_at"], zone),
                        ion["ion"],
                        ion["limit"],
                        _local(ion["due_at"], zone),
                        _local(injected["injected_at"], zone),
                        injected["share_percent"],
                        injected["outcome"],
                        *_value(ion, injected["injected_at"]),
                        *_handling(handled.get(injected["injected_at"])),
                        "; ".join(ion_lines(ion, zone)),
                        told,
                        ion["reason"],
                    ]


def _value(ion: Plain, injected_at: object) -> tuple[Cell, Cell, str, str]:
    """The value of one injection, as its element, and its flags.

    A value below a limit stays text, so that nobody adds it up.
    """
    found = [result for result in ion["results"] if result["injected_at"] == injected_at]
    if not found:
        return None, None, "", ""
    last = found[-1]
    as_element = last.get("element_mg_l")
    flags = "; ".join(last["flags"])
    if not last["below"]:
        return _rounded(last["mg_l"]), _rounded(as_element), last.get("element", ""), flags
    element = f"<{as_element:.4g}" if as_element is not None else None
    return f"<{last['mg_l']:g}", element, last.get("element", ""), flags


def _rounded(value: float | None) -> float | None:
    """Six significant digits: more than was measured, less than binary fractions show."""
    return None if value is None else float(f"{value:.6g}")


def _handling(shot: Plain | None) -> tuple[float | None, float | None]:
    return (shot.get("dilution"), shot.get("volume_factor")) if shot else (None, None)


def _local(text: object, zone: str) -> datetime | None:
    """A moment as a spreadsheet keeps it: local time of the zone that the heading names."""
    moment = moment_of(text)
    return moment.astimezone(ZoneInfo(zone)).replace(tzinfo=None) if moment else None


def _write_about(
    sheet: Worksheet, statement: Statement, *, sound: bool, replaced_by: Statement | None
) -> None:
    pairs = [("Statement", str(statement))]
    if not sound:
        pairs.append(("Void", str(VOID)))
    if replaced_by is not None:
        pairs.append(("Replaced", replaced_words(replaced_by)))
    pairs += about_release(statement) + about_content(statement.content)
    pairs += [("Notes and sources", str(note)) for note in notes(statement.content)]
    for row, (name, told) in enumerate(pairs, 1):
        put_text(sheet.cell(row, 1), name)
        put_text(sheet.cell(row, 2), told)
        sheet.cell(row, 1).font = font(bold=True)
        sheet.cell(row, 2).alignment = Alignment(wrap_text=True, vertical="top")
    sheet.column_dimensions["A"].width = 22
    sheet.column_dimensions["B"].width = 100
    fit_to_paper(sheet)
