"""Putting faulty cells of an upload right on the page: the whole is checked again, nothing is saved."""

from datetime import timedelta
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from openpyxl import load_workbook

from intake.models import Sample, StagedSheet
from intake.sheets.columns import COLUMNS
from intake.sheets.grid import MOST_ROWS
from intake.sheets.write import consignment_workbook
from tests.factories import draft, opened, sample, sent
from tests.views.pages import address, hidden_of, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def client(signed_in, submitter):
    return signed_in(submitter)


@pytest.fixture
def consignment(submitter, group, rulebook):
    return draft(submitter, group, rulebook)


def upload(client, consignment, *wrong, count=4):
    """Upload ``count`` samples with ``wrong``: row, heading, value."""
    content = consignment_workbook(
        number=consignment.number,
        title=consignment.title,
        zone=consignment.zone,
        entries=[sample(f"S{n}") for n in range(1, count + 1)],
    )
    file = load_workbook(BytesIO(content))
    sheet = file["Samples"]
    places = {cell.value: cell.column for cell in sheet[3]}
    for row, heading, value in wrong:
        sheet.cell(row, places[heading]).value = value
    changed = BytesIO()
    file.save(changed)
    upload = SimpleUploadedFile("filled.xlsx", changed.getvalue())
    return client.post(address("sheet", consignment), {"sheet": upload})


def posted(page, changes=None):
    """What a browser posts of the rows shown, with ``changes`` by row number and column code."""
    rows = page.context["grid"].rows
    data = {column.code: [] for column in COLUMNS} | {"was": [row.was for row in rows]}
    for row in rows:
        for cell in row.cells:
            changed = (changes or {}).get((row.number, cell.heading.code), cell.value)
            data[cell.heading.code].append(changed)
    return data


def correct(client, consignment, page, changes):
    key = page.context["staged"].key
    return client.post(address("sheet_correct", consignment, key), posted(page, changes))


def test_only_rows_with_faults_are_shown_each_fault_at_its_cell(client, consignment):
    page = upload(client, consignment, (5, "Field pH", "seven"), (6, "Field EC", -5))
    assert page.status_code == 422
    assert [row.number for row in page.context["grid"].rows] == [5, 6]
    body = page.content.decode()
    assert 'id="w5-ph"' in body
    assert 'id="w6-ec"' in body
    assert 'value="seven"' in body


def test_corrected_cells_lead_to_confirming_and_only_that_saves(client, consignment):
    page = upload(client, consignment, (5, "Field pH", "seven"), (6, "Field EC", -5))
    answer = correct(client, consignment, page, {(5, "ph"): "7.1", (6, "ec"): "388"})
    assert answer.url == address("sheet_confirm", consignment, page.context["staged"].key)
    assert not Sample.objects.exists()
    shown = client.get(answer.url)
    hidden = {name: hidden_of(shown, name) for name in ("token", "version", "seen")}
    assert client.post(answer.url, hidden).status_code == 302
    values = {one.own_id: (one.ph, one.ec_value, one.site) for one in Sample.objects.all()}
    assert len(values) == 4
    assert (7.1, 420.0, "Lower weir") in values.values()
    assert (7.4, 388.0, "Lower weir") in values.values()


def test_what_is_right_stays_and_what_is_still_wrong_is_shown_again(client, consignment):
    page = upload(client, consignment, (5, "Field pH", "seven"), (6, "Field EC", -5))
    again = correct(client, consignment, page, {(5, "ph"): "7.1"})
    assert again.status_code == 422
    assert [row.number for row in again.context["grid"].rows] == [6]
    key = page.context["staged"].key
    assert client.get(address("sheet_confirm", consignment, key)).url == address(
        "sheet_correct", consignment, key
    )
    marked = client.get(address("sheet_marked", consignment, key))
    sheet = load_workbook(BytesIO(marked.content))["Samples"]
    places = {cell.value: cell.column for cell in sheet[3]}
    assert sheet.cell(5, places["Field pH"]).value == "7.1"
    assert "To correct:" in sheet.cell(6, places["Field EC"]).comment.text
    assert correct(client, consignment, again, {(6, "ec"): "388"}).status_code == 302


def test_a_correction_can_bring_a_new_fault_and_the_whole_is_checked(client, consignment):
    page = upload(client, consignment, (5, "Field pH", "seven"))
    again = correct(client, consignment, page, {(5, "ph"): "7.1", (5, "own_id"): "S4"})
    assert again.status_code == 422
    assert "both call their sample" in text_of(again)


def test_the_page_carries_no_more_rows_than_it_can(client, consignment):
    count = MOST_ROWS + 3
    page = upload(client, consignment, *((row, "Field pH", "x") for row in range(5, 5 + count)), count=count)
    assert len(page.context["grid"].rows) == MOST_ROWS
    assert f"The first {MOST_ROWS} of {count} rows" in text_of(page)
    rest = correct(client, consignment, page, {(row, "ph"): "7" for row in range(5, 5 + MOST_ROWS)})
    assert len(rest.context["grid"].rows) == 3


@pytest.mark.parametrize("damage", [{"was": []}, {"ph": []}, {"was": ["99999"], "ph": ["1"]}])
def test_a_damaged_page_corrects_nothing(client, consignment, damage):
    page = upload(client, consignment, (5, "Field pH", "seven"))
    url = address("sheet_correct", consignment, page.context["staged"].key)
    assert client.post(url, posted(page) | damage).status_code == 422
    assert StagedSheet.objects.get().corrections == {}


def test_nobody_else_corrects_an_upload(client, signed_in, manager, stranger, consignment):
    page = upload(client, consignment, (5, "Field pH", "seven"))
    for person, status in ((manager, 422), (stranger, 404)):
        assert correct(signed_in(person), consignment, page, {(5, "ph"): "7"}).status_code == status
    assert StagedSheet.objects.get().corrections == {}


def test_an_upload_that_is_not_kept_any_more_says_so(client, consignment):
    page = upload(client, consignment, (5, "Field pH", "seven"))
    StagedSheet.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    answer = correct(client, consignment, page, {(5, "ph"): "7"})
    assert answer.status_code == 422
    assert "not kept any more" in text_of(answer)


def test_nothing_is_corrected_once_bottles_arrived(client, submitter, reception, group, rulebook):
    consignment = sent(submitter, group, rulebook)
    page = upload(client, consignment, (5, "Field pH", "seven"))
    opened(reception, consignment)
    assert correct(client, consignment, page, {(5, "ph"): "7"}).status_code == 409
