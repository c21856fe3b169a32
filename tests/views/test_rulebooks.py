"""The pages of rulebooks and findings."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from intake.actions import rulebooks
from intake.actions.judging import rulebook_of
from intake.forms.rulebooks import RowForm, SettingsForm
from intake.models import RulebookVersion
from intake.rules.catalogue import ALL
from tests.actions.test_rulebooks import AT, shipped

pytestmark = pytest.mark.django_db


@pytest.fixture
def draft(manager, rulebook):
    return rulebooks.start_version(rulebook, by=manager, at=AT)


def posted(initial, **changes):
    """What a browser posts for ``initial`` values."""
    return {name: value for name, value in {**initial, **changes}.items() if value not in (None, "")}


def test_everybody_signed_in_reads_published_books_and_only_managers_drafts(
    draft, submitter, reception, manager, signed_in, client
):
    for person, answer in ((submitter, 404), (reception, 404), (manager, 200)):
        assert signed_in(person).get("/rulebooks/house/1/").status_code == 200
        assert signed_in(person).get("/rulebooks/house/2/").status_code == answer
        assert signed_in(person).get("/rulebooks/house/2/compare/").status_code == answer
    assert "House, version 2" not in signed_in(submitter).get("/rulebooks/").content.decode()
    assert client.get("/rulebooks/").status_code == 302


def test_every_row_of_every_shipped_book_shows_its_source_and_how_sure_it_is(manager, signed_in):
    rulebooks.take_rulebooks(shipped(), by=manager, at=AT)
    browser = signed_in(manager)
    for version in RulebookVersion.objects.all():
        page = browser.get(f"/rulebooks/{version.code}/{version.version}/").content.decode()
        for row in version.data["rows"]:
            assert f'id="row-{row["number"]}"' in page
            assert row["source"]["document"].replace("'", "&#x27;") in page
            assert row["confidence"] in page


@pytest.mark.parametrize(
    "address", ["start/", "settings/", "rows/1/", "rows/new/", "rows/1/remove/", "publish/"]
)
def test_making_versions_is_for_managers(draft, submitter, reception, manager, signed_in, address):
    assert signed_in(manager).get(f"/rulebooks/house/2/{address}").status_code == 200
    for person in (submitter, reception):
        assert signed_in(person).get(f"/rulebooks/house/2/{address}").status_code == 403


def test_every_shipped_row_passes_through_its_form_unchanged(manager, signed_in):
    rulebooks.take_rulebooks(shipped(), by=manager, at=AT)
    for version in RulebookVersion.objects.all():
        for row in rulebook_of(version).rows:
            form = RowForm(posted(RowForm.initial_of(row), reason="same"))
            assert form.is_valid(), form.errors
            data = {**version.data, "rows": [form.row(row.number)]}
            assert rulebooks.book_from_data(data).rows == (row,)


def test_a_row_is_changed_on_its_page(draft, manager, signed_in):
    nitrate = next(row for row in rulebook_of(draft).rows if row.ion == "nitrate")
    address = f"/rulebooks/house/2/rows/{nitrate.number}/"
    browser = signed_in(manager)
    wrong = browser.post(address, posted(RowForm.initial_of(nitrate), limit_value="-3", reason="slip"))
    assert wrong.status_code == 422
    assert "limit_value" in wrong.context["form"].errors
    right = browser.post(address, posted(RowForm.initial_of(nitrate), limit_value="36", reason="our study"))
    assert right.status_code == 302
    compared = browser.get("/rulebooks/house/2/compare/").content.decode()
    assert "36 h" in compared
    assert "48 h" in compared


def test_settings_are_changed_and_the_version_published(draft, manager, signed_in):
    browser = signed_in(manager)
    initial = SettingsForm.initial_of(rulebook_of(draft))
    answer = browser.post(
        "/rulebooks/house/2/settings/",
        posted(initial, acid_dose_ml="1", acid_ph_target="2", reason="stronger"),
    )
    assert answer.status_code == 302, answer.context["form"].errors
    assert (
        browser.post("/rulebooks/house/2/publish/", {"dated": "2026-04-01", "reason": ""}).status_code == 422
    )
    browser.post(
        "/rulebooks/house/2/publish/", {"dated": "2026-04-01", "reason": "stronger acid", "offered": "on"}
    )
    version = RulebookVersion.objects.get(code="house", version=2)
    assert version.offered
    assert rulebook_of(version).acid_ph_target == 2
    assert browser.post("/rulebooks/house/2/settings/", posted(initial, reason="again")).status_code == 409


@pytest.mark.parametrize("question", ["?with=", "?with=house", "?with=house+x", "?with=house+99999999999999"])
def test_a_comparison_with_nothing_leads_back(rulebook, manager, signed_in, question):
    assert signed_in(manager).get(f"/rulebooks/house/1/compare/{question}").status_code == 302


def test_a_comparison_with_an_unknown_book_is_not_found(rulebook, manager, signed_in):
    assert signed_in(manager).get("/rulebooks/house/1/compare/?with=atlantis+1").status_code == 404


def test_the_pages_ask_little(manager, signed_in):
    rulebooks.take_rulebooks(shipped(), by=manager, at=AT)
    browser = signed_in(manager)
    browser.get("/rulebooks/")
    for address in ("/rulebooks/", "/rulebooks/house/1/", "/rulebooks/house/1/compare/?with=uk-ecn+1"):
        browser.get(address)
        with CaptureQueriesContext(connection) as queries:
            assert browser.get(address).status_code == 200
        assert len(queries) <= 6, (address, len(queries))


def test_every_finding_has_a_page_open_to_everybody(client):
    listed = client.get("/findings/").content.decode()
    for entry in ALL:
        page = client.get(f"/findings/{entry.code}/")
        assert page.status_code == 200
        assert f"/findings/{entry.code}/" in listed
    assert client.get("/findings/no.such/").status_code == 404
