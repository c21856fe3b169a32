"""Codes from an app and recovery codes."""

from __future__ import annotations

import base64
import hashlib
import hmac
import re
import struct
import time

import pytest
from django.contrib.auth import SESSION_KEY
from django.core import mail
from django.core.cache import cache
from django.test import Client

from tests.conftest import PASSWORD

SWITCH_ON = "/account/second-factor/app/on/"


def code_of(secret: str, at: float) -> str:
    """The six digits of RFC 6238 (SHA-1, 30 s), worked out here from the RFC, not by allauth."""
    counter = struct.pack(">Q", int(at) // 30)
    digest = hmac.new(base64.b32decode(secret), counter, hashlib.sha1).digest()
    offset = digest[-1] & 0x0F
    number = struct.unpack(">I", digest[offset : offset + 4])[0] & 0x7FFFFFFF
    return f"{number % 1_000_000:06}"


def test_the_codes_are_those_of_rfc_6238():
    """RFC 6238, appendix B, first SHA-1 row: time 59 s gives 94287082; its last six digits."""
    secret = base64.b32encode(b"12345678901234567890").decode()
    assert code_of(secret, 59) == "287082"
    assert code_of(secret, 1111111109) == "081804"


@pytest.fixture(autouse=True)
def nobody_tried_yet():
    cache.clear()
    yield
    cache.clear()


@pytest.fixture
def guarded(submitter):
    """A person with codes switched on through the pages, and the app's secret."""
    client = Client()
    client.post("/account/sign-in/", {"login": submitter.email, "password": PASSWORD})
    asked = client.get(SWITCH_ON)
    assert asked["Location"].startswith("/account/confirm-it-is-you/")
    page = client.post(asked["Location"], {"password": PASSWORD}, follow=True).content.decode()
    secret = re.search(r'<code class="long">([A-Z2-7]+)</code>', page).group(1)
    answer = client.post(
        "/account/second-factor/app/on/", {"code": code_of(secret, time.time())}, follow=True
    )
    assert "Recovery codes" in answer.content.decode()
    codes = re.search(r'<pre class="code-block">(.*?)</pre>', answer.content.decode(), re.S).group(1).split()
    return submitter, secret, codes


def begin(person):
    client = Client()
    answer = client.post("/account/sign-in/", {"login": person.email, "password": PASSWORD})
    assert answer["Location"].startswith("/account/second-factor/code/")
    assert SESSION_KEY not in client.session
    return client


def offer(client, code):
    return client.post("/account/second-factor/code/", {"code": code}, follow=True)


def test_a_wrong_code_is_explained_and_the_right_one_lets_in(guarded, monkeypatch):
    person, secret, _ = guarded
    client = begin(person)
    page = offer(client, "000000").content.decode()
    assert "This code does not fit" in page
    assert SESSION_KEY not in client.session
    cache.clear()  # the code that switched it on counts as used for half a minute
    offer(client, code_of(secret, time.time()))
    assert client.session[SESSION_KEY] == str(person.pk)


def test_a_code_works_once(guarded):
    person, secret, _ = guarded
    cache.clear()
    code = code_of(secret, time.time())
    offer(begin(person), code)
    second = begin(person)
    offer(second, code)
    assert SESSION_KEY not in second.session


def test_a_recovery_code_works_once(guarded):
    person, _, codes = guarded
    assert len(codes) >= 8
    first = begin(person)
    offer(first, codes[0])
    assert first.session[SESSION_KEY] == str(person.pk)
    second = begin(person)
    offer(second, codes[0])
    assert SESSION_KEY not in second.session


def test_guessing_codes_is_stopped(guarded):
    person, _, codes = guarded
    client = begin(person)
    for _ in range(6):
        offer(client, "000000")
    offer(client, codes[0])
    assert SESSION_KEY not in client.session


@pytest.mark.django_db(transaction=True)
def test_switching_on_is_told_by_mail(guarded):
    assert any("asks for a code from your app" in letter.body for letter in mail.outbox)


def test_switching_off_asks_again_who_it_is(guarded, submitter):
    client = Client()
    client.force_login(submitter)
    answer = client.get("/account/second-factor/app/off/")
    assert answer.status_code == 302
    assert "confirm" in answer["Location"]
