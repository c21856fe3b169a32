"""The list of phrases is what stands in the code, and German has all of it."""

from __future__ import annotations

import ast

import pytest

from intake.phrasebook import phrasebook, said
from intake.phrasebook.book import OWN, Phrasebook
from intake.phrasebook.phrase import Phrase, PhraseError
from tests.words.gathering import PHRASES, ROOT, catalogue, merged, path_of, present
from tests.words.phrases import gathered, phrases_of


def test_the_catalogue_is_what_stands_in_the_code():
    """``make words`` renews it."""
    kept = catalogue(PHRASES)
    assert [entry.msgid for entry in kept] == list(gathered(ROOT))
    assert str(merged(present(PHRASES), kept)) == path_of(PHRASES).read_text()


def test_german_has_every_phrase_with_the_same_holes():
    for entry in catalogue(PHRASES):
        assert entry.msgstr.strip(), entry.msgid
        Phrase(entry.msgid, entry.msgstr)
    assert set(phrasebook("de").phrases) | set(phrasebook("de").exact) == {
        phrase.text if phrase.holes else phrase.fixed[0]
        for phrase in (Phrase(text, text) for text in gathered(ROOT))
    }


def test_a_phrase_given_back_by_itself_is_the_phrase():
    for text in gathered(ROOT):
        phrase = Phrase(text, text)
        if not phrase.holes:
            continue
        filled = {hole: f"<{place}>" for place, hole in enumerate(phrase.holes)}
        told = phrase.fill(filled)
        assert any(phrase.fill(dict(filling)) == told for filling in phrase.matches(told)), text


def test_what_is_gathered():
    source = '''
"""A docstring is for whoever writes code."""
CARE = "Wear gloves"
def told(case, minutes, ions, book):
    """Neither is this one."""
    words = ["frozen and thawed"]
    words.append("chilled")
    if case.kind == "of no kind":
        raise ValueError("nobody reads this one")
    found = case.find("seen.cold" if minutes else "frozen_at")
    return f"Put in the cold {say_span(minutes)} after {minutes or 0}; rulebook {book.name}. {CARE}."
'''
    assert [phrase for _line, phrase in phrases_of(source, {})] == [
        "Wear gloves",
        "frozen and thawed",
        "chilled",
        "Put in the cold {minutes} after {minutes_2}; rulebook {book_name}. Wear gloves.",
    ]
    ast.parse(source)


def test_english_is_given_back_as_it_is():
    assert said("Not filtered", "en") == "Not filtered"
    assert said("Not filtered", "de-AT") == said("Not filtered", "de") != "Not filtered"
    assert said("Not filtered", "fr") == "Not filtered"
    assert said("", "de") == ""


def test_a_sentence_in_german():
    """Judged by a person who speaks it; here so that a change of shape is seen."""
    assert said(
        "nitrate: 48 h from the end of the composite, 24 Oct 2026 13:05 Europe/Lisbon, chilled and filtered, "
        "rulebook House, version 2, row 5",
        "de",
    ) == (
        "Nitrat: 48 h ab dem Ende der Mischprobe, 24 Okt 2026 13:05 Europe/Lisbon, gekühlt und filtriert, "
        "Regelwerk House, Version 2, Zeile 5"
    )


@pytest.mark.parametrize(
    "text", ["{0} is late", "{} is late", "{a!r} is late", "{a:>3} is late", "{ is late"]
)
def test_a_phrase_has_plain_names_in_its_holes(text: str):
    with pytest.raises(PhraseError):
        Phrase(text, text)
    assert Phrasebook({text: text}).say("4 is late") == "4 is late"


def test_a_translation_without_a_hole_is_left_out():
    with pytest.raises(PhraseError):
        Phrase("{ion} is late", "zu spät")
    assert Phrasebook({"{ion} is late": "zu spät"}).say("nitrate is late") == "nitrate is late"


def test_own_words_have_holes_that_are_used():
    used = {hole for text in gathered(ROOT) for hole in Phrase(text, text).holes}
    assert used >= OWN - {"words"}
