"""Rows into samples: every fault in one pass, moments against the collection, clock changes."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from intake.sheets.columns import BY_CODE, COLUMNS, column_of, of_group
from intake.sheets.table import RawRow, is_blank, read_rows
from intake.sheets.texts import UNSEEN

BERLIN = "Europe/Berlin"
GOOD = {"own_id": "a", "collected_date": "2026-03-04", "collected_time": "14:05"}


def one(zone: str = BERLIN, **cells: object):
    return read_rows([RawRow(7, {**GOOD, **cells})], zone)


def sample(zone: str = BERLIN, **cells: object):
    reading = one(zone, **cells)
    assert reading.problems == ()
    return reading.entries[0]


def problems(zone: str = BERLIN, **cells: object) -> dict[str, str]:
    return {problem.column: problem.sentence for problem in one(zone, **cells).problems}


def test_a_plain_sample() -> None:
    entry = sample(ec="350 uS/cm", anion_ions="nutrients", anion_chilled="at once", filter_pore="0.45")
    assert entry.collected_at == datetime(2026, 3, 4, 13, 5, tzinfo=UTC)
    assert (entry.precision, entry.ec_value, entry.ec_unit) == ("minute", 350.0, "µS/cm")
    (bottle,) = entry.bottles
    assert (bottle.line, bottle.chilled, bottle.chilled_at) == ("anion", True, entry.collected_at)
    assert (bottle.filter_pore_um, bottle.acidified) == (0.45, None)


def test_precision_follows_what_was_typed() -> None:
    assert sample(collected_time="").precision == "date"
    assert sample(collected_time="").collected_at == datetime(2026, 3, 3, 23, tzinfo=UTC)
    assert sample(collected_time="14 h").precision == "hour"
    assert sample(collected_time="", collected_date="").precision == "unknown"
    assert sample(collected_time="", collected_date="4 Mar 2026 14:05").precision == "minute"


@pytest.mark.parametrize(
    ("typed", "at"),
    [
        ("14:20", datetime(2026, 3, 4, 13, 20, tzinfo=UTC)),
        ("14:05", datetime(2026, 3, 4, 13, 5, tzinfo=UTC)),
        ("14:04", datetime(2026, 3, 5, 13, 4, tzinfo=UTC)),
        ("0:30", datetime(2026, 3, 4, 23, 30, tzinfo=UTC)),
        ("2026-03-04 09:00", datetime(2026, 3, 4, 8, 0, tzinfo=UTC)),
    ],
)
def test_a_time_alone_is_the_first_after_collection(typed: str, at: datetime) -> None:
    assert sample(cation_ions="Na", cation_chilled=typed).bottles[0].chilled_at == at


def test_moments_that_need_a_collection_say_so() -> None:
    undated = {"collected_date": "", "collected_time": "", "anion_ions": "Cl"}
    assert "counts from the collection" in problems(anion_chilled="at once", **undated)["anion_chilled"]
    assert "counts from the collection" in problems(filtered_at="14:10", **undated)["filtered_at"]


def test_one_broken_date_is_one_problem() -> None:
    assert set(problems(collected_date="3/4/26", anion_ions="Cl", anion_chilled="at once")) == {
        "collected_date"
    }


@pytest.mark.parametrize(
    ("zone", "day", "typed", "offered"),
    [
        (BERLIN, "2026-10-25", "02:30", ("twice", "02:30+02:00", "02:30+01:00")),
        (BERLIN, "2026-03-29", "02:30", ("never", "02:30+01:00", "02:30+02:00")),
        ("Australia/Lord_Howe", "2026-04-05", "01:45", ("twice", "01:45+11:00", "01:45+10:30")),
    ],
)
def test_clock_changes_are_asked_about(zone: str, day: str, typed: str, offered: tuple[str, ...]) -> None:
    """Transitions from the IANA time zone database (tzdata)."""
    sentence = problems(zone, collected_date=day, collected_time=typed)["collected_time"]
    assert all(part in sentence for part in offered)
    for answer in offered[1:]:
        assert sample(zone, collected_date=day, collected_time=answer).precision == "minute"


def test_a_day_that_a_zone_left_out() -> None:
    """Samoa went from 29 to 31 December 2011 (IANA time zone database)."""
    told = problems("Pacific/Apia", collected_date="2011-12-30", collected_time="")
    assert "30 Dec 2011 was left out" in told["collected_date"]
    assert sample("Pacific/Apia", collected_date="2011-12-31", collected_time="").precision == "date"


def test_an_offset_settles_which_hour_and_must_fit_the_zone() -> None:
    first = sample(collected_date="2026-10-25", collected_time="02:30+02:00").collected_at
    assert first == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert sample(collected_time="13:05Z").collected_at == datetime(2026, 3, 4, 13, 5, tzinfo=UTC)
    assert "+05:00 is not used in Europe/Berlin" in problems(collected_time="14:05+05:00")["collected_time"]


@pytest.mark.parametrize(
    ("cells", "code", "part"),
    [
        ({"own_id": " "}, "own_id", "no sample id"),
        ({"ec": "350"}, "ec_unit", "no unit"),
        ({"ec": "350 uS/cm", "ec_unit": "mS/cm"}, "ec", "Make them agree"),
        ({"collected_date": ""}, "collected_date", "no date"),
        ({"collected_date": "4 Mar 2026 9:00"}, "collected_time", "another time"),
        ({"began": "2026-03-03 14:00"}, "collection", "Choose composite"),
        ({"began": "14:00", "collection": "composite"}, "began", "date as well"),
        ({"anion_volume": "50"}, "anion_ions", "describes an anion bottle"),
        ({"cation_brim": "no"}, "cation_ions", "describes a cation bottle"),
        ({"filter_pore": "0.45"}, "anion_ions", "describes a filter"),
        ({"filter_pore": "0.2|0.45", "anion_ions": "Cl"}, "filter_pore", "no cation bottle"),
        (
            {"cation_ions": "Na", "cation_acid": "none", "cation_acid_ml": "0.5"},
            "cation_acid",
            "no acid, yet",
        ),
    ],
)
def test_cells_that_contradict_each_other(cells: dict[str, object], code: str, part: str) -> None:
    assert part in problems(**cells)[code]


@pytest.mark.parametrize(
    ("cells", "acidified", "kind"),
    [
        ({}, None, ""),
        ({"cation_acid": "no"}, False, "none"),
        ({"cation_acid_ml": "0"}, False, "none"),
        ({"cation_acid": "none", "cation_acid_ml": "0"}, False, "none"),
        ({"cation_acid_ml": "0.5"}, True, ""),
        ({"cation_acid": "yes"}, True, ""),
        ({"cation_acid": "nitric", "cation_acid_mol_l": "1 M"}, True, "nitric"),
    ],
)
def test_acid_is_read_from_word_and_amounts(
    cells: dict[str, object], acidified: bool | None, kind: str
) -> None:
    (bottle,) = sample(cation_ions="Na", **cells).bottles
    assert (bottle.acidified, bottle.acid_kind) == (acidified, kind)


def test_all_problems_in_one_pass_and_blank_rows_passed_over() -> None:
    reading = read_rows(
        [
            RawRow(4, {"own_id": "a", "ph": "seven", "ec": "-5"}),
            RawRow(5, {"own_id": " ", "ph": "\u200e", "ec": None}),
            RawRow(6, {"own_id": "b"}),
            RawRow(9, {"own_id": "a", "site": "x"}),
        ],
        BERLIN,
        {"ph": "G", "own_id": "A"},
    )
    assert [(problem.row, problem.column, problem.letter) for problem in reading.problems] == [
        (4, "ph", "G"),
        (4, "ec", ""),
        (9, "own_id", "A"),
    ]
    assert "Rows 4 and 9" in reading.problems[-1].sentence
    assert reading.problems[0].place == "row 4, column G (Field pH)"
    assert reading.problems[0].value == "seven"
    assert reading.numbers == (6,)


def test_columns_are_told_apart_and_lead_back_from_facts() -> None:
    headings = [column.heading for column in COLUMNS]
    assert len(set(headings)) == len(headings) == len(BY_CODE)
    assert column_of("chilled_at", "cation").code == "cation_chilled"
    assert column_of("filter_pore_um", "anion").code == "filter_pore"
    assert column_of("ph").code == "ph"
    assert column_of("nothing") is None
    assert [column.code for column in of_group(COLUMNS[0].group)][:2] == ["own_id", "site"]


def test_every_example_in_the_columns_is_taken() -> None:
    examples = {column.code: column.example for column in COLUMNS if column.example}
    (entry,) = read_rows([RawRow(1, examples)], BERLIN).entries
    assert [bottle.line for bottle in entry.bottles] == ["anion", "cation"]


def test_a_cell_of_nothing_but_unseen_characters_is_blank() -> None:
    unseen = "".join(map(chr, UNSEEN))
    for number in (*range(0x3100), 0xFEFF, 0xFFFD, 0x1F4A7):
        typed = f" {chr(number)}{unseen}"
        assert is_blank(typed) == (not typed.translate(UNSEEN).strip()), hex(number)
