"""Issuing and correcting: permission, what was seen, once only, unchangeable, told."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core import mail
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction

from intake.actions.closing import issue_statement, latest_statement
from intake.actions.injecting import void_injection
from intake.errors import AlreadyDone, EntryProblem, MoveNotAllowed, NotPermitted, SomebodyWasFaster
from intake.models import RecordEntry, Statement
from intake.sealing import digest_of, is_sound
from intake.stating import statement_content
from intake.telling import tell
from tests.bench.bench import received
from tests.conftest import record_unguarded
from tests.factories import anion_bottle, draft, sample
from tests.statement.closed import NOW, consignment_of, issued, measured

pytestmark = pytest.mark.django_db


@pytest.fixture
def bottles(submitter, reception, manager, group, rulebook):
    return measured(submitter, reception, manager, group, rulebook, sample("one"))


@pytest.fixture
def consignment(bottles):
    return consignment_of(bottles)


def test_a_statement_is_numbered_sealed_recorded_and_mailed(
    consignment, manager, submitter, django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        statement = issued(consignment, manager)
    assert statement.number == f"{consignment.number}-1"
    assert is_sound(Statement.objects.get(pk=statement.pk))
    entry = RecordEntry.objects.get(verb="statement.issue")
    assert entry.after["digest"] == statement.digest
    assert tell(entry, "UTC").sentence == f"issued statement {statement.number}"
    (letter,) = (each for each in mail.outbox if each.subject.startswith("Statement"))
    assert letter.to == [submitter.email]
    assert f"/statements/{statement.number}/" in letter.body
    assert "12 kept" in letter.body


@pytest.mark.parametrize("who", ["submitter", "reception", "stranger"])
def test_only_the_manager_issues(consignment, request, who):
    with pytest.raises(NotPermitted):
        issued(consignment, request.getfixturevalue(who))
    assert not Statement.objects.exists()


def test_a_token_takes_effect_once(consignment, manager):
    issued(consignment, manager, token="once")
    with pytest.raises(AlreadyDone):
        issued(consignment, manager, token="once", reason="again")
    assert Statement.objects.count() == 1


def test_what_changed_after_it_was_read_is_not_issued(consignment, bottles, manager):
    seen = digest_of(statement_content(consignment))
    void_injection(bottles[0].injections.get(), by=manager, at=NOW, reason="wrong tray")
    with pytest.raises(SomebodyWasFaster):
        issue_statement(consignment, by=manager, at=NOW, seen=seen)
    assert not Statement.objects.exists()


def test_a_correction_makes_the_next_number_and_says_what_it_replaces_and_why(consignment, bottles, manager):
    first = issued(consignment, manager)
    with pytest.raises(MoveNotAllowed, match="says all this already"):
        issued(consignment, manager, reason="no change")
    void_injection(bottles[0].injections.get(), by=manager, at=NOW, reason="wrong tray")
    with pytest.raises(EntryProblem) as without:
        issued(consignment, manager, early=True)
    assert "reason" in without.value.problems
    second = issued(consignment, manager, early=True, reason="The anion tray was another one.")
    assert second.number == f"{consignment.number}-2"
    assert second.replaces == first
    assert latest_statement(consignment) == second
    first.refresh_from_db()
    assert first.replaced_by == second
    assert first.content["tally"] == {"kept": 12}
    assert second.content["tally"] == {"kept": 5, "not measured": 7}


def test_closing_early_has_to_be_meant(submitter, reception, manager, group, rulebook):
    bottles = received(submitter, reception, group, rulebook, sample("one"))
    consignment = consignment_of(bottles)
    with pytest.raises(EntryProblem, match="2 bottles may still be measured") as refused:
        issued(consignment, manager)
    assert "early" in refused.value.problems
    assert issued(consignment, manager, early=True).content["tally"] == {"not measured": 12}


def test_a_draft_consignment_has_no_statement(submitter, manager, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample("one", bottles=(anion_bottle(),)))
    with pytest.raises(MoveNotAllowed, match="draft"):
        issued(consignment, manager)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE intake_statement SET reason = 'other'",
        "UPDATE intake_statement SET content = '{}'",
        "DELETE FROM intake_statement",
    ],
)
def test_the_database_itself_refuses_to_change_one(consignment, manager, statement):
    made = issued(consignment, manager)
    with pytest.raises(DatabaseError, match="never changed"), transaction.atomic():
        connection.cursor().execute(statement)
    assert is_sound(Statement.objects.get(pk=made.pk))


def test_models_and_querysets_refuse_too(consignment, manager):
    made = issued(consignment, manager)
    for attempt in (
        made.delete,
        Statement.objects.all().delete,
        lambda: Statement.objects.update(reason="x"),
    ):
        with pytest.raises(TypeError):
            attempt()
    made.reason = "x"
    with pytest.raises(DatabaseError), transaction.atomic():
        made.save()


@pytest.mark.parametrize(
    "tampering",
    [
        "UPDATE intake_statement SET issued_name = 'Somebody Else'",
        "UPDATE intake_statement SET issued_at = '2026-03-01 00:00:00'",
        "UPDATE intake_statement SET content = replace(CAST(content AS text), 'kept', 'late'){as_stored}",
        "UPDATE intake_statement SET number = 'C2345678-1'",
    ],
)
def test_one_that_was_tampered_with_is_shown_as_void(consignment, manager, signed_in, tampering):
    made = issued(consignment, manager)
    as_stored = "::jsonb" if connection.vendor == "postgresql" else ""
    with record_unguarded():
        connection.cursor().execute(tampering.format(as_stored=as_stored))
    made = Statement.objects.get(pk=made.pk)
    assert not is_sound(made)
    page = signed_in(manager).get(f"/statements/{made.number}/").content.decode()
    assert "VOID: what is stored is no longer what was issued." in page


def test_two_at_once_make_one(consignment, manager):
    seen = digest_of(statement_content(consignment))
    issue_statement(consignment, by=manager, at=NOW, seen=seen)
    with pytest.raises(MoveNotAllowed):
        issue_statement(consignment, by=manager, at=NOW + timedelta(seconds=1), seen=seen)
    assert Statement.objects.count() == 1


@pytest.mark.parametrize(
    ("statement", "named"),
    [
        ("UPDATE intake_statement SET reason = 'other' WHERE sequence = 2", "is void"),
        ("UPDATE intake_statement SET issued_name = 'Somebody' WHERE sequence = 1", "is void"),
        ("DELETE FROM intake_statement WHERE sequence = 2", "is not there"),
        ("UPDATE intake_statement SET digest = 'x' WHERE sequence = 1", "another seal than the record says"),
    ],
)
def test_verify_record_names_a_broken_seal(consignment, bottles, manager, statement, named):
    issued(consignment, manager)
    void_injection(bottles[0].injections.get(), by=manager, at=NOW, reason="wrong tray")
    issued(consignment, manager, early=True, reason="The anion tray was another one.")
    out = StringIO()
    call_command("verify_record", stdout=out)
    assert "2 statements: every seal holds" in out.getvalue()
    with record_unguarded(), connection.cursor() as cursor:
        cursor.execute(statement)
    errors = StringIO()
    with pytest.raises(CommandError):
        call_command("verify_record", stderr=errors)
    assert named in errors.getvalue()
    assert consignment.number in errors.getvalue().replace(" ", "")
