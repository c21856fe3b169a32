"""The statement as page, PDF and workbook, read back; who sees it."""

import csv
from io import BytesIO, StringIO

import pytest
from openpyxl import load_workbook

from intake.models import Injection, Statement
from intake.sealing import digest_of
from intake.stating import statement_content
from tests.factories import sample
from tests.papers.seeing import pages, text_of
from tests.statement.closed import NOW, consignment_of, issued, measured
from tests.statement.test_results import posted

pytestmark = pytest.mark.django_db
FORMULA = "=1+1"


@pytest.fixture
def consignment(submitter, reception, manager, group, rulebook):
    bottles = measured(
        submitter, reception, manager, group, rulebook, sample(FORMULA, site="@SUM(A1)"), sample("two")
    )
    return consignment_of(bottles)


@pytest.fixture
def statement(consignment, manager):
    return issued(consignment, manager)


def test_the_pdf_says_what_was_kept_who_released_it_and_by_which_rules(statement, submitter, signed_in):
    answer = signed_in(submitter).get(f"/statements/{statement.number}/statement.pdf")
    assert answer["Content-Type"] == "application/pdf"
    text = text_of(answer.content)
    for told in (
        str(statement),
        "Mara Manager",
        "nitrate",
        "48 h",
        "25 %",
        "3 Mar 2026 21:00",
        "Europe/Berlin",
        "24 kept",
        "version 1",
        "Acid made the volume 1.02 times as large.",
        statement.digest[:20],
    ):
        assert told in text, told
    assert "VOID" not in text
    assert len(pages(answer.content, 30)) >= 2


def test_the_workbook_has_a_row_an_ion_and_no_formula(statement, submitter, signed_in):
    answer = signed_in(submitter).get(f"/statements/{statement.number}/statement.xlsx")
    workbook = load_workbook(BytesIO(answer.content))
    ions = workbook["Ions"]
    rows = list(ions.iter_rows(min_row=2, values_only=True))
    assert len(rows) == 24
    assert rows[0][0] == FORMULA
    nitrate = next(row for row in rows if row[6] == "nitrate")
    assert f"{nitrate[9]:%Y-%m-%d %H:%M}" == "2026-03-03 21:00"
    assert (nitrate[10], nitrate[11]) == (25, "kept")
    assert all(cell.data_type != "f" for sheet in workbook for row in sheet.iter_rows() for cell in row)


def test_the_csv_has_the_same_rows_each_understood_alone(statement, submitter, signed_in):
    answer = signed_in(submitter).get(f"/statements/{statement.number}/statement.csv")
    lines = list(csv.DictReader(StringIO(answer.content.decode("utf-8-sig"))))
    assert len(lines) == 24
    nitrate = next(line for line in lines if line["Ion"] == "nitrate")
    assert nitrate["Sample"] == f"'{FORMULA}"
    assert (nitrate["Injected, Europe/Berlin"], nitrate["Outcome"]) == ("2026-03-03 21:00", "kept")
    assert nitrate["Statement"] == str(statement)
    assert nitrate["Seal (SHA-256)"] == statement.digest
    assert nitrate["Rulebook"].endswith("version 1")


def test_dilution_correction_value_and_flags_travel_into_every_file(consignment, manager, signed_in):
    anion = consignment.bottles.filter(line="anion").first()
    Injection.objects.filter(bottle=anion).update(run="RAAA0001", place=4, dilution=5, volume_factor=1.02)
    text = f"Bottle,Ion,Value,Range top\n{anion.number},nitrate,10,5\n"
    assert posted(signed_in(manager), text).status_code == 302
    made = issued(consignment, manager)
    browser = signed_in(manager)
    told = ("above the calibrated range", "diluted 1:5, volume correction 1.02")
    for part in ("", "statement.pdf", "statement.csv"):
        content = browser.get(f"/statements/{made.number}/{part}").content
        text = text_of(content) if part.endswith("pdf") else content.decode()
        text = " ".join(text.split())
        assert all(words in text for words in told), part
    sheet = load_workbook(BytesIO(browser.get(f"/statements/{made.number}/statement.xlsx").content))["Ions"]
    headings = [cell.value for cell in sheet[1]]
    rows = [dict(zip(headings, row, strict=True)) for row in sheet.iter_rows(min_row=2, values_only=True)]
    (row,) = [row for row in rows if row["Value, mg/L"] is not None]
    assert row["Value, mg/L"] == pytest.approx(51)
    assert row["As element, mg/L"] == pytest.approx(51 / 4.4267, rel=1e-4)
    assert (row["Element"], row["Flags"]) == ("N", "above the calibrated range")
    assert (row["Dilution, 1 to"], row["Acid volume correction"]) == (5, 1.02)


def test_the_sources_of_the_limits_stand_in_it(statement):
    assert any("40 CFR" in source or "EPA" in source for source in statement.content["sources"])


def test_a_replaced_statement_says_so_everywhere(consignment, statement, manager, signed_in):
    consignment.title = "Weir survey, second title"
    consignment.save(update_fields=["title"])
    second = issued(consignment, manager, reason="The title was wrong.")
    browser = signed_in(manager)
    page = browser.get(f"/statements/{statement.number}/").content.decode()
    assert f"Replaced by statement {second}" in page
    assert f"Replaced by statement {second}" in text_of(
        browser.get(f"/statements/{statement.number}/statement.pdf").content
    )
    assert "The title was wrong." in browser.get(f"/statements/{second.number}/").content.decode()


def test_issuing_on_the_page_shows_it_first_and_once(consignment, manager, signed_in):
    browser = signed_in(manager)
    address = f"/consignments/{consignment.number}/statement/"
    page = browser.get(address)
    form = page.context["form"]
    data = {"token": form["token"].value(), "content": form["content"].value()}
    assert b"Issue the statement below" in page.content
    answer = browser.post(address, data)
    made = Statement.objects.get()
    assert answer["Location"] == f"/statements/{made.number}/"
    assert browser.post(address, data).status_code == 302
    assert Statement.objects.count() == 1


def test_a_stale_page_is_shown_anew_and_nothing_is_issued(consignment, manager, signed_in):
    answer = signed_in(manager).post(
        f"/consignments/{consignment.number}/statement/", {"token": "t", "content": "stale"}
    )
    assert answer.status_code == 409
    assert answer.context["form"]["content"].value() == digest_of(statement_content(consignment))
    assert not Statement.objects.exists()


def test_pages_ask_the_same_for_2_and_12_samples(
    submitter, reception, manager, group, rulebook, signed_in, django_assert_max_num_queries
):
    browser = signed_in(manager)
    for many in (2, 12):
        bottles = measured(
            submitter, reception, manager, group, rulebook, *(sample(f"S{n}") for n in range(many))
        )
        consignment = consignment_of(bottles)
        with django_assert_max_num_queries(16):
            browser.get(f"/consignments/{consignment.number}/statement/")
        statement = issued(consignment, manager, at=NOW)
        for part in ("", "statement.pdf", "statement.xlsx"):
            with django_assert_max_num_queries(6):
                browser.get(f"/statements/{statement.number}/{part}")
