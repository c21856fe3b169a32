"""The health page: whether the database answers, and whether clocks agree."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.db import connection
from django.utils import timezone

from labqueue.views.health import clock_words

pytestmark = pytest.mark.django_db


def test_all_is_well(client):
    assert client.get("/health/").json() == {"database": "answers", "clock": "agrees with the database's"}


@pytest.mark.parametrize(
    ("apart_s", "words"),
    [
        (2.0, "agrees with the database's"),
        (-2.0, "agrees with the database's"),
        (2.04, "is 2.0 s ahead of the database's"),
        (-61.5, "is 61.5 s behind the database's"),
    ],
)
def test_clocks_more_than_two_seconds_apart_are_told(apart_s, words, caplog):
    assert clock_words(apart_s) == words
    assert ("apart" in caplog.text) is ("agrees" not in words)


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite has the clock of its machine")
def test_another_machines_clock_is_compared(client, monkeypatch):
    true = timezone.now
    monkeypatch.setattr("labqueue.views.health.timezone.now", lambda: true() + timedelta(seconds=90))
    words = client.get("/health/").json()["clock"]
    assert words.startswith("is 9") and words.endswith("ahead of the database's")
    assert isinstance(true(), datetime)
