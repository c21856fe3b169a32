"""A person's data is removed on request; the record's chain holds and nothing tells who it was."""

from __future__ import annotations

import pytest
from allauth.mfa.totp.internal.auth import TOTP
from django.db import connection

from intake import record
from intake.actions import calendars, closing, invitations, people, questioning
from intake.actions.checking import check_bottle
from intake.actions.forgetting import forget_person
from intake.choices import Role
from intake.errors import EntryProblem, MoveNotAllowed, NotPermitted
from intake.models import Job, PersonalText, RecordEntry, User
from intake.sealing import digest_of, is_sound
from intake.stating import statement_content
from intake.telling import tell
from tests.conftest import record_unguarded
from tests.factories import ENTERED, RECEIVED, opened, sent
from tests.people.test_policy import SECRET, sign_in

pytestmark = pytest.mark.django_db
NAME, ADDRESS = "Quillan Featherstone", "quillan.featherstone@lab.example"


@pytest.fixture
def quillan(manager, group):
    """Somebody who was invited, renamed themselves, has a factor, sessions and a calendar."""
    links = []
    invitations.invite_person(
        by=manager,
        at=ENTERED,
        email=ADDRESS,
        role=Role.SUBMITTER,
        group=group,
        link_for=lambda t: links.append(t) or t,
    )
    given = {"name": f"{NAME} first", "password": "some words that will do", "zone": "UTC"}
    one = invitations.accept_invitation(token=links[0], at=ENTERED, **given)
    people.change_profile(person=one, by=one, at=ENTERED, name=NAME, zone="Europe/Vienna")
    calendars.make_address(by=one, at=ENTERED)
    one.set_password("a long enough word for tests")
    one.save()
    sign_in(one)
    TOTP.activate(one, SECRET)
    return one


def switched_off(person, manager):
    people.switch_off_person(person=person, by=manager, at=RECEIVED, reason="left")
    return person


def forget(person, manager, reason="by letter of 3 March"):
    forget_person(person=person, by=manager, at=RECEIVED, reason=reason)


def everything() -> str:
    """The whole database as one text."""
    with connection.cursor() as cursor:
        found = []
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f'SELECT * FROM "{table}"')  # noqa: S608 - names of our own tables
            found.append(repr(cursor.fetchall()))
    return "\n".join(found).lower()


def test_nothing_tells_who_it_was_and_the_chain_holds(quillan, manager, group, rulebook, reception):
    sent(quillan, group, rulebook)
    assert "featherstone" in everything()
    before = list(RecordEntry.objects.order_by("pk").values_list("digest", flat=True))
    forget(switched_off(quillan, manager), manager)
    Job.objects.filter(kind="mail").delete()  # the last mails, as they leave
    left = everything()
    assert "featherstone" not in left
    assert "quillan" not in left
    assert list(record.faults()) == []
    kept = list(RecordEntry.objects.order_by("pk").values_list("digest", flat=True))
    assert kept[: len(before)] == before
    entry = RecordEntry.objects.get(verb="person.forget")
    assert (entry.subject, entry.reason) == (f"a former member ({quillan.pk})", "by letter of 3 March")
    assert not quillan.groups.exists()
    assert not hasattr(User.objects.get(pk=quillan.pk), "calendar_address")


def test_pages_tell_a_former_member(quillan, manager, group, rulebook, signed_in):
    consignment = sent(quillan, group, rulebook)
    page = f"/consignments/{consignment.number}/"
    client = signed_in(manager)
    assert NAME in client.get(page).content.decode()
    forget(switched_off(quillan, manager), manager)
    text = client.get(page).content.decode()
    assert "Featherstone" not in text
    assert "a former member" in text
    assert client.get("/people/").status_code == 200


def test_whom_a_question_asked_is_told_by_name_until_they_are_forgotten(
    quillan, manager, group, rulebook, reception, django_assert_max_num_queries
):
    doubtful = sent(quillan, group, rulebook)
    arrival = opened(reception, doubtful)
    check_bottle(doubtful.bottles.first(), arrival, by=reception, at=RECEIVED, seen={"label_matches": False})
    questioning.ask_about(questioning.held_bottles(), by=reception, at=RECEIVED)
    entry = RecordEntry.objects.get(verb="question.ask")
    assert NAME not in str(entry.after)
    with django_assert_max_num_queries(1):
        assert tell(entry, "UTC").sentence.startswith(f"asked {NAME} the question")
    forget(switched_off(quillan, manager), manager)
    assert tell(entry, "UTC").sentence.startswith("asked a former member the question")


