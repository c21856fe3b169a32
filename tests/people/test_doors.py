"""The doors: signing in, passwords, sessions; they answer alike and tire whoever guesses."""

from __future__ import annotations

import re
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.auth import SESSION_KEY
from django.core import mail
from django.core.cache import cache
from django.template.loader import get_template
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from intake import middleware
from labqueue import account_urls
from tests.conftest import PASSWORD

SIGN_IN = "/account/sign-in/"
FORGOTTEN = "/account/password/forgotten/"
NEW = "a quite different set of words"


pytestmark = pytest.mark.usefixtures("jobs_at_once")


@pytest.fixture(autouse=True)
def nobody_tried_yet():
    cache.clear()
    yield
    cache.clear()


def sign_in(client, email, password):
    return client.post(SIGN_IN, {"login": email, "password": password})


def is_in(client):
    return client.get("/profile/").status_code == 200


def shown(answer):
    """A page without what differs each time: the form's secret and the moment."""
    text = answer.content.decode()
    text = re.sub(r'name="csrfmiddlewaretoken" value="[^"]+"', "", text)
    return re.sub(r'data-now="[^"]+"', "", text)


def test_in_and_out(client, submitter):
    assert sign_in(client, submitter.email, PASSWORD).status_code == 302
    assert is_in(client)
    client.get("/account/sign-out/")
    assert is_in(client)  # opening the page signs nobody out
    client.post("/account/sign-out/")
    assert not is_in(client)


def test_address_in_capitals_is_the_same(client, submitter):
    assert sign_in(client, submitter.email.upper(), PASSWORD).status_code == 302


def test_signing_in_gives_the_session_a_new_key(client, submitter):
    client.get(SIGN_IN)
    session = client.session
    session["before"] = "yes"
    session.save()
    former = client.session.session_key
    client.cookies[settings.SESSION_COOKIE_NAME] = former
    sign_in(client, submitter.email, PASSWORD)
    assert client.session.session_key != former


def test_known_and_unknown_address_get_the_same_answer(client, submitter):
    known = sign_in(client, submitter.email, "wrong words entirely")
    unknown = sign_in(Client(), "nobody@lab.example", "wrong words entirely")
    assert known.status_code == unknown.status_code == 200
    assert shown(known).replace(submitter.email, "") == shown(unknown).replace("nobody@lab.example", "")


def test_the_sixth_try_is_refused_even_if_right_and_others_are_not_hurt(client, submitter, stranger):
    for _ in range(5):
        sign_in(client, submitter.email, "wrong words entirely")
    answer = sign_in(client, submitter.email, PASSWORD)
    assert SESSION_KEY not in client.session
    assert "tried too often" in answer.content.decode()
    sign_in(client, stranger.email, PASSWORD)
    assert client.session[SESSION_KEY] == str(stranger.pk)


def test_after_the_wait_the_right_password_works(client, submitter, monkeypatch):
    for _ in range(6):
        sign_in(client, submitter.email, "wrong words entirely")
    import time

    later = time.time() + 301
    monkeypatch.setattr("allauth.core.internal.ratelimit.time.time", lambda: later)
    sign_in(client, submitter.email, PASSWORD)
    assert client.session[SESSION_KEY] == str(submitter.pk)


def test_many_guesses_from_one_place_are_stopped(client, db):
    answers = [sign_in(client, f"guess{count}@lab.example", "words words words") for count in range(12)]
    assert "tried too often" in answers[-1].content.decode()


def test_asking_for_a_new_password_answers_alike(client, submitter):
    known = client.post(FORGOTTEN, {"email": submitter.email}, follow=True)
    unknown = Client().post(FORGOTTEN, {"email": "nobody@lab.example"}, follow=True)
    assert shown(known) == shown(unknown)
    assert [letter.to for letter in mail.outbox] == [[submitter.email], ["nobody@lab.example"]]
    assert "/account/password/new/" in mail.outbox[0].body
    assert "http" not in mail.outbox[1].body
    assert "allauth" not in mail.outbox[0].body + mail.outbox[1].body


def test_asking_too_often_is_refused(client, submitter):
    answers = [client.post(FORGOTTEN, {"email": submitter.email}) for _ in range(7)]
    assert answers[-1].status_code == 429
    assert "Nothing was changed" in answers[-1].content.decode()
    assert len(mail.outbox) <= 5


def ask_for_link(client, person):
    client.post(FORGOTTEN, {"email": person.email})
    return re.search(r"http://testserver(/account/password/new/\S+)", mail.outbox[-1].body).group(1)


def set_new(client, link, password=NEW):
    page = client.get(link, follow=True)
    return client.post(page.redirect_chain[-1][0], {"password1": password, "password2": password})


def test_the_link_works_once_signs_nobody_in_and_ends_every_session(client, submitter):
    elsewhere = Client()
    elsewhere.force_login(submitter)
    assert is_in(elsewhere)
    link = ask_for_link(client, submitter)
    assert set_new(client, link).status_code == 302
    submitter.refresh_from_db()
    assert submitter.check_password(NEW)
    assert not is_in(elsewhere)
    assert not is_in(client)
    assert "A new password was set" in mail.outbox[-1].body
    assert "no longer works" in client.get(link, follow=True).content.decode()


