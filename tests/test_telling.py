"""The record in plain sentences: every act has words of its own, and no value is left raw."""

import re
from pathlib import Path

import pytest
from django.conf import settings

from intake.models import RecordEntry
from intake.telling import MOST_DETAILS, TELLERS, say_value, tell

#: Acts on people, calendars, groups, rulebooks and storage places; none concerns a consignment.
ELSEWHERE = ("person.", "policy.", "calendar.", "group.", "invitation.", "rulebook.", "place.")


def acts() -> set[str]:
    folder = Path(settings.BASE_DIR) / "intake" / "actions"
    written = re.compile(r'record\.write\([^)]*?verb="([^"]+)"', re.DOTALL)
    return {verb for path in folder.glob("*.py") for verb in written.findall(path.read_text("utf-8"))}


def test_every_act_on_a_consignment_has_its_own_words():
    found = {verb for verb in acts() if not verb.startswith(ELSEWHERE)}
    assert "consignment.send" in found
    assert found <= set(TELLERS)


def test_an_act_without_words_is_still_told():
    told = tell(RecordEntry(verb="bottle.dance", subject="bottle B1", after={"to_brim": True}), "UTC")
    assert told.sentence == "did “bottle.dance” to bottle B1"
    assert told.details == ("filled to the brim: not stated → yes",)


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (None, "not stated"),
        ("", "not stated"),
        ([], "not stated"),
        (True, "yes"),
        (False, "no"),
        (0.45, "0.45"),
        (["a", "b", "c"], "a, b and c"),
        ({"nitrate": "too late"}, "nitrate (too late)"),
        ({}, "nothing"),
        # Kathmandu is 5 h 45 min ahead of UTC (IANA tz database).
        ("2026-03-03T08:00:00Z", "2026-03-03 13:45 Asia/Kathmandu"),
        ("2026-03-03T08:00:00.123Z", "2026-03-03 13:45 Asia/Kathmandu"),
        ("2026-03-03", "2026-03-03"),
        ("Weir 2026-03-03T08:00:00Z", "Weir 2026-03-03T08:00:00Z"),
    ],
)
def test_values_are_said_as_people_read_them(value, words):
    assert say_value(value, "Asia/Kathmandu") == words


def test_long_lists_are_counted():
    added = [f"S{number}" for number in range(MOST_DETAILS + 5)]
    told = tell(RecordEntry(verb="samples.enter", after={"added": added, "samples": len(added)}), "UTC")
    assert len(told.details) == MOST_DETAILS + 1
    assert told.details[-1] == "and 5 more"


@pytest.mark.parametrize("broken", [{"added": 3, "changed": "x"}, {"changed": {"S1": 7}}, {}])
def test_odd_content_never_breaks_the_page(broken):
    for verb in TELLERS:
        assert tell(RecordEntry(verb=verb, subject="it", before=broken, after=broken), "UTC").sentence
