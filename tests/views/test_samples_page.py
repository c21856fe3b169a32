"""The page of samples: what is typed is saved whole, or kept with every fault at its cell."""

from datetime import UTC, datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from intake.actions.registering import amend_consignment
from intake.actions.rulebooks import take_rulebooks
from intake.models import Bottle, Group, Membership, Sample, User
from intake.sheets.columns import COLUMNS
from intake.sheets.grid import MOST_ROWS
from intake.shipped import shipped_data
from tests.factories import RECEIVED, anion_bottle, cation_bottle, draft, opened, sample, sent
from tests.views.pages import address, grid, hidden_of, text_of, typed

pytestmark = pytest.mark.django_db


@pytest.fixture
def client(signed_in, submitter):
    return signed_in(submitter)


@pytest.fixture
def consignment(submitter, group, rulebook):
    return draft(submitter, group, rulebook)


def save(client, consignment, *rows, **hidden):
    consignment.refresh_from_db()
    return client.post(
        address("samples", consignment), grid(rows, **{"version": consignment.version, **hidden})
    )


def rows_of(client, consignment):
    """The rows that the page shows, as a person would post them back."""
    shown = client.get(address("samples", consignment)).context["grid"].rows
    return [{"was": row.was} | {cell.heading.code: cell.value for cell in row.cells} for row in shown]


def test_a_row_becomes_a_sample_with_both_bottles_judged(client, consignment):
    response = save(client, consignment, typed())
    assert response.status_code == 302
    stored = consignment.samples.get()
    assert (stored.own_id, stored.ph, stored.ec_reference) == ("Mill 1", 7.4, "25")
    # 09:00 in Berlin in winter (UTC+01:00).
    assert stored.collected_at == datetime(2026, 3, 3, 8, 0, tzinfo=UTC)
    assert {bottle.line for bottle in stored.bottles.all()} == {"anion", "cation"}
    assert stored.bottles.get(line="cation").acid_ml == 0.5
    assert stored.judgement.rulebook == consignment.rulebook
    assert stored.findings.exists()


def test_a_cell_that_concerns_both_bottles_is_remarked_once(client, submitter, group, rulebook):
    nothing = {"filter_pore_um": None, "filter_membrane": "", "filtered_at": None}
    bottles = (anion_bottle(**nothing), cation_bottle(**nothing))
    unfiltered = draft(submitter, group, rulebook, sample(bottles=bottles))
    page = text_of(client.get(address("samples", unfiltered)))
    assert page.count("Nobody stated whether the water was filtered") == 1


def test_empty_rows_are_no_samples(client, consignment):
    save(client, consignment, {}, typed(), {}, typed(own_id="Mill 2"), {})
    assert [sample.own_id for sample in consignment.samples.all()] == ["Mill 1", "Mill 2"]


def stored_rows():
    return [list(model.objects.order_by("pk").values()) for model in (Sample, Bottle)]


def test_saving_the_page_as_it_is_shown_changes_nothing(client, submitter, group, rulebook):
    day = datetime(2026, 3, 2, 23, 0, tzinfo=UTC)  # midnight in Berlin in winter
    dated = sample("S2", collected_at=day, precision="date", ph=None)
    consignment = draft(submitter, group, rulebook, sample(), dated)
    before = stored_rows()
    entries = consignment.record.count()
    assert save(client, consignment, *rows_of(client, consignment)).status_code == 302
    assert stored_rows() == before
    assert consignment.record.count() == entries


def test_a_finding_stands_at_the_cell_that_caused_it(client, submitter, group, rulebook):
    consignment = draft(
        submitter,
        group,
        rulebook,
        sample(
            "S1", ph=15.2, bottles=(anion_bottle(filter_pore_um=0.7), cation_bottle(acid_kind="sulfuric"))
        ),
    )
    row = client.get(address("samples", consignment)).context["grid"].rows[0]
    marked = {cell.heading.code: cell.heaviest.weight for cell in row.cells if cell.findings}
    assert marked["ph"] == "bar"
    assert marked["filter_pore"] == "caution"
    assert marked["cation_acid"] == "caution"
    assert "anion_acid" not in marked
    page = text_of(client.get(address("samples", consignment)))
    assert "No water has pH 15.2." in page
    assert "Source:" in page


