"""Rulebooks: taken in once, changed only by the next version, compared."""

from datetime import UTC, date, datetime

import pytest

from intake.actions import comparing, rulebooks
from intake.actions.checking import check_bottle
from intake.actions.judging import rulebook_of
from intake.errors import EntryProblem, MoveNotAllowed, NotPermitted, SomebodyWasFaster
from intake.models import RecordEntry, RulebookVersion
from intake.rules.comparing import Change, compare_rows
from intake.shipped import shipped_codes, shipped_data
from tests.factories import RECEIVED, anion_bottle, opened, sample, sent

pytestmark = pytest.mark.django_db
AT = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)


def shipped():
    return [shipped_data(code) for code in shipped_codes()]


def row_of(version, ion):
    return next(dict(row) for row in version.data["rows"] if row["ion"] == ion)


def change_nitrate(draft, by, hours):
    row = row_of(draft, "nitrate") | {"limit": {"value": hours, "unit": "hours"}}
    return rulebooks.change_row(draft, row, by=by, at=AT, reason="Our own stability study.")


def test_all_shipped_books_are_taken_once_and_house_is_the_default(manager):
    new = rulebooks.take_rulebooks(shipped(), by=manager, at=AT)
    assert len(new) == len(shipped())
    assert RulebookVersion.objects.get(default=True).code == "house"
    assert not rulebooks.take_rulebooks(shipped(), by=manager, at=AT)
    empty = [version for version in new if not version.data["rows"]]
    assert empty
    assert not any(version.offered for version in empty)


def test_a_stored_version_with_other_rows_is_refused(manager, rulebook):
    with pytest.raises(EntryProblem, match="never changed"):
        rulebooks.take_rulebooks([{**rulebook.data, "gross_factor": 3}], by=manager, at=AT)


def test_only_managers_make_versions(reception, submitter, rulebook):
    for person in (reception, submitter):
        with pytest.raises(NotPermitted):
            rulebooks.start_version(rulebook, by=person, at=AT)


def test_a_version_is_made_row_by_row_and_then_never_changes(manager, rulebook):
    draft = rulebooks.start_version(rulebook, by=manager, at=AT)
    assert (draft.version, draft.offered) == (rulebook.version + 1, False)
    draft = change_nitrate(draft, manager, 36)
    published = rulebooks.publish_version(
        draft, by=manager, at=AT, dated=date(2026, 4, 1), reason="Stability study of spring."
    )
    assert published.offered
    assert published.data["dated"] == "2026-04-01"
    differing = [row for row in compare_rows(rulebook_of(rulebook), rulebook_of(published)) if row.fields]
    assert [(row.new.ion, row.change, row.fields) for row in differing] == [
        ("nitrate", Change.CHANGED, ("limit",))
    ]
    for attempt in (
        lambda: change_nitrate(published, manager, 24),
        lambda: rulebooks.remove_row(published, 1, by=manager, at=AT, reason="x"),
        lambda: rulebooks.change_settings(published, {"gross_factor": 3}, by=manager, at=AT, reason="x"),
        lambda: rulebooks.discard_draft(published, by=manager, at=AT),
        lambda: rulebooks.publish_version(published, by=manager, at=AT, dated=date(2026, 4, 2), reason="x"),
    ):
        with pytest.raises(MoveNotAllowed):
            attempt()
    told = RecordEntry.objects.filter(verb="rulebook.change").get()
    assert told.after["row"]["limit"] == {"value": 36, "unit": "hours"}
    assert told.reason == "Our own stability study."


def test_every_change_needs_a_reason_and_one_draft_at_a_time(manager, rulebook):
    draft = rulebooks.start_version(rulebook, by=manager, at=AT)
    with pytest.raises(EntryProblem):
        rulebooks.remove_row(draft, 1, by=manager, at=AT, reason="  ")
    with pytest.raises(MoveNotAllowed, match="being worked on"):
        rulebooks.start_version(rulebook, by=manager, at=AT)
    rulebooks.discard_draft(draft, by=manager, at=AT)
    rulebooks.start_version(rulebook, by=manager, at=AT)


def test_a_book_of_ones_own_starts_from_any_version(manager, rulebook):
    draft = rulebooks.start_version(rulebook, by=manager, at=AT, code="upland", title="Upland streams")
    assert (draft.code, draft.version, draft.title) == ("upland", 1, "Upland streams")
    with pytest.raises(EntryProblem):
        rulebooks.start_version(rulebook, by=manager, at=AT, code="upland")


def test_a_row_that_cannot_be_is_refused_at_its_field_and_nothing_changes(manager, rulebook):
    draft = rulebooks.start_version(rulebook, by=manager, at=AT)
    row = row_of(draft, "nitrate") | {"limit": {"value": -3, "unit": "hours"}}
    with pytest.raises(EntryProblem) as refusal:
        rulebooks.change_row(draft, row, by=manager, at=AT, reason="slip")
    assert "value" in refusal.value.problems
    draft.refresh_from_db()
    assert draft.data["rows"] == rulebook.data["rows"]


def test_a_draft_somebody_else_changed_is_not_overwritten(manager, rulebook):
    mine = rulebooks.start_version(rulebook, by=manager, at=AT)
    theirs = RulebookVersion.objects.get(pk=mine.pk)
    change_nitrate(theirs, manager, 36)
    with pytest.raises(SomebodyWasFaster):
        change_nitrate(mine, manager, 24)


def test_the_clocks_of_waiting_bottles_that_would_move_are_named(
    manager, reception, submitter, group, rulebook
):
    consignment = sent(
        submitter, group, rulebook, sample(bottles=(anion_bottle(ions=("nitrate", "chloride")),))
    )
    arrival = opened(reception, consignment)
    (bottle,) = consignment.bottles.all()
    check_bottle(bottle, arrival, by=reception, at=RECEIVED, seen={"cold": True}, in_order=True)
    draft = change_nitrate(rulebooks.start_version(rulebook, by=manager, at=AT), manager, 36)
    (moved,) = comparing.moved_clocks(rulebook, draft, seen_by=manager)
    assert (moved.bottle, moved.ion) == (bottle, "nitrate")
    assert (moved.old_due_at - moved.new_due_at).total_seconds() == 12 * 3600


def test_default_and_offering(manager, rulebook):
    with pytest.raises(MoveNotAllowed, match="default"):
        rulebooks.offer_version(rulebook, by=manager, at=AT, offered=False)
    draft = rulebooks.start_version(rulebook, by=manager, at=AT)
    with pytest.raises(MoveNotAllowed, match="draft"):
        rulebooks.make_default(draft, by=manager, at=AT)
    second = rulebooks.publish_version(draft, by=manager, at=AT, dated=date(2026, 4, 1), reason="next")
    rulebooks.make_default(second, by=manager, at=AT)
    rulebook.refresh_from_db()
    assert not rulebook.default
    rulebooks.offer_version(rulebook, by=manager, at=AT, offered=False)
    assert RulebookVersion.objects.get(default=True) == second
