"""What a person wrote stays what that person wrote, whatever it is like."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from intake.phrasebook import phrasebook, said_reason
from intake.phrasebook.book import LONGEST
from tests.phrasebook.pseudo import book

#: Words of the phrases, their punctuation, holes and what a regular expression is made of.
ODD = [
    "and", "warm", "; rulebook", ", asks for any filter", "{ions}", "{", "%s", "a.*(b|c)+\\d", "[^", "⟦",
    "nitrate", "with acid", ". Not filtered.", "Ä", "“", "version 3", "  ", "1 Nov 2026", "row 4, row 5",
]  # fmt: skip
SENTENCES = [
    "Filtered at 1.2 µm; rulebook {own}, version 3, asks for 0.45 µm or finer.",
    "The bottle felt warm on arrival; rulebook {own}, version 1, asks for at most 6 °C for nitrate.",
    "The acid is of the grade “{own}”, which is not made for analysis.",
    "Rows 3 and 5 both call their sample “{own}”. Give one of them another id.",
    "nitrate: 48 h from 1 Nov 2026 14:05 UTC, chilled and filtered, rulebook {own}, version 2, row 7",
    "No clock starts anew: rulebook {own}, version 1, counts from collection, and sets no time by which acid "
    "has to be in.",
]


@pytest.mark.parametrize("sentence", SENTENCES)
@pytest.mark.parametrize("own", ODD)
def test_odd_words_stay(sentence: str, own: str) -> None:
    assert own in book().say(sentence.format(own=own))
    assert own in phrasebook("de").say(sentence.format(own=own))


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(SENTENCES), st.lists(st.sampled_from(ODD) | st.text(max_size=12), max_size=4))
def test_any_words_raise_nothing_and_stay(sentence: str, words: list[str]) -> None:
    own = "".join(words)
    assert own.strip() in phrasebook("de").say(sentence.format(own=own))


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=60) | st.lists(st.sampled_from([*ODD, *SENTENCES, " "]), max_size=8).map("".join))
def test_any_text_can_be_said(text: str) -> None:
    for one in (book(), phrasebook("de")):
        said, _known = one.recognise(text)
        assert isinstance(said, str)
        assert one.recognise(text)[0] == said


def test_a_text_made_to_cost_much_is_left_after_so_many_steps() -> None:
    for text in ("and " * 900, "with " * 700, "; rulebook , asks for " * 150, "a, " * 1300, "1 to " * 700):
        assert len(text) <= LONGEST
        book().recognise(text)
    assert book().recognise("x" * (LONGEST + 1)) == ("x" * (LONGEST + 1), 0)


@pytest.mark.parametrize("typed", ["Not filtered", "too warm", "with acid", "frozen", "run it again", ""])
def test_a_reason_that_a_person_wrote_is_shown_as_it_is(typed: str) -> None:
    assert said_reason(typed, "de") == typed


def test_a_reason_that_the_program_wrote_is_said_with_the_words_of_the_group_kept() -> None:
    told = "The water was not filtered; rulebook House, version 1, asks for any filter."
    assert said_reason(f"{told} The group's word: go on with a reservation. “Not filtered”", "de") == (
        "Das Wasser wurde nicht filtriert; das Regelwerk House, Version 1, verlangt irgendeinen Filter. "
        "Antwort der Gruppe: mit Vorbehalt weitermachen. „Not filtered“"
    )
    assert said_reason("run RDQ9 BW98 failed: acid", "de") == "Lauf RDQ9 BW98 misslungen: acid"


def test_a_list_with_a_word_that_nobody_knows_is_said_around_it() -> None:
    told = "No line measures kryptonite. This bottle is for the anion line, which cannot measure sodium."
    assert "kryptonite" in phrasebook("de").say(told)
    sentence = (
        "This bottle for anions was acidified with nitric acid, which adds nitrate and destroys what is to "
        "be measured: chloride, kryptonite and nitrate."
    )
    assert phrasebook("de").say(sentence).endswith(": Chlorid, kryptonite und Nitrat.")
