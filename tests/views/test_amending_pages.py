"""Changing a sent consignment by page and by sheet, and what reception sees of it."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from intake.actions.registering import enter_samples
from intake.models import Consignment, Sample
from intake.sheets.write import consignment_workbook
from tests.factories import ENTERED, draft, opened, sample, sent
from tests.views.pages import address, grid, hidden_of, text_of, typed

pytestmark = pytest.mark.django_db
CARRIED = ("token", "version", "seen")
WHY = "the meter had slipped"


@pytest.fixture
def consignment(submitter, group, rulebook):
    return sent(submitter, group, rulebook, sample("S1"), sample("S2"))


@pytest.fixture
def client(signed_in, submitter):
    return signed_in(submitter)


@pytest.fixture
def changed(consignment, submitter):
    """A sent consignment of which a sample was taken out afterwards."""
    return enter_samples(
        consignment, [sample("S1")], by=submitter, at=ENTERED, version=consignment.version, reason=WHY
    )


def hidden(page):
    return {name: hidden_of(page, name) for name in CARRIED}


def ids():
    return set(Sample.objects.values_list("own_id", flat=True))


def test_the_page_of_a_sent_consignment_leads_to_changing_it_not_to_sending(client, consignment):
    page = client.get(address("consignment", consignment)).content.decode()
    for name in ("samples", "sheet", "consignment_amend", "consignment_withdraw"):
        assert f'href="{address(name, consignment)}"' in page
    assert address("consignment_send", consignment) not in page


def test_samples_are_changed_on_the_page_with_a_reason(client, consignment):
    url = address("samples", consignment)
    page = client.get(url)
    assert "Why you change it" in text_of(page)
    without = client.post(url, grid([typed(own_id="S1", was="S1")], **hidden(page), reason=" "))
    assert without.status_code == 422
    assert "Say why you change it" in text_of(without)
    assert ids() == {"S1", "S2"}
    answer = client.post(url, grid([typed(own_id="S1", was="S1")], **hidden(without), reason=WHY))
    assert answer.status_code == 302
    assert ids() == {"S1"}
    assert consignment.record.order_by("-position").first().reason == WHY


def test_a_wrong_cell_and_a_missing_reason_are_told_together_and_the_reason_stays(client, consignment):
    url = address("samples", consignment)
    both = client.post(url, grid([typed(ph="seven")], **hidden(client.get(url))))
    assert "Say why you change it" in text_of(both)
    assert "“seven” is not a number" in text_of(both)
    kept = client.post(url, grid([typed(ph="seven")], **hidden(both), reason=WHY))
    assert kept.status_code == 422
    assert WHY in kept.content.decode()


def test_a_draft_asks_for_no_reason(client, submitter, group, rulebook):
    page = client.get(address("samples", draft(submitter, group, rulebook)))
    assert "Why you change it" not in text_of(page)


def test_a_stale_page_of_a_sent_consignment_is_refused_with_what_changed(client, consignment, manager):
    url = address("samples", consignment)
    page = client.get(url)
    enter_samples(
        consignment, [sample("S2")], by=manager, at=ENTERED, version=consignment.version, reason="S1 broke"
    )
    stale = client.post(url, grid([typed(own_id="S1", was="S1")], **hidden(page), reason=WHY))
    assert stale.status_code == 409
    assert "Mara Manager" in text_of(stale)
    assert "S1 broke" in text_of(stale)
    assert ids() == {"S2"}
    assert client.post(url, grid([typed()], **hidden(stale), reason=WHY)).status_code == 302


def test_the_head_is_changed_with_a_reason(client, consignment):
    url = address("consignment_amend", consignment)
    page = client.get(url)
    data = {"title": "Second try", "rulebook": consignment.rulebook_id, "zone": consignment.zone}
    assert client.post(url, data | hidden(page)).status_code == 422
    assert Consignment.objects.get().title == "Weir survey"
    assert client.post(url, data | hidden(page) | {"reason": WHY}).status_code == 302
    assert Consignment.objects.get().title == "Second try"


def test_a_sheet_changes_it_with_a_reason(client, consignment):
    content = consignment_workbook(
        number=consignment.number,
        title=consignment.title,
        zone=consignment.zone,
        entries=[sample("S1"), sample("S3")],
    )
    up = client.post(address("sheet", consignment), {"sheet": SimpleUploadedFile("filled.xlsx", content)})
    page = client.get(up.url)
    without = client.post(up.url, hidden(page))
    assert without.status_code == 422
    assert "Say why you change it" in text_of(without)
    assert ids() == {"S1", "S2"}
    assert client.post(up.url, hidden(page) | {"reason": WHY}).status_code == 302
    assert ids() == {"S1", "S3"}


def test_reception_sees_what_was_changed_after_sending(signed_in, reception, changed, group, submitter):
    untouched = sent(submitter, group, changed.rulebook, title="Quiet brook")
    bench = signed_in(reception)
    listed = text_of(bench.get(reverse("intake:reception")))
    assert listed.count("changed after sending:") == 1
    opening = bench.get(f"{reverse('intake:arrival_open')}?consignment={changed.number}")
    there = bench.get(reverse("intake:arrival", args=[opened(reception, changed).number]))
    for page in (opening, there):
        assert "Changed after it was sent: Weir survey" in text_of(page)
        assert f"Why: {WHY}" in text_of(page)
        assert "removed S2" in text_of(page)
    other = bench.get(f"{reverse('intake:arrival_open')}?consignment={untouched.number}")
    assert "Changed after it was sent" not in text_of(other)


def test_the_list_of_consignments_marks_what_was_changed_after_sending(client, changed):
    assert text_of(client.get(reverse("intake:consignments"))).count("changed after sending:") == 1
