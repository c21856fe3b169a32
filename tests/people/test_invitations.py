"""Invitations: bound to address, role and group, used once, for 72 hours, revocable."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest
from django.core import mail

from intake.actions import invitations
from intake.choices import Role
from intake.errors import EntryProblem, NotPermitted, SomebodyWasFaster
from intake.models import Group, Invitation, RecordEntry, User

AT = datetime(2026, 3, 18, 9, 0, tzinfo=UTC)
EMAIL = "nell@river.example"
ANSWERS = {"name": "Nell Brook", "password": "stones under the bridge", "zone": "Europe/Berlin"}


@pytest.fixture
def invited(manager, group):
    """An invitation and its token."""
    tokens = []

    def link_for(token: str) -> str:
        tokens.append(token)
        return f"https://lab.example/invitation/{token}/"

    invitation = invitations.invite_person(
        by=manager, at=AT, email=EMAIL, role=Role.SUBMITTER, group=group, link_for=link_for
    )
    return invitation, tokens[0]


def accept(token, at=AT, **changes):
    return invitations.accept_invitation(token=token, at=at, **(ANSWERS | changes))


def test_accepting_makes_the_person_once(invited, group):
    person = accept(invited[1])
    assert (person.email, person.role, person.zone) == (EMAIL, Role.SUBMITTER, "Europe/Berlin")
    assert list(person.groups.all()) == [group]
    assert person.check_password(ANSWERS["password"])
    with pytest.raises(invitations.InvitationClosed, match="used already"):
        accept(invited[1])
    assert User.objects.filter(email=EMAIL).count() == 1


def test_both_ends_are_recorded(invited, manager):
    person = accept(invited[1])
    entries = RecordEntry.objects.order_by("position")
    assert [(entry.verb, entry.actor) for entry in entries] == [
        ("person.invite", manager),
        ("invitation.accept", person),
    ]


def test_only_a_digest_is_kept(invited):
    invitation, token = invited
    assert len(token) >= 43  # 256 bits in base64url
    stored = str(list(Invitation.objects.filter(pk=invitation.pk).values())) + str(
        list(RecordEntry.objects.values())
    )
    assert token not in stored
    assert re.fullmatch(r"[0-9a-f]{64}", invitation.token_digest)


@pytest.mark.parametrize(
    ("later", "open_still"),
    [
        (timedelta(hours=72), True),
        (timedelta(hours=72, microseconds=1), False),
        (timedelta(days=30), False),
    ],
)
def test_it_lasts_72_hours(invited, later, open_still):
    if open_still:
        assert accept(invited[1], at=AT + later).email == EMAIL
    else:
        with pytest.raises(invitations.InvitationClosed, match="three days"):
            accept(invited[1], at=AT + later)


def test_a_revoked_one_is_closed_and_recorded(invited, manager):
    invitations.revoke_invitation(invitation=invited[0], by=manager, at=AT)
    with pytest.raises(invitations.InvitationClosed, match="taken back"):
        accept(invited[1])
    assert RecordEntry.objects.filter(verb="invitation.revoke", actor=manager).exists()
    with pytest.raises(SomebodyWasFaster):
        invitations.revoke_invitation(invitation=invited[0], by=manager, at=AT)


@pytest.mark.parametrize(
    "change", [lambda t: t[:-1], lambda t: t + "A", lambda t: "", lambda t: t.swapcase()]
)
def test_a_wrong_token_opens_nothing(invited, change):
    with pytest.raises(invitations.InvitationClosed, match="no such invitation"):
        accept(change(invited[1]))


@pytest.mark.parametrize("who", ["reception", "submitter", "stranger"])
def test_only_managers_invite_and_revoke(invited, request, who):
    by = request.getfixturevalue(who)
    with pytest.raises(NotPermitted):
        invitations.invite_person(
            by=by, at=AT, email="a@b.example", role=Role.MANAGER, group=None, link_for=str
        )
    with pytest.raises(NotPermitted):
        invitations.revoke_invitation(invitation=invited[0], by=by, at=AT)
    assert Invitation.objects.open_at(AT).count() == 1


def test_inviting_again_closes_the_former_link(invited, manager, group):
    invitations.invite_person(
        by=manager, at=AT, email=EMAIL.upper(), role=Role.RECEPTION, group=None, link_for=str
    )
    assert Invitation.objects.open_at(AT).count() == 1
    with pytest.raises(invitations.InvitationClosed, match="newer invitation"):
        accept(invited[1])


@pytest.mark.parametrize(
    ("email", "role", "with_group", "field"),
    [
        ("sami.submitter@lab.example", Role.SUBMITTER, True, "email"),
        ("Sami.Submitter@LAB.example", Role.SUBMITTER, True, "email"),
        ("new@lab.example", Role.SUBMITTER, False, "group"),
        ("new@lab.example", Role.SYSTEM, True, "role"),
        ("new@lab.example", "owner", True, "role"),
    ],
)
def test_what_cannot_be_invited(manager, submitter, group, email, role, with_group, field):
    with pytest.raises(EntryProblem) as refusal:
        invitations.invite_person(
            by=manager,
            at=AT,
            email=email,
            role=role,
            group=group if with_group else None,
            link_for=str,
        )
    assert list(refusal.value.problems) == [field]
    assert not Invitation.objects.exists()


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"name": "   "}, "name"),
        ({"zone": "Moon/Sea"}, "zone"),
        ({"password": "fourteen chars"}, "password"),
        ({"password": "labqueue is nice here"}, "password"),
        ({"password": "nell@river.example"}, "password"),
    ],
)
def test_a_wrong_answer_uses_nothing_up(invited, change, field):
    with pytest.raises(EntryProblem) as refusal:
        accept(invited[1], **change)
    assert list(refusal.value.problems) == [field]
    assert not User.objects.filter(email=EMAIL).exists()
    assert accept(invited[1]).email == EMAIL


def test_the_mail_leaves_on_commit(manager, group, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True):
        invitations.invite_person(
            by=manager,
            at=AT,
            email=EMAIL,
            role=Role.SUBMITTER,
            group=group,
            link_for=lambda token: f"https://lab.example/invitation/{token}/",
        )
        assert not mail.outbox
    (letter,) = mail.outbox
    assert letter.to == [EMAIL]
    assert "https://lab.example/invitation/" in letter.body
    assert group.name in letter.body


# Through the pages


def test_opening_the_link_consumes_nothing(client, invited):
    address = f"/invitation/{invited[1]}/"
    for _ in range(3):
        invited[0].expires_at = datetime(2100, 1, 1, tzinfo=UTC)
        invited[0].save()
        answer = client.get(address)
        assert answer.status_code == 200
        assert client.head(address).status_code == 200
    invited[0].refresh_from_db()
    assert invited[0].accepted_at is None
    assert EMAIL in answer.content.decode()
    assert "no-store" in answer["Cache-Control"]


def test_the_page_binds_only_what_it_asks_for(client, invited, other_group):
    Invitation.objects.update(expires_at=datetime(2100, 1, 1, tzinfo=UTC))
    given = ANSWERS | {
        "email": "evil@elsewhere.example",
        "role": Role.MANAGER,
        "group": other_group.pk,
        "is_active": "on",
    }
    answer = client.post(f"/invitation/{invited[1]}/", given, follow=True)
    assert "Your account is there" in answer.content.decode()
    person = User.objects.get(email=EMAIL)
    assert person.role == Role.SUBMITTER
    assert other_group not in Group.objects.visible_to(person)
    assert not User.objects.filter(email="evil@elsewhere.example").exists()
    assert "_auth_user_id" not in client.session  # nobody is signed in by a link


@pytest.mark.parametrize("token", ["nothing", "a" * 500, "🚰"])
def test_a_made_up_link_is_explained(client, db, token):
    answer = client.get(f"/invitation/{token}/")
    assert answer.status_code == 410
    assert "no such invitation" in answer.content.decode()
