"""Results: reading files, all or nothing, factors once, flags that travel into the statement."""

from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from intake.models import Bottle, RecordEntry, Result
from intake.sheets.problems import SheetProblem
from intake.sheets.results import read_results
from intake.stating import statement_content
from tests.factories import sample
from tests.statement.closed import consignment_of, issued, measured

pytestmark = pytest.mark.django_db


@pytest.fixture
def bottles(submitter, reception, manager, group, rulebook):
    return measured(submitter, reception, manager, group, rulebook, sample("one"))


def posted(browser, text, name="run.csv", **changes):
    data = {"unit": "mg/L", "dilution_applied": "no", "acid_applied": "no", "token": "t", **changes}
    content = text if isinstance(text, bytes) else text.encode()
    return browser.post("/results/", {**data, "file": SimpleUploadedFile(name, content)})


def test_values_get_every_factor_once_and_stand_in_the_statement(bottles, manager, signed_in):
    anion, cation = bottles
    text = (
        "Bottle;Ion;Value;Unit;As;Dilution;Range top\n"
        f"{anion.number};nitrate;1,5;;N;2;20\n{anion.number};chloride;<0.05;;;;\n"
        f"{cation.number};Sodium;30000;µg/L;;5;20000\n"
    )
    assert posted(signed_in(manager), text).status_code == 302
    values = {row.ion: row for row in Result.objects.all()}
    # By hand: 1.5 * 4.4267 * 2; 30 mg/L * 5 * (50 + 1) / 50.
    assert values["nitrate"].value_mg_l == pytest.approx(13.28, abs=0.005)
    assert values["sodium"].value_mg_l == pytest.approx(153.0)
    assert (values["sodium"].above_range, values["nitrate"].above_range) == (True, False)
    assert values["chloride"].below
    content = statement_content(consignment_of(bottles))
    ions = {ion["ion"]: ion for bottle in content["samples"][0]["bottles"] for ion in bottle["ions"]}
    assert ions["sodium"]["results"][0]["flags"] == ["above the calibrated range"]
    assert "not checked: no magnesium, calcium and sulfate" in content["samples"][0]["checks"][0]["sentence"]
    made = issued(consignment_of(bottles), manager)
    page = signed_in(manager).get(f"/statements/{made.number}/").content.decode()
    sodium = "153 mg/L (stated 30000 µg/L × dilution 5 × acid volume 1.02); above the calibrated range"
    assert sodium in page
    assert "13.28 mg/L = 3 mg/L N (stated 1.5 mg/L as the element × dilution 2)" in page
    assert "&lt;0.05 mg/L" in page
    assert RecordEntry.objects.filter(verb="results.enter").exists()


def test_what_the_file_applied_is_not_applied_again(bottles, manager, signed_in):
    text = f"Bottle,Ion,Value,Dilution\n{bottles[1].number},sodium,100,5\n"
    posted(signed_in(manager), text, dilution_applied="yes", acid_applied="yes")
    assert Result.objects.get().value_mg_l == 100
    page = (
        signed_in(manager).get(f"/consignments/{bottles[0].consignment.number}/statement/").content.decode()
    )
    assert "100 mg/L (stated 100 mg/L; dilution 5 already in it; acid volume 1.02 already in it)" in page


def test_every_fault_is_told_at_once_and_nothing_is_saved(bottles, manager, signed_in):
    anion = bottles[0].number
    text = (
        f"Bottle,Ion,Value,Unit,As\n{anion},nitrate,1,,\nB0000000,nitrate,1,,\n{anion},gold,1,,\n"
        f"{anion},sodium,1,,\n{anion},chloride,many,,\n{anion},sulfate,1,pints,\n{anion},fluoride,1,,N\n"
        f"{anion},nitrate,2,,\n"
    )
    answer = posted(signed_in(manager), text)
    assert answer.status_code == 422
    assert [fault.row for fault in answer.context["faults"]] == [3, 4, 5, 6, 7, 8, 9]
    assert not Result.objects.exists()


def test_a_correction_asks_why_and_keeps_the_value_before(bottles, manager, signed_in):
    browser = signed_in(manager)
    anion = bottles[0].number
    posted(browser, f"Bottle,Ion,Value\n{anion},nitrate,1\n{anion},chloride,5\n", token="a")
    changed = f"Bottle,Ion,Value\n{anion},nitrate,2\n{anion},chloride,5\n"
    refused = posted(browser, changed, token="b")
    assert refused.status_code == 422
    assert "Say why 1 value changed" in refused.content.decode()
    assert Result.objects.count() == 2
    for _again in range(2):
        posted(browser, changed, token="b", reason="integrated anew")
    # The chloride was the same and stays; the old nitrate is kept beside the new one.
    assert Result.objects.count() == 3
    assert Result.objects.get(withdrawn_at__isnull=True, ion="nitrate").value_mg_l == 2
    entry = RecordEntry.objects.filter(verb="results.enter").latest("pk")
    assert entry.reason == "integrated anew"
    assert entry.before == {"values": {anion: "nitrate 1 mg/L"}}
    assert entry.after["values"] == {anion: "nitrate 2 mg/L"}


def test_a_bottle_above_the_range_goes_back_with_the_next_dilution(bottles, manager, signed_in):
    text = f"Bottle,Ion,Value,Range top,Dilution\n{bottles[0].number},nitrate,30,20,2\n"
    posted(signed_in(manager), text, requeue="on")
    assert Bottle.objects.get(pk=bottles[0].pk).state == "ready"
    # 30 * 2 / 20 = 3, and the next step of the ladder is 5.
    assert "next dilution 1:5" in RecordEntry.objects.get(verb="bottle.take-back").reason


def test_fifty_thousand_rows_are_refused_in_words(bottles, manager, signed_in):
    text = "Bottle,Ion,Value\n" + f"{bottles[0].number},nitrate,1\n" * 50_000
    answer = posted(signed_in(manager), text)
    assert answer.status_code == 422
    assert "more than 5,000 rows" in answer.content.decode()
    assert not Result.objects.exists()


def test_a_workbook_is_read_like_a_text_and_formulas_are_refused(bottles):
    workbook = Workbook()
    workbook.active.append(["Bottle", "Ion", "Value"])
    workbook.active.append([bottles[0].number, "nitrate", 1.5])
    workbook.active.append([bottles[0].number, "chloride", "=1+1"])
    file = BytesIO()
    workbook.save(file)
    rows, faults = read_results(file.getvalue(), "mg/L")
    assert [(row.ion, row.value) for row in rows] == [("nitrate", 1.5)]
    assert [(fault.row, fault.heading) for fault in faults] == [(3, "Value")]


@given(st.binary(max_size=300) | st.text(max_size=300).map(lambda text: f"Bottle,Ion,Value\n{text}".encode()))
@settings(max_examples=60, deadline=None)
def test_any_file_is_read_or_refused_in_words(data):
    try:
        rows, faults = read_results(data, "mg/L")
    except SheetProblem as problem:
        assert problem.sentence
    else:
        assert all(row.value >= 0 for row in rows)
        assert all(fault.sentence for fault in faults)
