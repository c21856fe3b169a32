"""Registering: who may, what is refused, what is kept, what is recorded."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from intake.actions.registering import amend_consignment, enter_samples, make_consignment
from intake.errors import AlreadyDone, EntryProblem, NotPermitted, SomebodyWasFaster
from intake.models import Bottle, ClockRow, Consignment, FindingRow, RecordEntry, Sample, SampleJudgement
from tests.factories import COLLECTED, ENTERED, anion_bottle, cation_bottle, draft, sample

pytestmark = pytest.mark.django_db


def enter(consignment, by, *entries, **changes):
    return enter_samples(
        consignment, entries, by=by, at=ENTERED, **{"version": consignment.version, **changes}
    )


def test_a_submitter_makes_a_draft_for_their_group(submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook)
    assert consignment.is_draft
    entry = RecordEntry.objects.get(consignment=consignment)
    assert (entry.verb, entry.actor, entry.at) == ("consignment.make", submitter, ENTERED)


def test_nobody_makes_one_for_a_group_they_do_not_belong_to(stranger, reception, group, rulebook):
    for person in (stranger, reception):
        with pytest.raises(NotPermitted):
            draft(person, group, rulebook)
    assert not Consignment.objects.exists()


@pytest.mark.parametrize(
    ("changes", "field"), [({"title": "  "}, "title"), ({"zone": "Mars/Olympus"}, "zone")]
)
def test_a_head_that_cannot_be_is_refused_at_its_field(submitter, group, rulebook, changes, field):
    with pytest.raises(EntryProblem) as refusal:
        draft(submitter, group, rulebook, **changes)
    assert field in refusal.value.problems
    assert not Consignment.objects.exists()


def test_the_same_form_sent_twice_makes_one_consignment(submitter, group, rulebook):
    def make():
        return make_consignment(
            by=submitter, at=ENTERED, group=group, title="T", rulebook=rulebook, zone="UTC", token="once"
        )

    first = make()
    with pytest.raises(AlreadyDone) as again:
        make()
    assert again.value.outcome == {"number": first.number}
    assert Consignment.objects.count() == 1


def test_entering_stores_samples_bottles_and_their_judgement(submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample("S1"), sample("S2"))
    assert list(consignment.samples.values_list("own_id", "position")) == [("S1", 1), ("S2", 2)]
    assert consignment.bottles.count() == 4
    assert SampleJudgement.objects.filter(sample__consignment=consignment).count() == 2
    nitrate = ClockRow.objects.filter(ion="nitrate", bottle__sample__own_id="S1").get()
    assert nitrate.due_at == COLLECTED + timedelta(hours=48)
    assert not nitrate.waiting


def test_bottles_keep_their_numbers_while_the_own_id_stays(submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample("S1"), sample("S2"))
    numbers = dict(Bottle.objects.values_list("sample__own_id", "number").filter(line="anion"))
    enter(consignment, submitter, sample("S2", ph=6.9), sample("S1"))
    assert dict(Bottle.objects.values_list("sample__own_id", "number").filter(line="anion")) == numbers
    assert list(consignment.samples.values_list("own_id", flat=True)) == ["S2", "S1"]


def test_two_samples_may_swap_their_ids_and_keep_their_bottles(submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample("A", site="north"), sample("B", site="south"))
    north = Bottle.objects.get(sample__site="north", line="anion").number
    enter(
        consignment,
        submitter,
        sample("B", site="north"),
        sample("A", site="south"),
        renamed={"B": "A", "A": "B"},
    )
    bottle = Bottle.objects.get(number=north)
    assert (bottle.sample.own_id, bottle.sample.site) == ("B", "north")


def test_what_is_no_longer_stated_goes_and_the_record_tells(submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample("S1"), sample("S2"))
    enter(consignment, submitter, sample("S1", ph=5.5, bottles=(anion_bottle(),)))
    assert consignment.bottles.count() == 1
    told = RecordEntry.objects.filter(verb="samples.enter").first()
    assert told.after["changed"]["S1"] == {"ph": 5.5}
    assert told.before["changed"]["S1"] == {"ph": 7.4}
    assert "S2" in told.before["removed"]


def test_entering_the_same_again_changes_and_records_nothing(submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample())
    entries = RecordEntry.objects.count()
    stated = Sample.objects.get().declared_at
    enter_samples(
        consignment,
        [sample()],
        by=submitter,
        at=ENTERED + timedelta(hours=1),
        version=consignment.version,
    )
    assert RecordEntry.objects.count() == entries
    assert Sample.objects.get().declared_at == stated


@pytest.mark.parametrize("ids", [("S1", "S1"), ("", "S2")])
def test_double_and_empty_ids_are_refused_and_nothing_is_half_saved(submitter, group, rulebook, ids):
    consignment = draft(submitter, group, rulebook, sample("before"))
    with pytest.raises(EntryProblem):
        enter(consignment, submitter, *(sample(own_id) for own_id in ids))
    assert list(consignment.samples.values_list("own_id", flat=True)) == ["before"]


def test_a_stale_page_is_refused_and_says_who_was_faster(submitter, manager, group, rulebook):
    consignment = draft(submitter, group, rulebook)
    enter(Consignment.objects.get(), manager, sample())
    with pytest.raises(SomebodyWasFaster, match="Mara Manager"):
        enter(consignment, submitter, sample("other"))
    assert Sample.objects.get().own_id == "S1"


def test_amending_judges_anew_and_records_what_changed(submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample(precision="date"))
    before = ClockRow.objects.get(ion="nitrate").reason
    amend_consignment(
        consignment,
        by=submitter,
        at=ENTERED,
        version=consignment.version,
        changes={"zone": "America/Halifax", "title": "Weir survey"},
    )
    assert ClockRow.objects.get(ion="nitrate").reason != before
    told = RecordEntry.objects.filter(verb="consignment.amend").get()
    assert (told.before, told.after) == ({"zone": "Europe/Berlin"}, {"zone": "America/Halifax"})


def test_findings_stand_at_the_bottle_and_fact_that_caused_them(submitter, group, rulebook):
    draft(
        submitter,
        group,
        rulebook,
        sample(
            bottles=(anion_bottle(filter_pore_um=None, filter_membrane="", filtered_at=None), cation_bottle())
        ),
    )
    row = FindingRow.objects.filter(bottle__line="anion", fact="filter_pore_um").get()
    assert row.sentence
    assert row.source
    assert row.remedies
    assert Bottle.objects.get(line="anion").weightiest == row.rank


def test_entering_asks_by_batches_not_by_samples(submitter, group, rulebook):
    counts = []
    for many in (2, 20):
        consignment = draft(submitter, group, rulebook)
        with CaptureQueriesContext(connection) as queries:
            enter(consignment, submitter, *(sample(f"S{n}") for n in range(many)))
        counts.append(len(queries))
    assert counts[1] - counts[0] < 10, counts


def test_a_rollback_leaves_no_trace(submitter, group, rulebook, monkeypatch):
    consignment = draft(submitter, group, rulebook)
    monkeypatch.setattr("intake.record.write", _fail)
    with pytest.raises(RuntimeError):
        enter(consignment, submitter, sample())
    assert not Sample.objects.exists()
    assert Consignment.objects.get().version == 0


def _fail(**values):
    raise RuntimeError("the disk is full")
