"""Numbers: the check character of ISO/IEC 7064 MOD 37,36 and what people do to numbers."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake import numbers
from intake.actions.numbering import free_numbers
from intake.models import Bottle

ANY = "0123456789ABCDEFGHJKLMNOPQRSTUVWXYZI"


def iso_7064_mod_37_36(body: str) -> str:
    """The check character, by the hybrid procedure of ISO/IEC 7064:2003 worked by hand."""
    characters = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    rest = 36
    for character in body:
        rest = (rest + characters.index(character)) % 36 or 36
        rest = rest * 2 % 37
    return characters[(37 - rest) % 36]


def test_a_new_number_names_its_kind_and_carries_the_standards_check_character():
    for kind in (numbers.BOTTLE, numbers.CONSIGNMENT, numbers.ARRIVAL):
        number = numbers.new_number(kind)
        assert number[0] == kind
        assert number[-1] == iso_7064_mod_37_36(number[:-1])
        assert numbers.is_number(number, kind)


def test_no_number_holds_a_character_that_is_misread():
    assert not set("".join(numbers.new_number("B")[1:] for _ in range(300))) & set("OI01")


@given(st.integers(0, 7), st.sampled_from(ANY))
def test_every_single_wrong_character_is_refused(place, wrong):
    number = numbers.new_number(numbers.BOTTLE)
    changed = number[:place] + wrong + number[place + 1 :]
    assert numbers.is_number(changed) == (changed == number)


def test_spaces_dashes_and_small_letters_do_not_matter():
    number = numbers.new_number(numbers.BOTTLE)
    assert numbers.tidy(f" {number[:4].lower()}-{number[4:]} ") == number
    assert numbers.is_number(numbers.grouped(number))


@given(st.text())
def test_any_text_can_be_asked(text):
    assert numbers.is_number(text) in (True, False)


@pytest.mark.django_db
def test_numbers_that_meet_are_drawn_again(monkeypatch):
    """From a body of two characters chance draws the same again and again; none is given out twice."""
    monkeypatch.setattr(numbers, "BODY_LENGTH", 2)
    drawn = free_numbers(Bottle, numbers.BOTTLE, 500)
    assert len(set(drawn)) == 500


def test_ten_thousand_numbers_are_well_formed():
    drawn = [numbers.new_number(numbers.BOTTLE) for _ in range(10_000)]
    assert all(numbers.is_number(number, numbers.BOTTLE) for number in drawn)
    assert len(set(drawn)) > 9_990