def test_statements_stay_sealed_and_keep_who_released_them(quillan, manager, group, rulebook, reception):
    consignment = sent(quillan, group, rulebook)
    opened(reception, consignment)
    consignment.refresh_from_db()
    people.change_role(person=quillan, role=Role.MANAGER, by=manager, at=RECEIVED)
    statement = closing.issue_statement(
        consignment, by=quillan, at=RECEIVED, seen=digest_of(statement_content(consignment)), early=True
    )
    forget(switched_off(quillan, manager), manager)
    statement.refresh_from_db()
    assert is_sound(statement)
    assert statement.issued_name == NAME


def test_who_may_and_when(quillan, manager, reception):
    with pytest.raises(NotPermitted):
        forget(quillan, reception)
    with pytest.raises(MoveNotAllowed, match="Switch the account"):
        forget(quillan, manager)
    with pytest.raises(MoveNotAllowed, match="your own"):
        forget(manager, manager)
    switched_off(quillan, manager)
    with pytest.raises(EntryProblem):
        forget(quillan, manager, reason=" ")
    forget(quillan, manager)
    with pytest.raises(MoveNotAllowed, match="already"):
        forget(quillan, manager)
    with pytest.raises(MoveNotAllowed, match="was removed"):
        people.switch_on_person(person=quillan, by=manager, at=RECEIVED)


@pytest.mark.django_db(transaction=True)
def test_the_person_is_told_once_more(quillan, manager, mailoutbox):
    switched_off(quillan, manager)
    mailoutbox.clear()
    forget(quillan, manager)
    assert [letter.to for letter in mailoutbox] == [[ADDRESS]]
    assert "cannot be taken back" in mailoutbox[0].body


def test_by_the_page_with_a_question_first(quillan, manager, signed_in):
    client = signed_in(manager)
    address = f"/people/{quillan.pk}/forget/"
    assert "Statements keep the name" in client.get(address).content.decode()
    assert client.post(address, {"reason": "asked"}).status_code == 409
    switched_off(quillan, manager)
    assert client.post(address, {"reason": ""}).status_code == 422
    assert client.post(address, {"reason": "asked"}).status_code == 302
    assert User.objects.get(pk=quillan.pk).name == f"a former member ({quillan.pk})"
    assert "The data of this person was removed" in client.get(f"/people/{quillan.pk}/").content.decode()


# Names apart from the record


def test_a_name_changed_behind_the_record_is_told(quillan):
    assert list(record.faults()) == []
    kept = PersonalText.objects.get(text=NAME)
    PersonalText.objects.filter(pk=kept.pk).update(text="Somebody Else")
    (fault,) = record.faults()
    assert kept.mark in str(fault)


def test_what_was_before_and_after_a_change_of_name_can_be_read(quillan):
    entry = RecordEntry.objects.get(verb="person.change_profile")
    assert record.readable(entry.before)["name"] == f"{NAME} first"
    assert record.readable([entry.after, entry.subject]) == [{"name": NAME, "zone": "Europe/Vienna"}, ADDRESS]


def test_a_mark_cannot_be_guessed_from_a_name(quillan):
    """The same name of two people has two marks, each with random bits of its own."""
    other = User.objects.create_user("other@lab.example", None, name=NAME)
    assert record.private(other, NAME) != record.private(quillan, NAME)
    assert len({one.salt for one in PersonalText.objects.all()}) == PersonalText.objects.count()


def test_entries_from_before_names_were_apart_still_verify(manager):
    """They hold the actor's name in the chain; it is digested as it was written."""
    entry = record.write(by=manager, at=ENTERED, verb="thing.do", subject="a thing")
    entry.name_then = "Mara as she was called"
    digest = record.digest_of(entry)
    with record_unguarded(), connection.cursor() as cursor:
        cursor.execute(
            "UPDATE intake_recordentry SET actor_name = %s, digest = %s", [entry.name_then, digest]
        )
        cursor.execute("UPDATE intake_chainhead SET digest = %s", [digest])
    assert list(record.faults()) == []
