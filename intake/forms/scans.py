"""What came out of the scanner or the keyboard at the desk, and what it means.

One box takes everything. A *number* is one of ours. A *command* begins with a full stop, which
sits on the same key of nearly every keyboard and which no number of ours contains, so that a
scanned card and a typed word are the same and nothing scanned by accident is a command.
Digits alone mark what is wrong. An answer (a pH, a remark) is taken only while it is asked for.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from enum import StrEnum

from django import forms

from intake import numbers

PREFIX = "."
LONGEST = 200


class Kind(StrEnum):
    NOTHING = "nothing"
    BOTTLE = "bottle"
    CONSIGNMENT = "consignment"
    ARRIVAL = "arrival"
    PLACE = "place"
    MISREAD = "misread"
    OTHER = "other"
    MARKS = "marks"
    PH = "ph"
    REMARK = "remark"
    OK = "ok"
    AGREE = "agree"
    UNDO = "undo"
    ADD = "add"
    LEAVE = "leave"
    NO_COMMAND = "no command"


#: The words behind the full stop. They are printed on the card of commands.
COMMANDS: dict[str, Kind] = {
    "OK": Kind.OK,
    "AGREE": Kind.AGREE,
    "UNDO": Kind.UNDO,
    "ADD": Kind.ADD,
    "LEAVE": Kind.LEAVE,
}

_PH = re.compile(r"(?P<low>\d{1,2}(?:\.\d{1,2})?)(?:\s*[-–]\s*(?P<high>\d{1,2}(?:\.\d{1,2})?))?")


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing said at the desk. ``value`` is a number, the marks, a pH or the text itself.

    ``meant`` says that it was typed as a command, so that nothing else can have been meant.
    """

    kind: Kind
    value: str = ""
    ph: tuple[float, float] | None = None
    meant: bool = False


def ph_of(text: str) -> tuple[float, float] | None:
    """``1.5`` or ``1-2`` as the range a strip shows; whether it can be a pH is asked later."""
    found = _PH.fullmatch(text.strip().replace(",", "."))
    if found is None:
        return None
    low = float(found["low"])
    return low, float(found["high"]) if found["high"] else low


def _marks(text: str) -> Entry | None:
    """Digits of faults, each at most once, in the order of the list."""
    digits = text.replace(" ", "")
    if digits and len(set(digits)) == len(digits) and set(digits) <= set("123456789"):
        return Entry(Kind.MARKS, "".join(sorted(digits)))
    return None


def _command(text: str) -> Entry:
    word = text[len(PREFIX) :].strip().upper()
    if word in COMMANDS:
        return Entry(COMMANDS[word])
    if word.startswith("PH"):
        ph = ph_of(word[2:])
        return Entry(Kind.PH, word[2:].strip(), ph) if ph else Entry(Kind.NO_COMMAND, text)
    marked = _marks(word)
    return replace(marked, meant=True) if marked else Entry(Kind.NO_COMMAND, text)


def _number(text: str) -> Entry | None:
    number = numbers.tidy(text)
    kinds = {
        numbers.BOTTLE: Kind.BOTTLE,
        numbers.CONSIGNMENT: Kind.CONSIGNMENT,
        numbers.ARRIVAL: Kind.ARRIVAL,
        numbers.PLACE: Kind.PLACE,
    }
    if numbers.is_number(text) and number[0] in kinds:
        return Entry(kinds[number[0]], number)
    return None


def _looks_like_ours(text: str) -> bool:
    """Whether ``text`` has the shape of a number of ours, whatever its check character says."""
    number = numbers.tidy(text)
    return (
        len(number) == numbers.BODY_LENGTH + 2
        and number[0] in (numbers.BOTTLE, numbers.CONSIGNMENT, numbers.ARRIVAL, numbers.PLACE)
        and set(number[1:]) <= set(numbers.ALPHABET + "01OI")
        and any(character.isdigit() for character in number)
    )


def read(text: str, asking: str = "") -> Entry:
    """What ``text`` means while ``asking`` (``"ph"``, ``"remark"`` or nothing) stands open."""
    text = text.strip()[:LONGEST]
    if not text:
        return Entry(Kind.NOTHING)
    if text.startswith(PREFIX):
        return _command(text)
    number = _number(text)
    if number is not None:
        return number
    if asking == "remark":
        return Entry(Kind.REMARK, text)
    if asking == "ph":
        ph = ph_of(text)
        if ph is not None:
            return Entry(Kind.PH, text, ph)
    elif (marked := _marks(text)) is not None:
        return marked
    return Entry(Kind.MISREAD if _looks_like_ours(text) else Kind.OTHER, text)


class ScanForm(forms.Form):
    """One entry at the desk with how the desk stood when it was made.

    ``on`` is the bottle or consignment on the screen, ``asking`` the answer that is waited
    for, ``marks`` the faults already marked. ``age_s`` is how many seconds ago it was typed,
    by the desk's own stopwatch, where the way to the server took its time.
    """

    text = forms.CharField(required=False, max_length=2000)
    key = forms.CharField(required=False, max_length=40)
    on = forms.CharField(required=False, max_length=12)
    asking = forms.ChoiceField(required=False, choices=[("", ""), ("ph", ""), ("remark", "")])
    marks = forms.RegexField(r"^[1-9]{0,9}$", required=False)
    token = forms.CharField(required=False, max_length=64)
    age_s = forms.FloatField(required=False, min_value=0, max_value=86_400)

    def entry(self) -> Entry:
        said = self.cleaned_data
        return read(said["key"] or said["text"], said["asking"])
