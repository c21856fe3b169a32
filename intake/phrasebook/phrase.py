"""One phrase: a sentence with named holes, and how it is found in a text.

A phrase is matched by looking for its fixed parts one after the other, never by a regular expression:
so a text costs time by its length alone, whatever somebody wrote into it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import islice
from string import Formatter

#: Ways tried to take one text apart by one phrase. Our choice.
MOST_WAYS = 24

#: A hole and what fills it.
Filling = tuple[tuple[str, str], ...]


class PhraseError(ValueError):
    """A phrase or its translation cannot be read, or the two do not have the same holes."""


def parts_of(text: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The fixed parts of ``text``, one more than holes (some may be empty), and the names of its holes."""
    fixed, holes = [""], []
    try:
        for literal, name, spec, conversion in Formatter().parse(text):
            fixed[-1] += literal
            if name is not None:
                if not name.isidentifier() or spec or conversion:
                    raise PhraseError(f"{text!r} has a hole without a plain name")
                holes.append(name)
                fixed.append("")
    except ValueError as fault:
        raise PhraseError(f"{text!r}: {fault}") from fault
    return tuple(fixed), tuple(holes)


@dataclass(frozen=True, slots=True)
class Phrase:
    """``text`` with its holes, and ``said``, the same in another language."""

    text: str
    said: str
    fixed: tuple[str, ...] = field(init=False)
    holes: tuple[str, ...] = field(init=False)

    def __post_init__(self) -> None:
        fixed, holes = parts_of(self.text)
        _, others = parts_of(self.said)
        if set(holes) != set(others) or len(set(holes)) != len(holes):
            raise PhraseError(f"{self.text!r} and {self.said!r} do not have the same holes, each once")
        object.__setattr__(self, "fixed", fixed)
        object.__setattr__(self, "holes", holes)

    @property
    def weight(self) -> int:
        """How much of it is fixed, in characters."""
        return sum(map(len, self.fixed))

    @property
    def words(self) -> int:
        """How many words of it are fixed."""
        return sum(any(map(str.isalpha, word)) for part in self.fixed for word in part.split())

    def matches(self, text: str) -> Iterator[Filling]:
        """What may fill the holes (it has some): first with each fixed part as early as it comes."""
        first, *middle, last = self.fixed
        if len(text) < len(first) + len(last) or not (text.startswith(first) and text.endswith(last)):
            return
        inner = text[len(first) : len(text) - len(last)]
        for found in islice(_ways(inner, middle), MOST_WAYS):
            yield tuple(zip(self.holes, found, strict=True))

    def fill(self, values: dict[str, str]) -> str:
        return self.said.format_map(values)


def _ways(text: str, middle: list[str]) -> Iterator[list[str]]:
    """Every way to take ``text`` apart at ``middle``, in order. No way is followed that leads nowhere."""
    if not middle:
        yield [text]
        return
    part, *rest = middle
    at = text.find(part)
    while at >= 0 and _holds(text, at + len(part), rest):
        for others in _ways(text[at + len(part) :], rest):
            yield [text[:at], *others]
        at = text.find(part, at + 1)


def _holds(text: str, start: int, parts: list[str]) -> bool:
    for part in parts:
        at = text.find(part, start)
        if at < 0:
            return False
        start = at + len(part)
    return True
