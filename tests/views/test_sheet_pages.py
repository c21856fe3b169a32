"""Samples by spreadsheet: nothing is saved until every cell is right and the person said yes."""

from datetime import timedelta
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from openpyxl import Workbook, load_workbook

from intake.models import Sample, StagedSheet
from intake.sheets.write import consignment_workbook
from tests.factories import draft, opened, sample, sent
from tests.sheets.test_hostile import CORPUS
from tests.views.pages import address, hidden_of, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def client(signed_in, submitter):
    return signed_in(submitter)


@pytest.fixture
def consignment(submitter, group, rulebook):
    return draft(submitter, group, rulebook, sample("S1"), sample("S2"))


def workbook(consignment, *entries):
    return consignment_workbook(
        number=consignment.number, title=consignment.title, zone=consignment.zone, entries=entries
    )


def upload(client, consignment, content, name="filled.xlsx", **more):
    return client.post(address("sheet", consignment), {"sheet": SimpleUploadedFile(name, content)}, **more)


def confirm(client, page_url):
    page = client.get(page_url)
    hidden = {name: hidden_of(page, name) for name in ("token", "version", "seen")}
    return page, client.post(page_url, hidden), hidden


def ids(consignment):
    return list(consignment.samples.values_list("own_id", flat=True))


def test_the_workbook_holds_what_is_entered_and_changes_nothing_when_it_comes_back(client, consignment):
    file = client.get(address("sheet_file", consignment))
    assert file["Content-Disposition"] == f'attachment; filename="{consignment.number}.xlsx"'
    shown = client.get(upload(client, consignment, file.content).url)
    assert "The sheet changes nothing" in text_of(shown)
    assert "Save these samples" not in text_of(shown)


def test_a_right_sheet_shows_its_changes_and_waits_for_a_yes(client, consignment):
    content = workbook(consignment, sample("S1", site="Upper weir"), sample("S3"))
    response = upload(client, consignment, content)
    assert response.status_code == 302
    assert ids(consignment) == ["S1", "S2"]
    page, saved, _ = confirm(client, response.url)
    assert "1 added 1 changed 1 removed 0 as they are" in text_of(page)
    assert "S1 Site Lower weir Upper weir" in text_of(page)
    assert saved.url == address("samples", consignment)
    assert ids(consignment) == ["S1", "S3"]
    assert consignment.samples.get(own_id="S1").site == "Upper weir"


def test_saying_yes_twice_saves_once(client, consignment):
    url = upload(client, consignment, workbook(consignment, sample("S9"))).url
    _, _, hidden = confirm(client, url)
    again = client.post(url, hidden, follow=True)
    assert "This was saved already" in text_of(again)
    assert consignment.record.filter(verb="samples.enter").count() == 2


def test_the_same_sheet_again_changes_nothing(client, consignment):
    content = workbook(consignment, sample("S9"))
    confirm(client, upload(client, consignment, content).url)
    shown = client.get(upload(client, consignment, content).url)
    assert "The sheet changes nothing" in text_of(shown)


def test_an_older_sheet_shows_what_it_would_take_back(client, consignment):
    """Downloaded with S1 and S2; then S2 got another pH and S3 was added. The old sheet undoes both."""
    old = client.get(address("sheet_file", consignment)).content
    newer = workbook(consignment, sample("S1"), sample("S2", ph=6.6), sample("S3"))
    confirm(client, upload(client, consignment, newer).url)
    assert ids(consignment) == ["S1", "S2", "S3"]
    shown = text_of(client.get(upload(client, consignment, old).url))
    assert "S3" in shown
    assert "6.6" in shown
    assert ids(consignment) == ["S1", "S2", "S3"]
    assert consignment.samples.get(own_id="S2").ph == 6.6


def test_every_wrong_cell_is_shown_at_once_and_nothing_is_saved(client, consignment):
    file = load_workbook(BytesIO(workbook(consignment, *[sample(f"S{n}") for n in range(1, 7)])))
    sheet = file["Samples"]
    places = {cell.value: cell.column for cell in sheet[3]}
    bad = {"Field pH": "seven", "Field EC": -5, "Collected, date": "1926-03-03"}
    for row, (heading, value) in enumerate(bad.items(), start=5):
        sheet.cell(row, places[heading]).value = value
    sheet.cell(8, places["Own sample id"]).value = "S1"
    sheet.cell(9, places["Field pH"]).value = "=7+0.4"
    changed = BytesIO()
    file.save(changed)
    page = upload(client, consignment, changed.getvalue())
    assert page.status_code == 422
    assert ids(consignment) == ["S1", "S2"]
    faults = {(fault.row, fault.column) for fault in page.context["faults"]}
    assert {(5, "ph"), (6, "ec"), (7, "collected_date"), (8, "own_id"), (9, "ph")} <= faults
    assert "“seven” is not a number" in text_of(page)
    marked = client.get(address("sheet_marked", consignment, page.context["staged"].key))
    assert (
        "To correct:"
        in load_workbook(BytesIO(marked.content))["Samples"].cell(5, places["Field pH"]).comment.text
    )


def test_a_sheet_of_another_consignment_is_refused(client, submitter, group, rulebook, consignment):
    other = draft(submitter, group, rulebook)
    page = upload(client, consignment, workbook(other, sample("S9")))
    assert page.status_code == 422
    assert "This workbook was made for consignment" in text_of(page)


