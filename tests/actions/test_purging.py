"""Nothing is removed before its time; what goes is told, and record, statements and numbers stay."""

from __future__ import annotations

from datetime import timedelta
from itertools import islice

import pytest
from dateutil.relativedelta import relativedelta
from django.conf import settings
from django.db import connection

from intake import numbers, record
from intake.actions import closing, questioning, registering
from intake.actions.checking import check_bottle
from intake.actions.numbering import free_numbers
from intake.actions.policy import change_policy
from intake.actions.purging import EMPTIED, kept_long_enough, kept_until, purge_consignment
from intake.errors import EntryProblem, MoveNotAllowed, NotPermitted
from intake.models import Bottle, Consignment, RecordEntry, Sample, SpentNumber, Statement
from intake.sealing import digest_of, is_sound
from intake.stating import statement_content
from tests.factories import ENTERED, RECEIVED, draft, opened, sample, sent

pytestmark = pytest.mark.django_db


@pytest.fixture
def old(submitter, group, rulebook, reception, manager):
    """A consignment with an arrival, checks, a question and a statement, last touched at ``RECEIVED``."""
    consignment = sent(submitter, group, rulebook, sample("S1"), sample("S2"))
    arrival = opened(reception, consignment)
    check_bottle(
        consignment.bottles.first(), arrival, by=reception, at=RECEIVED, seen={"label_matches": False}
    )
    questioning.ask_about(questioning.held_bottles(), by=reception, at=RECEIVED)
    consignment.refresh_from_db()
    seen = digest_of(statement_content(consignment))
    closing.issue_statement(consignment, by=manager, at=RECEIVED, seen=seen, early=True)
    consignment.refresh_from_db()
    return consignment


def purge(consignment, manager, at, reason="kept as long as the contract asks"):
    return purge_consignment(consignment=consignment, by=manager, at=at, reason=reason)


def test_it_is_refused_up_to_the_last_moment_and_taken_from_then_on(old, manager):
    until = kept_until(old)
    assert until == RECEIVED + relativedelta(years=5)
    for early in (RECEIVED, until - timedelta(microseconds=1)):
        assert not kept_long_enough(early).exists()
        with pytest.raises(MoveNotAllowed, match="is kept until 2031-03-03 14:00 UTC"):
            purge(old, manager, early)
    assert list(kept_long_enough(until)) == [old]
    purge(old, manager, until)
    assert not kept_long_enough(until).exists()


def test_the_laboratory_settles_how_long(old, manager):
    change_policy(by=manager, at=ENTERED, version=0, second_factor="nobody", keep_years=10)
    assert kept_until(old) == RECEIVED + relativedelta(years=10)


def test_what_goes_and_what_stays(old, manager):
    others = {bottle.number for bottle in old.bottles.all()}
    before = RecordEntry.objects.filter(consignment=old).count()
    removed = purge(old, manager, kept_until(old))
    assert (removed["sample"], removed["bottle"]) == (2, 4)
    assert not Sample.objects.exists()
    assert not Bottle.objects.exists()
    assert (old.title, old.purpose) == (EMPTIED, "")
    assert RecordEntry.objects.filter(consignment=old).count() == before + 1
    assert list(record.faults()) == []
    assert is_sound(Statement.objects.get())
    assert set(SpentNumber.objects.values_list("number", flat=True)) == others
    entry = RecordEntry.objects.get(verb="consignment.purge")
    assert entry.after["removed"] == dict(removed)
    with connection.cursor() as cursor:
        connection.check_constraints()
        assert cursor is not None
    with pytest.raises(MoveNotAllowed, match="already"):
        purge(old, manager, kept_until(old))


def test_another_consignment_keeps_all_it_has(old, manager, submitter, group, rulebook):
    other = sent(submitter, group, rulebook, sample("T1"))
    purge(old, manager, kept_until(old))
    assert other.bottles.count() == 2
    assert Consignment.objects.count() == 2


def test_who_may_and_with_what_reason(old, reception, manager):
    until = kept_until(old)
    with pytest.raises(NotPermitted):
        purge(old, reception, until)
    with pytest.raises(EntryProblem):
        purge(old, manager, until, reason="")


def test_a_number_that_is_gone_is_never_given_out_again(submitter, group, rulebook, monkeypatch):
    consignment = draft(submitter, group, rulebook, sample("S1"))
    gone = list(consignment.bottles.values_list("number", flat=True))
    registering.enter_samples(consignment, [], by=submitter, at=ENTERED, version=consignment.version)
    fresh = ["B2222222", *gone, "B3333333"]
    draws = iter([*gone, *gone, *fresh, *fresh])
    monkeypatch.setattr(numbers, "new_numbers", lambda kind, count: list(islice(draws, count)))
    assert not set(free_numbers(Bottle, numbers.BOTTLE, 2)) & set(gone)


def test_by_the_page(old, manager, signed_in, monkeypatch):
    client = signed_in(manager)
    address = "/people/kept/"
    assert "None. Nothing can be removed" in client.get(address).content.decode()
    assert client.post(address, {"numbers": old.number, "reason": "now"}).status_code == 409
    assert Bottle.objects.exists()
    later = kept_until(old) + timedelta(hours=1)
    monkeypatch.setattr("intake.middleware.timezone.now", lambda: later)
    client = signed_in(manager)
    assert old.title in client.get(address).content.decode()
    answer = client.post(address, {"numbers": old.number, "reason": ""})
    assert answer.status_code == 422
    assert client.post(address, {"numbers": old.number, "reason": "kept"}).status_code == 302
    assert not Bottle.objects.exists()
    for page in ("", "labels/", "packing-list/"):
        assert client.get(f"/consignments/{old.number}/{page}").status_code in (200, 404, 409, 422), page
    assert client.get(f"/statements/{Statement.objects.get().number}/").status_code == 200


#: Where rows are deleted at all, and what they are; none is what was received, checked or measured.
DELETING = {
    "intake/actions/calendars.py": "addresses of calendars",
    "intake/actions/doors.py": "sessions and lost factors",
    "intake/actions/forgetting.py": "what is personal, on request",
    "intake/actions/indexing.py": "words by which a consignment was found and is no more",
    "intake/actions/judging.py": "findings and clocks, which are made anew",
    "intake/actions/people.py": "memberships",
    "intake/actions/purging.py": "what was kept long enough",
    "intake/actions/registering.py": "samples and bottles that a group no longer states",
    "intake/actions/rulebooks.py": "drafts of rulebooks",
    "intake/actions/staging.py": "uploads that were saved or given up",
    "intake/actions/tallying.py": "counts of months, which are made anew",
    "intake/tasks/regular.py": "ended jobs and sessions, uploads given up",
    "intake/tasks/mails.py": "mails that have left",
    "labqueue/actions/equipping.py": "opening hours and closed days",
    "labqueue/actions/injections.py": "lists that were saved or given up",
    "labqueue/actions/proposing.py": "proposed plans that nobody accepted",
    "labqueue/actions/views.py": "views of the queue that their owner kept",
}


def test_every_place_that_deletes_is_known():
    found = set()
    for app in ("intake", "labqueue"):
        for path in (settings.BASE_DIR / app).rglob("*.py"):
            if "migrations" not in path.parts and ".delete()" in path.read_text("utf-8"):
                found.add(path.relative_to(settings.BASE_DIR).as_posix())
    assert found == set(DELETING)