@pytest.mark.parametrize(("later", "works"), [(timedelta(minutes=59), True), (timedelta(minutes=61), False)])
def test_the_link_lasts_an_hour(client, submitter, monkeypatch, later, works):
    link = ask_for_link(client, submitter)
    from django.contrib.auth.tokens import PasswordResetTokenGenerator

    now = PasswordResetTokenGenerator()._now()
    monkeypatch.setattr(PasswordResetTokenGenerator, "_now", lambda self: now + later)
    page = client.get(link, follow=True).content.decode()
    assert ("Save the new password" in page) is works


def test_the_token_of_the_link_does_not_stay_in_the_address(client, submitter):
    link = ask_for_link(client, submitter)
    page = client.get(link, follow=True)
    assert link not in page.redirect_chain[-1][0]


def test_a_forged_host_makes_no_link(client, submitter):
    answer = client.post(FORGOTTEN, {"email": submitter.email}, headers={"host": "evil.example"})
    assert answer.status_code == 400
    assert not mail.outbox


@pytest.mark.parametrize(
    ("password", "said"),
    [
        ("fourteen chars", "too short"),
        ("my labqueue password", "Do not build"),
        ("sami.submitter@lab.example", "too similar"),
    ],
)
def test_a_poor_password_is_refused_with_the_reason(client, submitter, password, said):
    answer = set_new(client, ask_for_link(client, submitter), password)
    assert answer.status_code == 200
    assert said in answer.content.decode()
    submitter.refresh_from_db()
    assert submitter.check_password(PASSWORD)


def test_changing_ones_password_ends_the_other_sessions(client, submitter):
    elsewhere = Client()
    elsewhere.force_login(submitter)
    client.force_login(submitter)
    given = {"oldpassword": PASSWORD, "password1": NEW, "password2": NEW}
    client.post("/account/password/", given)
    assert is_in(client)
    assert not is_in(elsewhere)
    assert "password for labqueue was changed" in mail.outbox[-1].body


def test_a_switched_off_account_stays_out(client, submitter):
    submitter.is_active = False
    submitter.save()
    answer = client.post(SIGN_IN, {"login": submitter.email, "password": PASSWORD}, follow=True)
    assert SESSION_KEY not in client.session
    assert "switched off" in answer.content.decode()


# Sessions


class At:
    """A clock for the middleware that tests move."""

    def __init__(self):
        self.moment = timezone.now()

    def now(self):
        return self.moment


@pytest.fixture
def hands(monkeypatch):
    at = At()
    monkeypatch.setattr(middleware, "timezone", at)
    return at


def test_a_rested_session_ends(client, submitter, hands):
    client.force_login(submitter)
    assert is_in(client)
    hands.moment += timedelta(minutes=30)
    assert is_in(client)
    hands.moment += timedelta(minutes=30, seconds=1)
    assert not is_in(client)


def test_a_busy_session_ends_after_eight_hours(client, submitter, hands):
    client.force_login(submitter)
    for _ in range(24):
        assert is_in(client)
        hands.moment += timedelta(minutes=20)
    assert is_in(client)  # exactly eight hours
    hands.moment += timedelta(seconds=1)
    assert not is_in(client)


def test_the_old_cookie_is_refused_afterwards(client, submitter, hands):
    client.force_login(submitter)
    is_in(client)
    cookie = client.cookies[settings.SESSION_COOKIE_NAME].value
    hands.moment += timedelta(hours=9)
    is_in(client)
    other = Client()
    other.cookies[settings.SESSION_COOKIE_NAME] = cookie
    assert not is_in(other)


# Nothing of the doors is left unstyled


def test_every_page_and_mail_of_the_doors_is_ours():
    theirs = Path(__import__("allauth").__file__).parent / "templates"
    ours = settings.BASE_DIR / "templates"
    used = [
        str(path.relative_to(ours))
        for folder in ("account", "mfa")
        for path in (ours / folder).rglob("*")
        if path.is_file()
    ]
    for name in used:
        assert str(ours) in get_template(name).origin.name
    mails = {
        "account/email/password_changed",
        "account/email/password_reset",
        "account/email/password_reset_key",
        "account/email/unknown_account",
        "mfa/email/totp_activated",
        "mfa/email/totp_deactivated",
        "mfa/email/recovery_codes_generated",
        "mfa/email/webauthn_added",
        "mfa/email/webauthn_removed",
    }
    for prefix in mails:
        assert (theirs / f"{prefix}_message.txt").exists()  # the name allauth asks for
        assert f"{prefix}_message.txt" in used
        assert f"{prefix}_subject.txt" in used


def test_each_door_shows_our_frame(signed_in, submitter):
    client = signed_in(submitter)
    for pattern in account_urls.urlpatterns:
        if pattern.name in ("account_reset_password_from_key", "account_signup"):
            continue
        given = {"pk": 1} if "pk" in pattern.pattern.converters else {}
        answer = client.get(reverse(pattern.name, kwargs=given), follow=True)
        assert answer.status_code in (200, 404), pattern.name
        assert 'class="edge"' in answer.content.decode(), pattern.name


def test_there_is_no_way_to_sign_up(client, db):
    for address in ("signup/", "email/", "login/", "3rdparty/", "social/connections/"):
        assert client.get(f"/account/{address}").status_code == 404
    assert client.get(reverse("account_signup"))["Location"] == SIGN_IN