def old_binary():
    return b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 5000


def merged():
    book = Workbook()
    book.active.append(["Own sample id", "Site", "Field pH"])
    book.active.append(["A", "B", 7])
    book.active.merge_cells("A1:B1")
    content = BytesIO()
    book.save(content)
    return content.getvalue()


def without_headings():
    book = Workbook()
    book.active.append([1, 2, 3])
    content = BytesIO()
    book.save(content)
    return content.getvalue()


def long_cell():
    return CORPUS["10 MB cell"][0]


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("photo.png", b"\x89PNG\r\n\x1a\n" + b"\0" * 100),
        ("table.csv", b"a,b\n1,2\n"),
        ("renamed.xlsx", old_binary()),
        ("old.xls", old_binary()),
        ("10 MB cell.xlsx", long_cell()),
        ("merged.xlsx", merged()),
        ("no headings.xlsx", without_headings()),
        ("cut.xlsx", without_headings()[:900]),
        ("huge.xlsx", b"PK\x03\x04" + b"\0" * (5 * 1024 * 1024)),
        ("نهر 🌊.xlsx", b"not a workbook"),
        ("x" * 250 + ".xlsx", b"x"),
    ],
)
def test_files_that_are_no_sheet_get_a_plain_sentence(client, consignment, name, content):
    page = upload(client, consignment, content, name)
    assert page.status_code == 422
    assert page.context["form"].errors["sheet"]
    assert ids(consignment) == ["S1", "S2"]
    assert not StagedSheet.objects.exists()


@pytest.mark.parametrize("data", [{}, {"sheet": "text"}, {"sheet": SimpleUploadedFile("empty.xlsx", b"")}])
def test_no_file_is_said_so(client, consignment, data):
    page = client.post(address("sheet", consignment), data)
    assert page.status_code == 422
    assert page.context["form"].errors["sheet"]


def test_a_sheet_without_samples_removes_nothing(client, consignment):
    page = upload(client, consignment, workbook(consignment))
    assert page.status_code == 422
    assert "There is no sample in this workbook." in text_of(page)


def test_an_upload_belongs_to_the_person_and_the_consignment(
    client, signed_in, manager, submitter, group, rulebook, consignment
):
    url = upload(client, consignment, workbook(consignment, sample("S9"))).url
    key = StagedSheet.objects.get().key
    assert signed_in(manager).get(url).status_code == 422
    other = draft(submitter, group, rulebook)
    assert client.get(address("sheet_confirm", other, key)).status_code == 422
    assert client.get(address("sheet_confirm", consignment, "guessed")).status_code == 422


def test_an_upload_is_not_kept_for_long(client, consignment):
    url = upload(client, consignment, workbook(consignment, sample("S9"))).url
    StagedSheet.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    page = client.post(url, {"token": "t", "version": str(consignment.version)})
    assert page.status_code == 422
    assert "is not kept any more" in text_of(page)
    assert ids(consignment) == ["S1", "S2"]
    upload(client, consignment, workbook(consignment, sample("S8")))
    assert StagedSheet.objects.count() == 1


def test_a_change_made_meanwhile_is_shown_before_anything_is_saved(client, signed_in, manager, consignment):
    url = upload(client, consignment, workbook(consignment, sample("S9"))).url
    page = client.get(url)
    hidden = {name: hidden_of(page, name) for name in ("token", "version", "seen")}
    theirs = signed_in(manager)
    confirm(theirs, upload(theirs, consignment, workbook(consignment, sample("S5"))).url)
    stale = client.post(url, hidden)
    assert stale.status_code == 409
    assert "Mara Manager entered samples" in text_of(stale)
    assert "S5" in text_of(stale)
    assert ids(consignment) == ["S5"]
    hidden = {name: hidden_of(stale, name) for name in ("token", "version", "seen")}
    client.post(url, hidden)
    assert ids(consignment) == ["S9"]


def test_samples_keep_their_bottle_numbers(client, consignment):
    before = set(consignment.bottles.values_list("number", flat=True))
    content = workbook(consignment, sample("S1", ph=6.1), sample("S2", ph=6.2))
    confirm(client, upload(client, consignment, content).url)
    assert set(consignment.bottles.values_list("number", flat=True)) == before
    assert set(Sample.objects.values_list("ph", flat=True)) == {6.1, 6.2}


def test_a_consignment_that_arrived_takes_no_sheet(client, submitter, reception, group, rulebook):
    consignment = sent(submitter, group, rulebook)
    opened(reception, consignment)
    for page in (client.get(address("sheet", consignment)), upload(client, consignment, b"x")):
        assert page.status_code == 409


def test_pages_ask_the_database_as_often_for_2_as_for_20(client, submitter, group, rulebook):
    counts = []
    for count in (2, 20):
        consignment = draft(submitter, group, rulebook, *[sample(f"S{n}") for n in range(count)])
        url = upload(client, consignment, workbook(consignment, sample("S0", ph=6))).url
        for page in (url, address("sheet", consignment), address("sheet_file", consignment)):
            with CaptureQueriesContext(connection) as caught:
                client.get(page)
            counts.append(len(caught))
    assert counts[:3] == counts[3:]
