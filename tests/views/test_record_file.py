"""The record of a consignment as a file: every entry, in sentences, nothing a spreadsheet would run."""

import csv
import json
from io import BytesIO, StringIO

import pytest
from openpyxl import load_workbook

from intake.models import RecordEntry
from intake.record import readable
from intake.sheets.recordtable import record_csv
from tests.factories import sample
from tests.statement.closed import consignment_of, measured

pytestmark = pytest.mark.django_db


@pytest.fixture
def consignment(submitter, reception, manager, group, rulebook):
    return consignment_of(measured(submitter, reception, manager, group, rulebook, sample("=1+1")))


def test_every_entry_is_a_row_in_csv_and_workbook(consignment, submitter, signed_in):
    browser = signed_in(submitter)
    entries = RecordEntry.objects.filter(consignment=consignment).order_by("position")
    answer = browser.get(f"/consignments/{consignment.number}/record.csv")
    assert f'filename="record-{consignment.number}.csv"' in answer["Content-Disposition"]
    lines = list(csv.DictReader(StringIO(answer.content.decode("utf-8-sig"))))
    assert [line["Entry"] for line in lines] == [str(entry.position) for entry in entries]
    assert any(line["What"].startswith("entered the injection of") for line in lines)
    assert {line["Seal (SHA-256)"] for line in lines} == {entry.digest for entry in entries}
    book = load_workbook(BytesIO(browser.get(f"/consignments/{consignment.number}/record.xlsx").content))
    rows = list(book.active.iter_rows(min_row=2, values_only=True))
    assert [row[3] for row in rows] == [line["What"] for line in lines]
    assert all(cell.data_type != "f" for row in book.active.iter_rows() for cell in row)


def test_its_page_leads_to_it_and_strangers_do_not_get_it(consignment, submitter, stranger, signed_in):
    page = signed_in(submitter).get(f"/consignments/{consignment.number}/").content.decode()
    assert f"/consignments/{consignment.number}/record.xlsx" in page
    assert signed_in(stranger).get(f"/consignments/{consignment.number}/record.csv").status_code == 404


def test_the_details_are_whole_however_many(consignment, submitter, reception, manager, group, rulebook):
    many = consignment_of(
        measured(submitter, reception, manager, group, rulebook, *(sample(f"S{n}") for n in range(30)))
    )
    assert "more" not in record_csv(many).decode().split("entered the injection of")[1].split("\n")[0]


def test_the_json_says_what_the_database_holds(consignment, submitter, stranger, signed_in):
    address = f"/consignments/{consignment.number}/record.json"
    told = json.loads(signed_in(submitter).get(address).content)
    entries = list(RecordEntry.objects.filter(consignment=consignment).order_by("position"))
    assert [(one["verb"], one["before"], one["after"], one["digest"]) for one in told["record"]] == [
        (entry.verb, readable(entry.before), readable(entry.after), entry.digest) for entry in entries
    ]
    assert [one["number"] for one in told["bottles"]] == list(
        consignment.bottles.order_by("pk").values_list("number", flat=True)
    )
    assert [one["own_id"] for one in told["samples"]] == ["=1+1"]
    assert signed_in(stranger).get(address).status_code == 404
