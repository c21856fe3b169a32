"""No page says anything that cannot be said in another language."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client
from django.utils import translation

from intake import phrasebook
from intake.models import User
from tests.walk import walking
from tests.words.walk import CLOSE, OPEN, Known, outside

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(connection.vendor != "sqlite", reason="pages do not depend on the database"),
]
WALKERS = ("manager@demo.example", "reception@demo.example", "orrel@demo.example")


class Brackets:
    """A phrasebook that knows every phrase."""

    def say(self, text: str) -> str:
        return f"{OPEN}{text}{CLOSE}"

    def say_as(self, wanted: object, text: str) -> str:
        return self.say(text)


@pytest.fixture
def in_brackets(monkeypatch):
    """German says every message in brackets, in its English words."""
    spoken = translation._trans
    translation.gettext("")  # the functions stand there from the first use on
    translation.ngettext("", "", 1)

    def bracketed(text: str) -> str:
        return f"{OPEN}{text}{CLOSE}" if text.strip() else text

    monkeypatch.setattr(spoken, "gettext", bracketed)
    monkeypatch.setattr(spoken, "pgettext", lambda context, text: bracketed(text))
    monkeypatch.setattr(spoken, "ngettext", lambda one, many, count: bracketed(one if count == 1 else many))
    monkeypatch.setattr(
        spoken,
        "npgettext",
        lambda context, one, many, count: bracketed(one if count == 1 else many),
    )
    monkeypatch.setattr(phrasebook, "phrasebook", lambda language: Brackets())


def test_what_stands_outside_is_found():
    page = (
        f'<p title="Bare">{OPEN}Read <a>{OPEN}this{CLOSE} first</a>{CLOSE} and think</p><script>no</script>'
    )
    assert outside(page) == ["Bare", "and think"]


def test_every_word_of_every_page_can_be_said_in_another_language(laboratory, in_brackets, monkeypatch):
    monkeypatch.setattr(walking, "OF_ONE_NAME", 3)
    known = Known()
    left: dict[str, str] = {}
    for who in WALKERS:
        client = Client(headers={"accept-language": "de"})
        client.force_login(User.objects.get(email=who))
        for page in walking.pages_of(client):
            for text in outside(page.content.decode()) if page.reader else ():
                if not known.holds(text):
                    left.setdefault(text, page.address)
    assert left == {}