# What cannot be taken


BAD_CELLS = [
    ("ph", "seven", "“seven” is not a number"),
    ("ec", "-5", "-5"),
    ("collected_date", "1926-03-03", "1926"),
    ("collected_date", "3/4/26", "did you mean"),
    ("collected_time", "25:00", "25:00"),
    ("anion_ions", "unobtainium", "No ion is called"),
    ("cation_volume", "a lot", "is not a number"),
    ("site", "x" * 201, "201 characters"),
    ("own_id", "", "Type your own name for the sample"),
]


@pytest.mark.parametrize(("column", "value", "words"), BAD_CELLS)
def test_a_bad_cell_is_explained_beside_it_and_nothing_is_saved(client, consignment, column, value, words):
    page = save(client, consignment, typed(own_id="Good"), typed(**{column: value}))
    assert page.status_code == 422
    assert not Sample.objects.exists()
    cells = {cell.heading.code: cell for cell in page.context["grid"].rows[1].cells}
    assert any(words in problem for problem in cells[column].problems)
    assert cells[column].value == value
    assert f'href="#r2-{column}"' in page.content.decode()
    assert f'aria-describedby="w2-{column}"' in page.content.decode()


def test_every_bad_cell_is_found_at_once(client, consignment):
    rows = [
        typed(own_id=f"M{place}", **{column: value})
        for place, (column, value, _) in enumerate(BAD_CELLS[:-1])
    ]
    page = save(client, consignment, *rows)
    assert len(page.context["grid"].problems) >= len(rows)


def test_two_samples_of_one_id_are_named(client, consignment):
    page = save(client, consignment, typed(), typed())
    assert page.status_code == 422
    assert "Rows 1 and 2 both call their sample “Mill 1”" in text_of(page)


def test_emoji_and_right_to_left_ids_are_kept(client, consignment):
    names = ["🌊 1", "نهر الأردن", "שלום", "Ñandú-ß"]
    save(client, consignment, *[typed(own_id=name) for name in names])
    assert [sample.own_id for sample in consignment.samples.all()] == names
    assert [row["own_id"] for row in rows_of(client, consignment)][:4] == names


def test_a_page_that_did_not_come_whole_saves_nothing(client, submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample())
    data = grid([typed(), typed(own_id="2")], version=consignment.version)
    data["ph"] = ["7"]
    for cut in (data, {"version": consignment.version}, {}):
        page = client.post(address("samples", consignment), cut)
        assert page.status_code == 422
        assert "did not reach us whole" in text_of(page)
    assert [sample.own_id for sample in consignment.samples.all()] == ["S1"]


def test_more_rows_than_the_page_takes_are_kept_and_explained(client, consignment):
    page = save(client, consignment, *[typed(own_id=f"M{n}") for n in range(MOST_ROWS + 1)])
    assert page.status_code == 422
    assert "Use the spreadsheet for more." in text_of(page)
    assert not Sample.objects.exists()
    assert len(page.context["grid"].rows) == MOST_ROWS + 1


def test_a_full_page_is_saved(client, consignment):
    assert save(client, consignment, *[typed(own_id=f"M{n}") for n in range(MOST_ROWS)]).status_code == 302
    assert consignment.samples.count() == MOST_ROWS


def test_longer_lists_go_by_spreadsheet(client, submitter, group, rulebook):
    consignment = draft(
        submitter, group, rulebook, *[sample(f"S{n}", bottles=()) for n in range(MOST_ROWS + 1)]
    )
    response = client.get(address("samples", consignment))
    assert response.url == address("sheet", consignment)


