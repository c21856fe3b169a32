"""The consignment page says each cause once, however many samples share it."""

from __future__ import annotations

import pytest

from intake.alike import MOST_NAMED, MOST_SENTENCES, Alike, findings_of, named
from intake.models import FindingRow
from tests.factories import anion_bottle, cation_bottle, draft, sample
from tests.views.pages import address, text_of

pytestmark = pytest.mark.django_db


def unfiltered(name, pore=0.0):
    return sample(name, bottles=(anion_bottle(filter_pore_um=pore), cation_bottle(filter_pore_um=pore)))


@pytest.fixture
def twelve(submitter, group, rulebook):
    return draft(submitter, group, rulebook, *[unfiltered(f"S{n}") for n in range(1, 13)])


def test_a_cause_of_many_samples_is_said_once_with_their_names(signed_in, submitter, twelve):
    page = text_of(signed_in(submitter).get(address("consignment", twelve)))
    rows = FindingRow.objects.filter(sample__consignment=twelve, code="filter.none")
    assert len({row.sentence for row in rows}) == 1
    assert rows.count() > 12
    assert page.count(rows[0].sentence) == 1
    assert "12 samples: S1, S2, S3, S4, S5, S6, S7, S8 and 4 more" in page


def test_every_sample_points_at_what_is_pressing(signed_in, submitter, twelve):
    html = signed_in(submitter).get(address("consignment", twelve)).content.decode()
    assert html.count('href="#finding-caution-filter-none"') == 24
    assert html.count('id="finding-caution-filter-none"') == 1


def test_notes_are_folded_away_and_stand_at_no_sample(signed_in, submitter, group, rulebook):
    plain = anion_bottle(container="")
    consignment = draft(submitter, group, rulebook, *[sample(f"S{n}", bottles=(plain,)) for n in (1, 2, 3)])
    found = findings_of(consignment)
    (note,) = [alike for alike in found.notes if alike.row.code.startswith("container")]
    assert note.samples == ["S1", "S2", "S3"]
    assert note not in found.pressing
    page = text_of(signed_in(submitter).get(address("consignment", consignment)))
    sentence = next(iter(note.sentences))
    assert page.count(sentence) == 1
    assert page.index("1 note") < page.index(sentence)


def test_sentences_that_differ_are_told_up_to_a_few(submitter, group, rulebook):
    """Pores of 0.7, 0.8 ... 1.2 µm are one cause with six sentences; the last two are only counted."""
    pores = [0.7, 0.8, 0.9, 1.0, 1.1, 1.2]
    consignment = draft(
        submitter, group, rulebook, *[unfiltered(f"S{n}", pore) for n, pore in enumerate(pores, 1)]
    )
    (alike,) = [one for one in findings_of(consignment).pressing if one.row.code == "filter.coarse"]
    assert alike.count == 6
    assert len(alike.told()) == MOST_SENTENCES
    assert alike.told()[0][1] == "Sample S1"
    assert alike.untold == 2


def test_all_findings_are_there_whatever_page_of_samples_is_shown(submitter, group, rulebook, signed_in):
    consignment = draft(submitter, group, rulebook, *[sample(f"S{n}") for n in range(30)], unfiltered("S30"))
    page = text_of(signed_in(submitter).get(address("consignment", consignment)))
    assert "Sample S30" in page


def test_names_beyond_a_few_are_counted():
    assert named(["A"]) == "Sample A"
    assert named(["A", "B"]) == "2 samples: A, B"
    many = [f"S{n}" for n in range(MOST_NAMED + 5)]
    assert named(many).endswith("and 5 more")


def test_a_rule_that_is_gone_from_the_catalogue_is_told_by_its_code():
    assert Alike(FindingRow(code="filter.moon", weight="caution")).title == "filter.moon"
