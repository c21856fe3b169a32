"""What two rulebooks differ in, row by row and setting by setting."""

from dataclasses import replace

import pytest

from intake.rules.book import Counting, Limit, LimitUnit
from intake.rules.comparing import SETTINGS, Change, SettingDifference, compare_rows, compare_settings
from tests.rules.cases import HOUSE

FIRST = HOUSE.rows[0]
SHORTER = replace(FIRST, limit=Limit(7, LimitUnit.DAYS), note="Shown in our own study.")
NEW = replace(FIRST, number=500)


def differing(new_rows):
    """The rows that are not the same, by number: what happened, and in which fields."""
    compared = compare_rows(HOUSE, replace(HOUSE, rows=new_rows))
    return {row.number: (row.change, row.fields) for row in compared if row.change is not Change.SAME}


@pytest.mark.parametrize(
    ("words", "rows", "expected"),
    [
        ("the same rows", HOUSE.rows, {}),
        ("the same rows in another order", HOUSE.rows[::-1], {}),
        ("a shorter limit", (SHORTER, *HOUSE.rows[1:]), {1: (Change.CHANGED, ("limit", "note"))}),
        ("a row left out", HOUSE.rows[1:], {1: (Change.REMOVED, ())}),
        ("a row more", (*HOUSE.rows, NEW), {500: (Change.ADDED, ())}),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_rows(words, rows, expected):
    assert differing(rows) == expected


def test_every_row_is_listed_in_the_order_of_numbers_with_both_sides():
    compared = compare_rows(HOUSE, replace(HOUSE, rows=(NEW, *HOUSE.rows[1:])))
    assert [row.number for row in compared] == [*range(1, len(HOUSE.rows) + 1), 500]
    assert (compared[0].old, compared[0].new) == (FIRST, None)
    assert (compared[-1].old, compared[-1].new) == (None, NEW)
    assert compared[1].old is compared[1].new


def test_settings_that_differ_are_named_with_both_values():
    other = replace(HOUSE, counting=Counting.END_OF_PERIOD, gross_factor=3.0, title="Another", rows=())
    assert compare_settings(HOUSE, HOUSE) == ()
    assert set(compare_settings(HOUSE, other)) == {
        SettingDifference("counting", Counting.ELAPSED, Counting.END_OF_PERIOD),
        SettingDifference("gross_factor", 2.0, 3.0),
    }


def test_names_and_what_is_worked_out_are_no_settings():
    assert not {"title", "version", "rows", "by_ion", "ways"} & set(SETTINGS)
    assert {"immediately_min", "gross_factor", "departure", "acid_dose_ml"} <= set(SETTINGS)
