"""Numbers that people read aloud and scanners read off labels.

A number is one kind letter, a random body and one check character by ISO/IEC 7064
MOD 37,36, which catches every single wrong character and nearly every swapped pair
(ISO/IEC 7064:2003, hybrid system; computed by python-stdnum). The body leaves out
O, 0, I, 1 so that nothing is misread; numbers whose check character would be one of
these are not given out.
"""

from __future__ import annotations

import secrets

from stdnum.iso7064 import mod_37_36

ALPHABET = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
BODY_LENGTH = 6

CONSIGNMENT = "C"
BOTTLE = "B"
ARRIVAL = "A"
PLACE = "P"
RUN = "R"


#: What each of the 256 bytes becomes in a body: as the alphabet has 32 characters, each equally often.
_CHARACTER_OF_BYTE = (ALPHABET * 8).encode()


def new_numbers(kind: str, count: int) -> list[str]:
    """``count`` random numbers of ``kind``; the database's unique constraint has the last word."""
    made: list[str] = []
    while len(made) < count:
        drawn = secrets.token_bytes(BODY_LENGTH * (count - len(made))).translate(_CHARACTER_OF_BYTE).decode()
        for start in range(0, len(drawn), BODY_LENGTH):
            body = kind + drawn[start : start + BODY_LENGTH]
            check = mod_37_36.calc_check_digit(body)
            if check in ALPHABET:
                made.append(body + check)
    return made


def new_number(kind: str) -> str:
    """One random number of ``kind``."""
    (number,) = new_numbers(kind, 1)
    return number


def tidy(text: str) -> str:
    """What was typed or scanned, without the spaces and dashes people put in."""
    return "".join(character for character in text.upper() if character.isalnum())


def is_number(text: str, kind: str | None = None) -> bool:
    """Whether ``text`` is a well-formed number (of ``kind``) whose check character is right."""
    number = tidy(text)
    return (
        len(number) == BODY_LENGTH + 2
        and number.isascii()
        and (kind is None or number[0] == kind)
        and bool(mod_37_36.is_valid(number))
    )


def grouped(number: str) -> str:
    """A number in groups of four, as printed and read aloud."""
    return f"{number[:4]} {number[4:]}"
