"""Which numbers a rulebook may hold: the last one taken and the first one refused, at either end.

The bounds are ours: wide enough for every published rulebook we read, narrow enough to catch a slip of a
decimal point or of a unit. A pH below -1 or an acid above 24 mol/L is no acid of a laboratory (nitric acid
of 100 % is about 24 mol/L: 1.51 g/mL over 63.01 g/mol, from memory, check before use).
"""

from __future__ import annotations

import pytest

from intake.rules.book_data import book_from_data
from intake.rules.plain import PlainDataError
from intake.shipped import shipped_data

HOUSE = shipped_data("house")
ROW = HOUSE["rows"][0]
MINUTES_OF_A_YEAR = 366 * 24 * 60

SETTINGS = [
    ("version", 1, 1_000_000),
    ("immediately_min", 1, 1440),
    ("chilled_within_min", 0, MINUTES_OF_A_YEAR),
    ("gross_factor", 1, 100),
    ("arrival_tolerance_c", 0, 10),
    ("line_volume_ml", 0, 1_000_000),
    ("injection_volume_ml", 0, 1_000_000),
    ("repeats", 0, 100),
    ("acid_dose_ml", 0, 1000),
    ("acid_dose_mol_l", 0, 24),
    ("acid_ph_target", -1, 7),
    ("acid_standing_h", 0, 720),
    ("bottle_max_c", -100, 100),
    ("filter_pore_max_um", 0.01, 100),
]
CONDITIONS = [
    ("filter_pore_max_um", 0.01, 100),
    ("filtered_within_min", 0, MINUTES_OF_A_YEAR),
    ("max_c", -100, 100),
    ("frozen_within_min", 0, MINUTES_OF_A_YEAR),
    ("acid_ph_max", -1, 7),
    ("acid_within_min", 0, MINUTES_OF_A_YEAR),
]
WHOLE = {"version", "repeats", "number"}


def with_setting(name: str, value: object) -> dict:
    return {**HOUSE, name: value}


def with_condition(name: str, value: object) -> dict:
    row = {**ROW, "conditions": {**ROW["conditions"], "min_c": None, name: value}}
    return {**HOUSE, "rows": [row]}


def with_number(name: str, value: object) -> dict:
    return {**HOUSE, "rows": [{**ROW, name: value}]}


CASES = [
    *((with_setting, *bound) for bound in SETTINGS),
    *((with_condition, *bound) for bound in CONDITIONS),
    (with_number, "number", 1, 1_000_000),
]


def refused(data: dict) -> list[str]:
    try:
        book_from_data(data)
    except PlainDataError as error:
        return [str(problem) for problem in error.problems]
    return []


@pytest.mark.parametrize(("made", "name", "lowest", "highest"), CASES)
def test_a_number_is_taken_up_to_its_bounds_and_refused_beyond(
    made, name: str, lowest: float, highest: float
):
    step = 1 if name in WHOLE else 0.001
    assert refused(made(name, lowest)) == []
    assert refused(made(name, highest)) == []
    for beyond in (lowest - step, highest + step):
        [problem] = refused(made(name, beyond))
        assert name in problem


@pytest.mark.parametrize("end", [-100, 100])
def test_the_lowest_temperature_has_bounds_of_its_own(end: int):
    def cold(lowest: float) -> dict:
        row = {**ROW, "conditions": {**ROW["conditions"], "min_c": lowest, "max_c": 100}}
        return {**HOUSE, "rows": [row]}

    assert refused(cold(end)) == []
    [problem] = refused(cold(end * 1.001))
    assert "min_c" in problem


def test_a_band_may_be_one_temperature_but_not_upside_down():
    def band(lowest: float, highest: float) -> dict:
        row = {**ROW, "conditions": {**ROW["conditions"], "min_c": lowest, "max_c": highest}}
        return {**HOUSE, "rows": [row]}

    assert refused(band(4, 4)) == []
    assert "above max_c" in refused(band(4.001, 4))[0]


@pytest.mark.parametrize(
    ("value", "taken"), [(0.001, True), (36525, True), (36525.001, False), (-0.001, False)]
)
def test_a_limit_may_be_a_hundred_years_of_days(value: float, taken: bool):
    row = {**ROW, "limit": {"unit": "days", "value": value}}
    assert (refused({**HOUSE, "rows": [row]}) == []) is taken


@pytest.mark.parametrize("part", ["conditions", "limit", "source"])
def test_a_word_nobody_knows_is_refused_in_every_part_of_a_row(part: str):
    row = {**ROW, part: {**ROW[part], "surprise": 1}}
    [problem] = refused({**HOUSE, "rows": [row]})
    assert "surprise" in problem


def test_a_word_nobody_knows_is_refused_in_a_row_and_in_the_book():
    assert "surprise" in refused({**HOUSE, "rows": [{**ROW, "surprise": 1}]})[0]
    assert "surprise" in refused({**HOUSE, "surprise": 1})[0]


def test_a_row_without_a_source_is_told_so():
    row = {name: value for name, value in ROW.items() if name != "source"}
    [problem] = refused({**HOUSE, "rows": [row]})
    assert "say where the row comes from" in problem
