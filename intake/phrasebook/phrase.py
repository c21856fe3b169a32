"""One phrase: a sentence with named holes, and how it is found in a text.

A phrase is matched by looking for its fixed parts one after the other, never by a regular expression:
so a text costs time by its length alone, whatever somebody wrote into it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from string import Formatter

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
        """What may fill the holes: first as early as each fixed part comes, then as late as it may."""
        first, *middle, last = self.fixed
        if len(text) < len(first) + len(last) or not (text.startswith(first) and text.endswith(last)):
            return
        inner = text[len(first) : len(text) - len(last)]
        early = _early(inner, middle)
        if early is not None:
            yield tuple(zip(self.holes, early, strict=True))
            late = _late(inner, middle) if middle else early
            if late != early:
                yield tuple(zip(self.holes, late, strict=True))

    def fill(self, values: dict[str, str]) -> str:
        return self.said.format_map(values)


def _early(text: str, middle: list[str]) -> list[str] | None:
    found, rest = [], text
    for part in middle:
        before, there, rest = rest.partition(part) if part else ("", "", rest)
        if part and not there:
            return None
        found.append(before)
    return [*found, rest]


def _late(text: str, middle: list[str]) -> list[str]:
    """Only for what ``_early`` has found: every part is there."""
    found, rest = [], text
    for part in reversed(middle):
        rest, _, after = rest.rpartition(part) if part else (rest, "", "")
        found.append(after)
    return [rest, *reversed(found)]
