"""Each action on people and groups: done and recorded by a manager, refused to everybody else."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from django.core import mail

from intake import record
from intake.actions import people
from intake.choices import Role
from intake.errors import EntryProblem, MoveNotAllowed, NotPermitted, SomebodyWasFaster
from intake.models import Group, RecordEntry, User

AT = datetime(2026, 3, 18, 9, 0, tzinfo=UTC)


def acts(person, group, other_group):
    """Every action of a manager, as a call that only wants ``by``."""
    return {
        "group.make": lambda by: people.make_group(by=by, at=AT, name="Fen survey", zone="Europe/Paris"),
        "group.rename": lambda by: people.rename_group(
            group=group, by=by, at=AT, name="Reedmoor water", zone="Europe/Berlin"
        ),
        "group.add": lambda by: people.add_to_group(person=person, group=other_group, by=by, at=AT),
        "group.remove": lambda by: people.remove_from_group(person=person, group=group, by=by, at=AT),
        "person.switch_off": lambda by: people.switch_off_person(person=person, by=by, at=AT, reason="left"),
        "person.change_role": lambda by: people.change_role(person=person, role=Role.RECEPTION, by=by, at=AT),
    }


VERBS = sorted(acts(None, None, None))


@pytest.mark.parametrize("verb", VERBS)
def test_a_manager_may_and_it_is_recorded(verb, manager, submitter, group, other_group):
    acts(submitter, group, other_group)[verb](manager)
    entry = RecordEntry.objects.get()
    assert (entry.verb, entry.actor, entry.at) == (verb, manager, AT)
    assert entry.before or entry.after


@pytest.mark.parametrize("verb", VERBS)
@pytest.mark.parametrize("who", ["submitter", "reception", "stranger"])
def test_nobody_else_may(verb, who, request, submitter, group, other_group):
    by = request.getfixturevalue(who)
    with pytest.raises(NotPermitted):
        acts(submitter, group, other_group)[verb](by)
    assert not RecordEntry.objects.exists()
    assert Group.objects.count() == 2
    submitter.refresh_from_db()
    assert submitter.is_active and submitter.role == Role.SUBMITTER
    assert list(submitter.groups.all()) == [group]


def test_a_switched_off_manager_may_not(manager, person, group):
    off = person("Off Manager", Role.MANAGER)
    off.is_active = False
    with pytest.raises(NotPermitted):
        people.make_group(by=off, at=AT, name="Fen survey", zone="UTC")


def test_switching_off_and_on_again(manager, submitter):
    people.switch_off_person(person=submitter, by=manager, at=AT, reason="left in June")
    assert not User.objects.get(pk=submitter.pk).is_active
    people.switch_on_person(person=submitter, by=manager, at=AT)
    assert User.objects.get(pk=submitter.pk).is_active
    verbs = list(RecordEntry.objects.order_by("position").values_list("verb", "reason"))
    assert verbs == [("person.switch_off", "left in June"), ("person.switch_on", "")]


def test_switching_off_twice_says_that_somebody_was_faster(manager, submitter):
    people.switch_off_person(person=User.objects.get(pk=submitter.pk), by=manager, at=AT)
    with pytest.raises(SomebodyWasFaster):
        people.switch_off_person(person=submitter, by=manager, at=AT)


@pytest.mark.parametrize("call", ["off", "role"])
def test_nobody_changes_themselves(manager, call):
    with pytest.raises(MoveNotAllowed, match="another lab manager"):
        if call == "off":
            people.switch_off_person(person=manager, by=manager, at=AT)
        else:
            people.change_role(person=manager, role=Role.SUBMITTER, by=manager, at=AT)


def test_the_last_manager_stays(manager, system):
    with pytest.raises(MoveNotAllowed, match="only lab manager"):
        people.switch_off_person(person=manager, by=system, at=AT)
    with pytest.raises(MoveNotAllowed, match="only lab manager"):
        people.change_role(person=manager, role=Role.RECEPTION, by=system, at=AT)


def test_one_of_two_managers_may_go(manager, person):
    other = person("Olga Other", Role.MANAGER)
    people.switch_off_person(person=other, by=manager, at=AT)
    assert not User.objects.get(pk=other.pk).is_active


@pytest.mark.parametrize("role", [Role.SYSTEM, "", "owner"])
def test_no_role_beyond_the_three(manager, submitter, role):
    with pytest.raises(EntryProblem) as refusal:
        people.change_role(person=submitter, role=role, by=manager, at=AT)
    assert "role" in refusal.value.problems


@pytest.mark.parametrize(
    ("name", "zone", "field"),
    [
        ("", "UTC", "name"),
        ("  ", "UTC", "name"),
        ("reedmoor HYDROLOGY", "UTC", "name"),
        ("Fen", "Mars/Base", "zone"),
    ],
)
def test_a_group_wants_a_name_of_its_own_and_a_zone(manager, group, name, zone, field):
    with pytest.raises(EntryProblem) as refusal:
        people.make_group(by=manager, at=AT, name=name, zone=zone)
    assert list(refusal.value.problems) == [field]


def test_renaming_to_the_same_changes_and_records_nothing(manager, group):
    people.rename_group(group=group, by=manager, at=AT, name=group.name, zone=group.zone)
    assert not RecordEntry.objects.exists()


def test_renaming_a_group_renamed_meanwhile_is_refused(manager, group):
    Group.objects.filter(pk=group.pk).update(name="Reedmoor ecology")
    with pytest.raises(SomebodyWasFaster):
        people.rename_group(group=group, by=manager, at=AT, name="Reedmoor water", zone=group.zone)


def test_adding_twice_and_removing_a_non_member_is_said(manager, submitter, group, other_group):
    with pytest.raises(MoveNotAllowed, match="already"):
        people.add_to_group(person=submitter, group=group, by=manager, at=AT)
    with pytest.raises(MoveNotAllowed, match="does not belong"):
        people.remove_from_group(person=submitter, group=other_group, by=manager, at=AT)
    assert not RecordEntry.objects.exists()


def test_the_system_belongs_nowhere(manager, system, group):
    with pytest.raises(MoveNotAllowed):
        people.add_to_group(person=system, group=group, by=manager, at=AT)
    with pytest.raises(MoveNotAllowed):
        people.switch_off_person(person=system, by=manager, at=AT)


@pytest.mark.parametrize("verb", ["group.add", "group.remove", "person.switch_off", "person.change_role"])
def test_the_person_is_told_on_commit(
    verb, manager, submitter, group, other_group, django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        acts(submitter, group, other_group)[verb](manager)
        assert not mail.outbox
    (letter,) = mail.outbox
    assert letter.to == [submitter.email]
    assert manager.name in letter.body


def test_people_change_their_own_profile_only(submitter, manager):
    people.change_profile(person=submitter, by=submitter, at=AT, name="Sami Loft", zone="Asia/Kathmandu")
    submitter.refresh_from_db()
    assert (submitter.name, submitter.zone) == ("Sami Loft", "Asia/Kathmandu")
    entry = RecordEntry.objects.get()
    assert record.readable(entry.before) == {"name": "Sami Submitter", "zone": "UTC"}
    with pytest.raises(NotPermitted):
        people.change_profile(person=submitter, by=manager, at=AT, name="Someone", zone="UTC")


def test_a_profile_wants_a_name_and_a_zone(submitter):
    with pytest.raises(EntryProblem) as refusal:
        people.change_profile(person=submitter, by=submitter, at=AT, name=" ", zone="Moon/Sea")
    assert set(refusal.value.problems) == {"name", "zone"}