# Names, bottles and numbers


def numbers(consignment):
    return {
        (bottle.sample.own_id, bottle.line): bottle.number
        for bottle in consignment.bottles.select_related("sample")
    }


def test_a_renamed_sample_keeps_its_bottles(client, consignment):
    save(client, consignment, typed())
    before = numbers(consignment)
    save(client, consignment, typed(own_id="Weir 1", was="Mill 1"))
    after = numbers(consignment)
    assert after == {("Weir 1", line): number for (_, line), number in before.items()}


def test_two_samples_swap_their_names_and_keep_their_bottles(client, consignment):
    save(client, consignment, typed(own_id="A"), typed(own_id="B"))
    before = numbers(consignment)
    save(client, consignment, typed(own_id="B", was="A"), typed(own_id="A", was="B"))
    after = numbers(consignment)
    assert after["B", "anion"] == before["A", "anion"]
    assert after["A", "anion"] == before["B", "anion"]


@pytest.mark.parametrize("order", [1, -1])
def test_a_new_sample_under_a_name_given_up_gets_bottles_of_its_own(client, consignment, order):
    save(client, consignment, typed(own_id="A"))
    before = numbers(consignment)
    rows = [typed(own_id="B", was="A"), typed(own_id="A", was="")]
    save(client, consignment, *rows[::order])
    after = numbers(consignment)
    assert after["B", "anion"] == before["A", "anion"]
    assert after["A", "anion"] not in before.values()


def test_a_row_that_was_emptied_is_removed(client, consignment):
    save(client, consignment, typed(own_id="A"), typed(own_id="B"))
    save(client, consignment, {"was": "A"}, typed(own_id="B", was="B"))
    assert [sample.own_id for sample in consignment.samples.all()] == ["B"]


def test_a_former_name_that_never_was_is_ignored(client, consignment):
    save(client, consignment, typed(own_id="A"))
    before = numbers(consignment)
    save(client, consignment, typed(own_id="A", was="Nobody"))
    assert numbers(consignment) == before


# Twice, stale, back


def test_saving_twice_is_saved_once(client, consignment):
    consignment.refresh_from_db()
    data = grid([typed()], version=consignment.version, token="one")
    client.post(address("samples", consignment), data)
    again = client.post(address("samples", consignment), data, follow=True)
    assert "This was saved already" in text_of(again)
    assert consignment.record.filter(verb="samples.enter").count() == 1


def test_going_back_changing_and_saving_loses_nothing_silently(client, consignment):
    consignment.refresh_from_db()
    version = consignment.version
    client.post(address("samples", consignment), grid([typed()], version=version, token="one"))
    changed = grid([typed(ph="6.1")], version=version, token="one")
    page = client.post(address("samples", consignment), changed)
    assert page.status_code == 409
    assert 'value="6.1"' in page.content.decode()
    assert consignment.samples.get().ph == 7.4


def test_a_stale_page_keeps_what_was_typed_and_says_what_changed(client, manager, submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample())
    shown = client.get(address("samples", consignment))
    hidden = {name: hidden_of(shown, name) for name in ("token", "version", "seen")}
    rows = rows_of(client, consignment)
    amend_consignment(
        consignment, by=manager, at=RECEIVED, version=consignment.version, changes={"title": "Faster"}
    )
    rows[0]["site"] = "Other weir"
    page = client.post(address("samples", consignment), grid(rows, **hidden))
    assert page.status_code == 409
    assert "Mara Manager changed title" in text_of(page)
    assert "Other weir" in page.content.decode()
    assert consignment.samples.get().site == "Lower weir"
    hidden = {name: hidden_of(page, name) for name in ("token", "version", "seen")}
    assert client.post(address("samples", consignment), grid(rows, **hidden)).status_code == 302
    assert consignment.samples.get().site == "Other weir"


