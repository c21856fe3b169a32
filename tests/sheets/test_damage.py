"""Damage done at random: never an error, half a save, or a date that nobody wrote."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from io import BytesIO
from zoneinfo import ZoneInfo

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook
from openpyxl.worksheet.worksheet import Worksheet

from intake.models import RecordEntry, Sample
from intake.sheets.columns import COLUMNS
from intake.sheets.problems import SheetProblem
from intake.sheets.read import read_sheet
from intake.sheets.table import Reading, read_rows
from intake.sheets.write import FIRST_ROW, consignment_workbook
from tests.factories import draft, sample
from tests.views.pages import address

from . import files

BERLIN = ZoneInfo(files.ZONE)
PLACES = {column.code: place for place, column in enumerate(COLUMNS, 1)}
DATED = (PLACES["collected_date"], PLACES["collected_time"], PLACES["began"], PLACES["collection"])
COUNT = 6


def told(number: int) -> dict[str, object]:
    """Row ``number``: collected on the 4th to 9th of March at 14:00 to 19:00, Berlin."""
    return {
        "own_id": f"S{number}",
        "site": "Weir",
        "collection": "grab",
        "collected_date": date(2026, 3, 4 + number),
        "collected_time": time(14 + number),
        "ph": 7.2,
        "anion_ions": "nutrients",
    }


SOUND = files.filled(*(told(number) for number in range(COUNT)))
TRUE = {f"S{n}": datetime(2026, 3, 4 + n, 14 + n, tzinfo=BERLIN).astimezone(UTC) for n in range(COUNT)}


def reading_of(data: bytes) -> Reading | None:
    """What ``data`` reads as; ``None`` where it is refused as a whole."""
    try:
        sheet = read_sheet(data, number=files.NUMBER, zone=files.ZONE)
    except SheetProblem as problem:
        assert problem.sentence.endswith(".")
        return None
    return read_rows(sheet.rows, files.ZONE, sheet.letters)


def moments(reading: Reading) -> dict[str, datetime | None]:
    return {entry.own_id: entry.collected_at for entry in reading.entries}


def test_the_undamaged_sheet_reads_as_written() -> None:
    assert moments(reading_of(SOUND)) == TRUE


@settings(max_examples=300, deadline=None)
@given(st.integers(0, len(SOUND) - 1), st.binary(min_size=1, max_size=8), st.booleans())
def test_a_file_damaged_on_the_way_reads_as_it_was_or_not_at_all(at: int, new: bytes, cut: bool) -> None:
    """A workbook is a ZIP archive, whose parts carry CRC-32 sums: a burst of up to 4 bytes cannot pass."""
    damaged = SOUND[:at] + new + (b"" if cut else SOUND[at + len(new) :])
    reading = reading_of(damaged)
    if reading is not None and not reading.problems:
        assert moments(reading) == TRUE


#: Workbooks hold no control characters.
WORDS = st.text(st.characters(exclude_categories=("Cc", "Cs")), max_size=12)
ANYTHING = st.one_of(
    st.none(),
    WORDS,
    st.integers(-10, 60_000),
    st.floats(-1e6, 1e6),
    st.booleans(),
    st.datetimes(datetime(1980, 1, 1), datetime(2090, 1, 1)),
    st.times(),
    st.sampled_from(["=A5", "=TODAY()", "3/4/26", "04/03/2026", "#REF!", "2026-02-30", "25:00", "yes", " "]),
)
CELLS = st.tuples(st.integers(0, COUNT - 1), st.integers(1, len(COLUMNS)), ANYTHING)
ROWS_OUT = st.lists(st.integers(0, COUNT - 1), max_size=2)


def spoil(sheet: Worksheet, cells: list[tuple[int, int, object]], out: list[int], twice: int | None) -> None:
    for row, column, value in cells:
        sheet.cell(FIRST_ROW + row, column).value = value
    if twice is not None:
        for cell in list(sheet[FIRST_ROW + twice]):
            sheet.cell(FIRST_ROW + COUNT, cell.column).value = cell.value
    for row in sorted(out, reverse=True):
        sheet.delete_rows(FIRST_ROW + row)


@settings(max_examples=40, deadline=None)
@given(st.lists(CELLS, max_size=6), ROWS_OUT, st.none() | st.integers(0, COUNT - 1))
def test_cells_overwritten_and_rows_lost_never_move_a_date(
    cells: list[tuple[int, int, object]], out: list[int], twice: int | None
) -> None:
    """A sample whose own cells of date and time were left alone keeps exactly its moment."""
    reading = reading_of(files.edited(lambda sheet: spoil(sheet, cells, out, twice), SOUND))
    if reading is None:
        return
    touched = {f"S{row}" for row, column, _value in cells if column in DATED}
    renamed = {str(value).strip() for _row, column, value in cells if column == PLACES["own_id"]}
    for own_id, at in moments(reading).items():
        if own_id in TRUE and own_id not in touched | renamed:
            assert at == TRUE[own_id]


DAYS = st.dates(date(2000, 1, 1), date(2089, 12, 31))
#: Ways in which people and programs write a day; those with slashes are read by nobody's guess.
WAYS = {
    "date": lambda day: day,
    "moment": lambda day: datetime(day.year, day.month, day.day),
    "iso": lambda day: day.isoformat(),
    "iso with blanks": lambda day: f"  {day.isoformat()} ",
    "slashes from the year": lambda day: f"{day:%Y/%m/%d}",
    "day first": lambda day: f"{day.day}/{day.month}/{day.year}",
    "month first": lambda day: f"{day.month}/{day.day}/{day.year}",
    "day first, short": lambda day: f"{day:%d/%m/%y}",
    "month first, short": lambda day: f"{day:%m/%d/%y}",
    "dashes, day first": lambda day: f"{day:%d-%m-%Y}",
    "dots": lambda day: f"{day.day}.{day.month}.{day.year}",
    "in words": lambda day: f"{day.day} {day:%b %Y}",
    "month in words first": lambda day: f"{day:%B} {day.day}, {day.year}",
    "digits": lambda day: f"{day:%Y%m%d}",
    "serial number": lambda day: (day - date(1899, 12, 30)).days,
    "serial number as text": lambda day: str((day - date(1899, 12, 30)).days),
}
TAKEN = ("date", "moment", "iso", "iso with blanks")


@settings(max_examples=60, deadline=None)
@given(DAYS, st.sampled_from(sorted(WAYS)))
def test_a_day_is_read_as_itself_or_asked_about(day: date, way: str) -> None:
    data = files.filled(told(0) | {"collected_date": WAYS[way](day), "collected_time": "14:00"})
    reading = reading_of(data)
    wrong = [problem for problem in reading.problems if problem.column == "collected_date"]
    if way in TAKEN:
        assert not wrong
    if not wrong:
        (entry,) = reading.entries
        assert entry.collected_at.astimezone(BERLIN).date() == day


@pytest.fixture
def entered(submitter, group, rulebook, signed_in):
    consignment = draft(submitter, group, rulebook, sample("Old 1"), sample("Old 2"))
    return signed_in(submitter), consignment


def as_stored(consignment) -> tuple[object, ...]:
    rows = Sample.objects.filter(consignment=consignment).order_by("pk")
    record = RecordEntry.objects.filter(consignment=consignment).count()
    return tuple(rows.values_list("own_id", "ph", "collected_at")), record


@pytest.mark.django_db
@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(CELLS, max_size=5),
    ROWS_OUT,
    st.none() | st.tuples(st.integers(0, 30_000), st.binary(min_size=1, max_size=8)),
)
def test_an_upload_of_anything_is_answered_and_saves_nothing(entered, cells, out, burst) -> None:
    client, consignment = entered
    book = consignment_workbook(
        number=consignment.number,
        title=consignment.title,
        zone=consignment.zone,
        entries=[sample(f"S{n}") for n in range(COUNT)],
    )
    data = files.edited(lambda sheet: spoil(sheet, cells, out, None), book)
    if burst is not None:
        at, new = burst
        data = data[: at % len(data)] + new + data[at % len(data) + len(new) :]
    before = as_stored(consignment)
    answer = client.post(address("sheet", consignment), {"sheet": SimpleUploadedFile("a.xlsx", data)})
    assert answer.status_code in (302, 422)
    if answer.status_code == 302:
        assert client.get(answer.url).status_code == 200
    elif "staged" in answer.context:
        key = answer.context["staged"].key
        marked = client.get(address("sheet_marked", consignment, key))
        assert marked.status_code == 200
        load_workbook(BytesIO(marked.content))
    assert as_stored(consignment) == before
