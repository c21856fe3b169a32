"""Results find their injection, take dilution and acid from the run list once, and come back diluted."""

import csv
from datetime import timedelta
from io import BytesIO, StringIO

import pytest
from openpyxl import load_workbook

from intake.actions import placing
from intake.actions.injecting import Shot, record_injections
from intake.models import Result
from intake.sheets.awaited import awaited
from tests.bench.bench import again, received
from tests.factories import sample
from tests.statement.closed import INJECTED, NOW, PLACED_AT
from tests.statement.test_results import posted

pytestmark = pytest.mark.django_db
LATER = INJECTED + timedelta(hours=3)


@pytest.fixture
def bottles(submitter, reception, manager, group, rulebook):
    """An anion and a cation bottle; both injected twice, in two runs at two dilutions."""
    bottles = received(submitter, reception, group, rulebook, sample("one"))
    for run, moment, dilution in (("RAAA0001", INJECTED, 2.0), ("RBBB0002", LATER, 10.0)):
        placing.place_bottles(bottles, by=manager, at=PLACED_AT, label=run)
        bottles = again(bottles)
        shots = [
            Shot(bottle, moment, f"run {run}", run, place, dilution, 1.0 + 0.02 * (bottle.line == "cation"))
            for place, bottle in enumerate(bottles, 7)
        ]
        record_injections(shots, by=manager, at=NOW)
        if run == "RAAA0001":
            bottles = again(bottles)
            placing.take_back_bottles(bottles, by=manager, at=PLACED_AT, reason="once more")
            bottles = again(bottles)
    return again(bottles)


def result(**narrower):
    return Result.objects.select_related("injection").get(**narrower)


def test_without_more_it_is_the_last_injection_with_the_dilution_of_its_run_list(bottles, manager, signed_in):
    assert posted(signed_in(manager), f"Bottle,Ion,Value\n{bottles[0].number},nitrate,3\n").status_code == 302
    assert result().injection.at == LATER
    assert (result().dilution, result().value_mg_l) == (10, 30)


def test_acid_is_corrected_by_the_run_list_once(bottles, manager, signed_in):
    cation = bottles[1].number
    posted(signed_in(manager), f"Bottle,Ion,Value\n{cation},sodium,3\n")
    assert result().value_mg_l == pytest.approx(3 * 10 * 1.02)
    posted(
        signed_in(manager),
        f"Bottle,Ion,Value\n{cation},potassium,3\n",
        dilution_applied="yes",
        acid_applied="yes",
        token="u",
    )
    assert result(ion="potassium").value_mg_l == 3


@pytest.mark.parametrize(
    ("heading", "cells"),
    [
        ("Bottle,Run", "{bottle},raaa 0001"),
        ("Bottle,Place,Run", "{bottle},7,RAAA0001"),
        ("Run,Place", "RAAA0001,7"),
        ("Bottle,Injected", "{bottle},{first:%Y-%m-%d %H:%M}"),
        ('Bottle,"Injected, Asia/Tokyo"', "{bottle},{tokyo:%Y-%m-%d %H:%M}"),
    ],
)
def test_a_row_names_its_injection(bottles, manager, signed_in, settings, heading, cells):
    settings.TIME_ZONE = "UTC"
    told = cells.format(bottle=bottles[0].number, first=INJECTED, tokyo=INJECTED + timedelta(hours=9))
    answer = posted(signed_in(manager), f"{heading},Ion,Value\n{told},nitrate,3\n")
    assert answer.status_code == 302, answer.content.decode()
    assert result().injection.at == INJECTED
    assert result().value_mg_l == 6


@pytest.mark.parametrize(
    ("heading", "cells", "column", "sentence"),
    [
        ("Bottle,Run", "{bottle},RCCC0003", "Run", "There is no such injection of bottle"),
        ("Bottle,Place", "{bottle},8", "Place", "run RAAA0001"),
        ("Bottle,Injected", "{bottle},2020-01-01 10:00", "Injected", "There is no such injection"),
        ("Bottle,Injected", "{bottle},yesterday", "Injected", "not a date with a time"),
        ("Run,Place", "RAAA0001,99", "Place", "No injection of run RAAA0001, place 99"),
        ("Bottle,Place", "{bottle},seven", "Place", "is no place"),
        ("Bottle,Dilution", "{bottle},5", "Dilution", "diluted 1:10, the file says 1:5"),
        ("Bottle,Range top", "{bottle},0", "Range top", "more than 0"),
        ("Run,Place", ",", "Bottle", "or the run and the place"),
    ],
)
def test_what_names_no_injection_is_told_with_its_cell(
    bottles, manager, signed_in, heading, cells, column, sentence
):
    told = cells.format(bottle=bottles[0].number)
    answer = posted(signed_in(manager), f"{heading},Ion,Value\n{told},nitrate,3\n")
    assert answer.status_code == 422
    (fault,) = answer.context["faults"]
    assert (fault.row, fault.heading) == (2, column)
    assert sentence in fault.sentence
    assert not Result.objects.exists()


def test_a_heading_with_an_unknown_zone_is_refused(bottles, manager, signed_in):
    text = f'Bottle,"Injected, Nowhere",Ion,Value\n{bottles[0].number},2026-03-04 10:00,nitrate,3\n'
    assert "not known" in posted(signed_in(manager), text).content.decode()


def test_another_dilution_than_planned_needs_a_remark_and_keeps_it(bottles, manager, signed_in):
    text = f"Bottle,Ion,Value,Dilution,Remark\n{bottles[0].number},nitrate,3,5,pipetted anew\n"
    assert posted(signed_in(manager), text).status_code == 302
    assert (result().value_mg_l, result().remark) == (15, "pipetted anew")


def test_the_template_holds_what_awaits_and_comes_back_filled(
    bottles, manager, signed_in, settings, monkeypatch
):
    settings.TIME_ZONE = "Europe/Vienna"
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    browser = signed_in(manager)
    before = list(awaited(NOW, "UTC"))
    assert len(before) == 2 * sum(len(bottle.ions) for bottle in bottles)
    assert len(list(awaited(NOW, "UTC", "RAAA0001"))) == len(before) / 2
    book = load_workbook(BytesIO(browser.get("/results/template.xlsx").content))
    sheet = book.active
    headings = [cell.value for cell in sheet[1]]
    assert headings[3] == "Injected, Europe/Vienna"
    for row in range(2, sheet.max_row + 1):
        if sheet.cell(row, 1).value == bottles[0].number:
            sheet.cell(row, headings.index("Value") + 1).value = 4
    out = BytesIO()
    book.save(out)
    assert posted(browser, out.getvalue(), name="results.xlsx").status_code == 302
    # Every ion of the first bottle, at both of its injections, each with its own dilution.
    assert Result.objects.count() == 2 * len(bottles[0].ions)
    assert {row.value_mg_l for row in Result.objects.filter(injection__run="RAAA0001")} == {8}
    assert {row.value_mg_l for row in Result.objects.filter(injection__run="RBBB0002")} == {40}
    left = list(csv.reader(StringIO(browser.get("/results/template.csv").content.decode("utf-8-sig"))))[1:]
    assert {line[0] for line in left} == {bottles[1].number}


def test_the_template_takes_as_many_queries_for_many_as_for_few(bottles, django_assert_num_queries):
    with django_assert_num_queries(2):
        list(awaited(NOW, "UTC"))
