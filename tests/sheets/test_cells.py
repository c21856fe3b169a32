"""One cell at a time: what people type, and what it means or why it is not taken."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from intake.sheets.cells import Clock, DayCell, Measure, Pair, Stated, read_cell
from intake.sheets.columns import BY_CODE, COLUMNS
from intake.sheets.problems import CellFault
from intake.sheets.texts import Formula, SheetError, shown_text

MARCH_4 = date(2026, 3, 4)

TAKEN = [
    ("ph", "7,2", Measure(7.2)),
    ("ph", " 7.2 ", Measure(7.2)),
    ("ph", 7.199999999999999, Measure(7.2)),
    ("ph", "−0.5", Measure(-0.5)),
    ("ph", "n/a", None),
    ("ph", "\u200e7.2", Measure(7.2)),
    ("ph", "٧٫٢", Measure(7.2)),
    ("ec", "1 200", Measure(1200.0)),
    ("ec", "1\u202f200,5", Measure(1200.5)),
    ("ec", "1,200.5", Measure(1200.5)),
    ("ec", "1.200,5", Measure(1200.5)),
    ("ec", "1,234,567", Measure(1234567.0)),
    ("ec", "0,125", Measure(0.125)),
    ("ec", "1.2e3", Measure(1200.0)),
    ("ec", "350 µS/cm", Measure(350.0, "us/cm")),
    ("ec", "350 μS / cm", Measure(350.0, "us/cm")),
    ("ec", "0.35mS/cm", Measure(0.35, "ms/cm")),
    ("ec", "350 muS/cm", Measure(350.0, "us/cm")),
    ("ec_unit", "uS/cm", "µS/cm"),
    ("ec_unit", "mu S/cm", "µS/cm"),
    ("ec_unit", "μs/cm", "µS/cm"),
    ("ec_unit", "µS cm⁻¹", "µS/cm"),
    ("ec_unit", "MS/CM", "mS/cm"),
    ("ec_unit", "ms/m", "mS/m"),
    ("ec_reference", "Compensated to 25 °C", "25"),
    ("ec_reference", 25, "25"),
    ("ec_reference", "not  compensated", "raw"),
    ("ec_reference", "?", None),
    ("water_temperature", "12 °C", Measure(12.0, "°c")),
    ("water_temperature", "-0,5 C", Measure(-0.5, "c")),
    ("filter_pore", "0.45 µm", Pair(Measure(0.45, "um"), Measure(0.45, "um"))),
    ("filter_pore", "unfiltered", Pair(Measure(0.0), Measure(0.0))),
    ("filter_pore", "0.2 | none", Pair(Measure(0.2), Measure(0.0))),
    ("filter_membrane", "PES", Pair("polyethersulfone", "polyethersulfone")),
    ("chlorinated", "Y", True),
    ("chlorinated", "Yes ", True),
    ("chlorinated", "x", True),
    ("chlorinated", True, True),
    ("chlorinated", "no", False),
    ("chlorinated", "unknown", None),
    ("cation_acid", "HNO3", "nitric"),
    ("cation_acid", "yes", "yes"),
    ("cation_acid", "no", "none"),
    ("collected_date", "2026-03-04", DayCell(MARCH_4)),
    ("collected_date", "2026-3-4", DayCell(MARCH_4)),
    ("collected_date", "2026/03/04", DayCell(MARCH_4)),
    ("collected_date", "20260304", DayCell(MARCH_4)),
    ("collected_date", "4 Mar 2026", DayCell(MARCH_4)),
    ("collected_date", "4th March, 2026", DayCell(MARCH_4)),
    ("collected_date", "4-Mar-2026", DayCell(MARCH_4)),
    ("collected_date", "March 4, 2026", DayCell(MARCH_4)),
    ("collected_date", "13/4/2026", DayCell(date(2026, 4, 13))),
    ("collected_date", "4/13/2026", DayCell(date(2026, 4, 13))),
    ("collected_date", "4.4.2026", DayCell(date(2026, 4, 4))),
    ("collected_date", datetime(2026, 3, 4), DayCell(MARCH_4)),
    ("collected_date", MARCH_4, DayCell(MARCH_4)),
    ("collected_date", datetime(2026, 3, 4, 14, 5), DayCell(MARCH_4, Clock(time(14, 5)))),
    ("collected_date", "2026-03-04 00:00:00", DayCell(MARCH_4)),
    ("collected_date", "2026-03-04T14:05", DayCell(MARCH_4, Clock(time(14, 5)))),
    ("collected_date", "4 Mar 2026 2 pm", DayCell(MARCH_4, Clock(time(14)))),
    ("collected_date", "29 Feb 2028", DayCell(date(2028, 2, 29))),
    ("collected_time", "14:05", Clock(time(14, 5))),
    ("collected_time", "1405", Clock(time(14, 5))),
    ("collected_time", 1405, Clock(time(14, 5))),
    ("collected_time", "905", Clock(time(9, 5))),
    ("collected_time", "14.05", Clock(time(14, 5))),
    ("collected_time", 14.05, Clock(time(14, 5))),
    ("collected_time", "2 pm", Clock(time(14))),
    ("collected_time", "2:30 p.m.", Clock(time(14, 30))),
    ("collected_time", "12 am", Clock(time(0))),
    ("collected_time", "12 pm", Clock(time(12))),
    ("collected_time", "noon", Clock(time(12))),
    ("collected_time", "14 h", Clock(time(14), to_the_hour=True)),
    ("collected_time", "about 9h", Clock(time(9), to_the_hour=True)),
    ("collected_time", "02:30+02:00", Clock(time(2, 30), timedelta(hours=2))),
    ("collected_time", "14:05Z", Clock(time(14, 5), timedelta(0))),
    ("collected_time", time(14, 4, 59, 999998), Clock(time(14, 5))),
    ("collected_time", datetime(1899, 12, 30, 14, 5), Clock(time(14, 5))),
    ("collected_time", timedelta(hours=14, minutes=5), Clock(time(14, 5))),
    ("anion_chilled", "at once", Stated(at_once=True)),
    ("anion_chilled", "No", Stated(happened=False)),
    ("anion_chilled", "yes", Stated()),
    ("began", "'2026-03-04 00:00", Stated(day=MARCH_4, clock=Clock(time(0)))),
    ("began", datetime(2026, 3, 4, 0, 1), Stated(day=MARCH_4, clock=Clock(time(0, 1)))),
    ("anion_chilled", "14:20", Stated(clock=Clock(time(14, 20)))),
    ("anion_chilled", "4 Mar 2026 14:20", Stated(day=MARCH_4, clock=Clock(time(14, 20)))),
    ("anion_ions", "Nutrients", ("nitrite", "nitrate", "phosphate")),
    ("anion_ions", "NO3-, SO4 2-; cl", ("chloride", "nitrate", "sulfate")),
    ("anion_ions", "NO₃⁻ and PO₄³⁻", ("nitrate", "phosphate")),
    ("anion_ions", "NO3-N, nutrients, sulphate", ("nitrite", "nitrate", "phosphate", "sulfate")),
    ("cation_ions", "Na+, Ca++, mg 2+, NH4", ("sodium", "ammonium", "magnesium", "calcium")),
    ("own_id", "  Mill\u00a0 brook  1 ", "Mill brook 1"),
    ("own_id", 7.0, "7"),
    ("own_id", "=1+1", "=1+1"),
    ("own_id", True, "TRUE"),
    ("site", "مياه النهر 🌊👩\u200d🔬", "مياه النهر 🌊👩\u200d🔬"),
    ("site", "\u202eevil\u202c\u2066x\u2069", "evilx"),
    ("site", "Cafe\u0301", "Café"),
    ("site", "two\nlines", "two lines"),
    ("site", "", None),
    ("site", None, None),
]  # fmt: skip

REFUSED = [
    ("ph", "seven", "not a number"),
    ("ph", "<7", "not a number"),
    ("ph", "7 2", "gap"),
    ("ph", "7..2", "not a number"),
    ("ph", "nan", "not a number"),
    ("ph", "inf", "not a number"),
    ("ph", "1e999", "too large"),
    ("ph", datetime(2026, 7, 2), "turned what was typed here into a date (2026-07-02)"),
    ("ec", "1,200", "1.2 or as 1200"),
    ("ec", "12,345 uS/cm", "12.345 or as 12345"),
    ("ec", "-5", "below 0"),
    ("ec", "1.2.3", "not a number"),
    ("ec", "350 ppm", "“ppm”"),
    ("cation_volume", "0.05 L", "this column is in mL"),
    ("cation_acid_ml", "-0.5", "below 0"),
    ("water_temperature", "-300", "below -273.15"),
    ("water_temperature", "54 F", "this column is in °C"),
    ("filter_pore", "0.2|0.4|0.5", "more than one"),
    ("ec_unit", "siemens", "Choose µS/cm"),
    ("filter_membrane", "nylom", "Did you mean nylon?"),
    ("chlorinated", "maybe", "neither yes nor no"),
    ("chlorinated", "-", "neither yes nor no"),
    ("collected_date", "3/4/26", "3 Apr 2026 or 4 Mar 2026"),
    ("collected_date", "3.4.2026", "3 Apr 2026 or 4 Mar 2026"),
    ("collected_date", "13/4/26", "did you mean 13 Apr 2026?"),
    ("collected_date", "4 Mar 26", "no year of four digits"),
    ("collected_date", "30 Feb 2026", "no such date"),
    ("collected_date", "2026-13-01", "no such date"),
    ("collected_date", "31/31/2026", "no such date"),
    ("collected_date", "4 Mar 1926", "year 1926"),
    ("collected_date", datetime(1926, 3, 4), "year 1926"),
    ("collected_date", "2926-03-04", "year 2926"),
    ("collected_date", datetime(9999, 12, 31, 23, 59, 59, 999999), "year 9999"),
    ("collected_date", 46085, "would be 4 Mar 2026"),
    ("collected_date", "46085.5868", "would be 4 Mar 2026"),
    ("collected_date", "yesterday", "not a date"),
    ("collected_date", "14:05", "not a date"),
    ("collected_time", "25:00", "no such time"),
    ("collected_time", "14:60", "no such time"),
    ("collected_time", "24:00", "midnight"),
    ("collected_time", "14", "14:00, or 14 h"),
    ("collected_time", 14.5, "14:50 or 14:05"),
    ("collected_time", 0.5868055555, "would be 14:05"),
    ("collected_time", "13 pm", "1 to 12"),
    ("collected_time", "0 am", "1 to 12"),
    ("collected_time", "2026-03-04", "not a time of day"),
    ("collected_time", "soon", "not a time of day"),
    ("collected_time", timedelta(hours=40), "length of time"),
    ("began", "2026-03-04", "has no time"),
    ("began", datetime(2026, 3, 4), "for midnight type '2026-03-04 00:00"),
    ("anion_chilled", "14 h", "no minutes"),
    ("anion_chilled", "cold", "not a moment"),
    ("anion_ions", "sodium", "measured in the cation bottle"),
    ("anion_ions", "common cations", "measured in the cation bottle"),
    ("anion_ions", "nitrat", "Did you mean nitrate"),
    ("anion_ions", "Cl SO4", "Put commas between ions"),
    ("anion_ions", ",", "names no ion"),
    ("own_id", "a" * 61, "61 characters long"),
    ("own_id", datetime(2026, 3, 4), "turned what was typed here into a date (2026-03-04)"),
    ("site", "a" * 2001, "2,001 characters"),
    ("site", "a\x07b", "U+0007"),
    ("site", "a\ud800", "U+D800"),
    ("site", "a\uffff", "U+FFFF"),
    ("ph", Formula("=A1"), "holds a formula"),
    ("ph", SheetError("#N/A"), "error #N/A"),
    ("ph", object(), "neither text, a number nor a date"),
]  # fmt: skip


@pytest.mark.parametrize(("code", "raw", "value"), TAKEN)
def test_taken(code: str, raw: object, value: object) -> None:
    assert read_cell(BY_CODE[code], raw) == value


@pytest.mark.parametrize(("code", "raw", "part"), REFUSED)
def test_refused_with_a_sentence(code: str, raw: object, part: str) -> None:
    with pytest.raises(CellFault) as refused:
        read_cell(BY_CODE[code], raw)
    sentence = refused.value.sentence
    assert part in sentence
    assert sentence.endswith((".", "?"))
    assert len(sentence) < 500
    assert not {"invalid", "required"} & set(sentence.casefold().split())


@pytest.mark.parametrize(
    ("raw", "text"),
    [
        (None, ""),
        (7.199999999999999, "7.2"),
        (datetime(2026, 3, 4, 14, 5), "2026-03-04 14:05"),
        (Formula("=A1"), "=A1"),
        (SheetError("#N/A"), "#N/A"),
        ("  a  b ", "a b"),
        ("x" * 9000, "x" * 1999 + "…"),
    ],
)
def test_the_grid_shows_what_stood_in_the_cell(raw: object, text: str) -> None:
    assert shown_text(raw) == text


@settings(max_examples=1500, deadline=None)
@given(
    st.sampled_from(COLUMNS),
    st.one_of(
        st.text(max_size=25),
        st.text("0123456789:.,/-+ |TZhapmARCHµ", max_size=20),
        st.floats(),
        st.integers(),
        st.datetimes(),
        st.dates(),
        st.times(),
        st.timedeltas(),
        st.booleans(),
    ),
)
def test_a_cell_is_read_or_refused_and_nothing_else(column: object, raw: object) -> None:
    try:
        read_cell(column, raw)
    except CellFault as fault:
        assert fault.sentence
