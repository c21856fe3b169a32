"""Pages that ask why readings that look wrong are right, and pages that show what was said."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from intake.models import Sample
from intake.sheets.write import consignment_workbook
from tests.factories import RECEIVED, draft, opened, sample, sent
from tests.views.pages import address, carried_by, grid, hidden_of, queries_of, text_of, typed
from tests.views.scanner import Scanner

pytestmark = pytest.mark.django_db
WHY = "read twice, “new” electrode"
ASKED = "Why these readings are right"


@pytest.fixture
def client(signed_in, submitter):
    return signed_in(submitter)


@pytest.fixture
def confirmed(submitter, group, rulebook):
    """Sent with a pH that no water has, and the group's word that it is right."""
    return sent(submitter, group, rulebook, sample("S1", ph=74), sample("S2"), reason=WHY)


def carried(page):
    return carried_by(page) | {"told": hidden_of(page, "told")}


def test_the_page_names_each_cause_once_leads_to_the_cells_and_asks(client, submitter, group, rulebook):
    odd = [sample(f"S{number}", ph=70 + number) for number in range(1, 7)]
    consignment = draft(submitter, group, rulebook, sample("good"), *odd)
    page = client.get(address("consignment_send", consignment))
    said = text_of(page)
    assert said.count("A pH that no water has") == 1
    assert "S1 , Field pH : No water has pH 71. Did you mean 7.1?" in said
    assert f'href="{address("samples", consignment)}#r2-ph"' in page.content.decode()
    assert 'id="r2-ph"' in client.get(address("samples", consignment)).content.decode()
    assert "and alike in 2 more samples" in said
    assert ASKED in said


def test_without_a_reason_it_is_not_sent_and_what_was_typed_stays(client, submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample("S1", ph=74))
    url = address("consignment_send", consignment)
    page = client.get(url)
    refused = client.post(url, carried_by(page) | {"reason": "  "})
    assert refused.status_code == 422
    assert "Correct the readings, or say why they are right." in text_of(refused)
    assert 'href="#id_reason"' in refused.content.decode()
    long = client.post(url, carried_by(refused) | {"reason": "read twice " * 100})
    assert long.status_code == 422
    assert "read twice read twice" in long.content.decode()
    consignment.refresh_from_db()
    assert consignment.is_draft
    assert client.post(url, carried_by(long) | {"reason": WHY}).status_code == 302
    assert consignment.record.get(verb="consignment.send").reason == WHY


def test_nothing_is_asked_where_nothing_looks_wrong(client, submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample())
    assert ASKED not in text_of(client.get(address("consignment_send", consignment)))


def test_the_pages_of_many_doubted_samples_ask_the_database_no_more(client, submitter, group, rulebook):
    few, many = (
        draft(submitter, group, rulebook, *[sample(f"S{n}", ph=74) for n in range(count)])
        for count in (2, 12)
    )
    for name in ("consignment_send", "consignment"):
        assert queries_of(client, address(name, few)) == queries_of(client, address(name, many))


def test_the_laboratory_reads_the_reason_where_it_reads_the_finding(
    signed_in, reception, manager, confirmed, monkeypatch
):
    monkeypatch.setattr(timezone, "now", lambda: RECEIVED)
    said = f"The group says these readings are right: {WHY}"
    page = text_of(signed_in(manager).get(address("consignment", confirmed)))
    assert page.count(said) == 1
    assert f"Why: {WHY}" in page
    arrival = opened(reception, confirmed)
    odd, good = (confirmed.bottles.filter(sample__own_id=name, line="anion").get() for name in ("S1", "S2"))
    client = signed_in(reception)
    for bottle, shown in ((odd, True), (good, False)):
        assert (said in text_of(client.get(reverse("intake:bottle", args=[bottle.number])))) is shown
    scan = Scanner(client, arrival)
    assert WHY in scan(odd.number)["panel"]
    assert WHY not in scan(good.number)["panel"]


# Changing what was sent


def test_the_page_of_samples_tells_what_looks_wrong_before_it_takes_the_reason_for_it(
    client, submitter, group, rulebook
):
    consignment = sent(submitter, group, rulebook, sample("S1"))
    url = address("samples", consignment)
    rows = [typed(own_id="S1", was="S1", ph="74")]
    told = client.post(url, grid(rows, **carried(client.get(url)), reason="wrong line copied"))
    assert told.status_code == 422
    assert "S1: No water has pH 74." in text_of(told)
    assert "say in the reason why they are right" in text_of(told)
    assert "wrong line copied" in told.content.decode()
    assert Sample.objects.get().ph == 7.4
    assert client.post(url, grid(rows, **carried(told), reason=WHY)).status_code == 302
    assert Sample.objects.get().ph == 74
    assert Sample.objects.get().confirmed == {"readings.ph_impossible": WHY}


def test_an_uploaded_sheet_tells_it_before_it_is_saved(client, submitter, group, rulebook):
    consignment = sent(submitter, group, rulebook, sample("S1"))
    content = consignment_workbook(
        number=consignment.number,
        title=consignment.title,
        zone=consignment.zone,
        entries=[sample("S1", ph=74)],
    )
    url = client.post(
        address("sheet", consignment), {"sheet": SimpleUploadedFile("filled.xlsx", content)}
    ).url
    page = client.get(url)
    assert "A pH that no water has" in text_of(page)
    unknowing = client.post(url, carried_by(page) | {"reason": WHY})
    assert unknowing.status_code == 422
    assert Sample.objects.get().ph == 7.4
    assert client.post(url, carried(unknowing) | {"reason": WHY}).status_code == 302
    assert Sample.objects.get().confirmed == {"readings.ph_impossible": WHY}