def test_correcting_a_cell_does_not_hide_that_the_page_is_stale(client, manager, submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample())
    version = consignment.version
    amend_consignment(consignment, by=manager, at=RECEIVED, version=version, changes={"title": "Faster"})
    wrong = client.post(address("samples", consignment), grid([typed(ph="seven")], version=version, seen=2))
    assert wrong.status_code == 422
    hidden = {name: hidden_of(wrong, name) for name in ("token", "version", "seen")}
    assert client.post(address("samples", consignment), grid([typed()], **hidden)).status_code == 409


@pytest.mark.parametrize("version", ["", "x", "-1", "99999999999999999999", "7"])
def test_a_version_that_cannot_be_saves_nothing(client, consignment, version):
    page = client.post(address("samples", consignment), grid([typed()], version=version))
    assert page.status_code == 409
    assert not Sample.objects.exists()


def test_what_has_arrived_cannot_be_entered_any_more(client, submitter, reception, group, rulebook):
    consignment = sent(submitter, group, rulebook)
    opened(reception, consignment)
    for answer in (client.get(address("samples", consignment)), save(client, consignment, typed())):
        assert answer.status_code == 409
        assert "Bottles of this consignment have arrived" in text_of(answer)


def test_a_lost_session_leads_to_sign_in_and_back(client, consignment):
    client.logout()
    response = save(client, consignment, typed())
    assert response.status_code == 302
    assert response.url.endswith(f"?next={address('samples', consignment)}")
    assert not Sample.objects.exists()


def test_saving_asks_the_database_in_batches(client, submitter, group, rulebook):
    counts = []
    for count in (2, 2, 20):
        consignment = draft(submitter, group, rulebook)
        with CaptureQueriesContext(connection) as caught:
            save(client, consignment, *[typed(own_id=f"M{n}") for n in range(count)])
        counts.append(len(caught))
    # SQLite takes so many values at a time; 20 samples with 40 bottles go in a few batches more.
    assert counts[2] - counts[1] < 10


# Whatever is typed

ANY_TEXT = st.text(alphabet=st.characters(exclude_categories=("Cs",)), max_size=30)
CELLS = st.one_of(
    ANY_TEXT,
    st.sampled_from(
        [
            "7.4",
            "-5",
            "seven",
            "1926-01-01",
            "2026-03-29 02:30",
            "at once",
            "yes",
            "0,45",
            "1e400",
            "=1+1",
            "|",
        ]
    ),
)
ROWS = st.lists(
    st.dictionaries(st.sampled_from([*[column.code for column in COLUMNS], "was"]), CELLS, max_size=12),
    min_size=1,
    max_size=4,
)


class WhateverIsTyped(TestCase):
    """Arbitrary text never answers with a fault of ours and never half saves."""

    @settings(max_examples=60, deadline=None)
    @given(rows=ROWS, hidden=st.dictionaries(st.sampled_from(["token", "version", "seen"]), ANY_TEXT))
    def test_the_page_takes_it_whole_or_not_at_all(self, rows, hidden):
        consignment = self.a_draft()
        self.client.force_login(consignment.created_by)
        before = list(consignment.samples.values_list("own_id", "site"))
        data = grid(rows, **{"version": str(consignment.version), **hidden})
        answer = self.client.post(address("samples", consignment), data)
        assert answer.status_code in (302, 409, 422)
        if answer.status_code != 302:
            assert list(consignment.samples.values_list("own_id", "site")) == before
        for stored in consignment.samples.all():
            assert stored.judgement.rulebook_id == consignment.rulebook_id

    def a_draft(self):
        person = User.objects.create_user("anna@lab.example", None, name="Anna")
        group = Group.objects.create(name="Reeds", zone="Europe/Berlin")
        Membership.objects.create(user=person, group=group)
        system = User.objects.system()
        (book,) = take_rulebooks([shipped_data("house")], by=system, at=RECEIVED)
        return draft(person, group, book, sample("S1"), sample("S2"))
