"""Plain data, as JSON holds it, to and from the frozen data of the rules.

A ``Reader`` walks one JSON object, notes every fault with its place and goes on, so that a
person sees all that is wrong at once.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import MISSING, dataclass, fields, is_dataclass
from datetime import datetime
from enum import Enum
from functools import cache, lru_cache
from operator import attrgetter
from typing import Any, TypeVar

from intake.rules.moments import EARLIEST, LATEST, within_time

Choice = TypeVar("Choice", bound=Enum)


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault: ``where`` names the object (``row 3``), ``field`` the field in it."""

    where: str
    field: str
    message: str

    def __str__(self) -> str:
        place = ", ".join(part for part in (self.where, self.field) if part)
        return f"{place}: {self.message}" if place else self.message


class PlainDataError(ValueError):
    """The data cannot be read; ``problems`` says everything that is wrong with it."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = tuple(problems)


class Reader:
    """Reads the fields of one JSON object. A field that is absent or null reads as ``None``."""

    __slots__ = ("_asked", "_data", "_problems", "where")

    def __init__(self, data: object, where: str, problems: list[Problem]) -> None:
        self.where, self._problems = where, problems
        self._asked: set[str] = set()
        self._data: Mapping[str, Any] = {}
        if isinstance(data, Mapping):
            self._data = data
        else:
            self.fault("", f"should be an object with named fields, not {_kind(data)}.")

    def fault(self, field: str, message: str) -> None:
        """Note that something is wrong with ``field``."""
        self._problems.append(Problem(self.where, field, message))

    def value(self, field: str) -> Any:
        """Whatever stands in ``field``."""
        self._asked.add(field)
        return self._data.get(field)

    def has(self, field: str) -> bool:
        """Whether ``field`` is there and not null."""
        return self.value(field) is not None

    def names(self, field: str) -> bool:
        """Whether ``field`` is there, be it null."""
        self._asked.add(field)
        return field in self._data

    def text(self, field: str, *, needed: bool = False) -> str:
        """A text, empty when absent; ``needed`` texts must say something."""
        value = self.value(field)
        if value is not None and not isinstance(value, str):
            self.fault(field, f"should be a text, not {_kind(value)}.")
            return ""
        if needed and not (value or "").strip():
            self.fault(field, "is missing; please give it.")
        return value or ""

    def number(self, field: str, least: float = -math.inf, most: float = math.inf) -> float | None:
        """A finite number from ``least`` to ``most``."""
        value = self.value(field)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.fault(field, f"should be a number, not {_kind(value)}.")
            return None
        try:
            finite = math.isfinite(value)
        except OverflowError:
            finite = False
        if not finite:
            self.fault(field, "should be a finite number.")
            return None
        if not least <= value <= most:
            reach = f"at least {least:g}" if most == math.inf else f"from {least:g} to {most:g}"
            self.fault(field, f"is {value:g}; it should be {reach}.")
            return None
        return value

    def whole(self, field: str, least: int, most: int) -> int | None:
        """A whole number from ``least`` to ``most``."""
        value = self.number(field, least, most)
        if value is not None and value != int(value):
            self.fault(field, f"is {value:g}; it should be a whole number.")
            return None
        return None if value is None else int(value)

    def flag(self, field: str) -> bool | None:
        """True or false."""
        value = self.value(field)
        if value is not None and not isinstance(value, bool):
            self.fault(field, f"should be true or false, not {_kind(value)}.")
            return None
        return value

    def choice(self, field: str, choices: type[Choice]) -> Choice | None:
        """One of the values of an enumeration."""
        value = self.value(field)
        return None if value is None else self._choice(field, value, choices)

    def choices(self, field: str, choices: type[Choice]) -> tuple[Choice, ...] | None:
        """A list of values of an enumeration."""
        value = self.value(field)
        if value is None:
            return None
        if not isinstance(value, list | tuple):
            self.fault(field, f"should be a list, not {_kind(value)}.")
            return None
        read = [self._choice(field, item, choices) for item in value]
        return tuple(item for item in read if item is not None)

    def _choice(self, field: str, value: object, choices: type[Choice]) -> Choice | None:
        for choice in choices:
            if choice.value == value:
                return choice
        allowed = ", ".join(repr(choice.value) for choice in choices)
        self.fault(field, f"is {value!r}; it can be one of {allowed}.")
        return None

    def texts(self, field: str) -> tuple[str, ...]:
        """A list of texts, empty when absent."""
        value = self.value(field)
        if value is None:
            return ()
        if not isinstance(value, list | tuple) or not all(isinstance(item, str) for item in value):
            self.fault(field, "should be a list of texts.")
            return ()
        return tuple(value)

    def moment(self, field: str) -> datetime | None:
        """A moment as ISO 8601 text with its offset from UTC."""
        value = self.value(field)
        if value is None:
            return None
        try:
            moment = datetime.fromisoformat(value)
        except (TypeError, ValueError):
            self.fault(field, f"is {value!r}; write a moment like 2026-11-24T13:05:00+01:00.")
            return None
        if moment.utcoffset() is None:
            self.fault(field, f"is {value!r}; say how far its clock is from UTC, like +01:00 or Z.")
            return None
        if not EARLIEST <= moment <= LATEST:
            self.fault(field, f"is {value!r}; it lies outside the years 1 to 9999.")
            return None
        return moment

    def part(self, field: str) -> Reader | None:
        """The object in ``field``."""
        value = self.value(field)
        return None if value is None else Reader(value, _join(self.where, field), self._problems)

    def parts(self, field: str, called: str) -> list[Reader]:
        """The objects listed in ``field``, each called ``called`` and its place in the list."""
        value = self.value(field)
        if value is None:
            return []
        if not isinstance(value, list | tuple):
            self.fault(field, f"should be a list, not {_kind(value)}.")
            return []
        return [
            Reader(item, _join(self.where, f"{called} {place}"), self._problems)
            for place, item in enumerate(value, 1)
        ]

    def finish(self) -> None:
        """Note the fields that nobody asked for: most often a slip of the pen."""
        for field in self._data:
            if field not in self._asked:
                known = ", ".join(sorted(self._asked))
                self.fault(str(field), f"is not a field here; the fields are {known}.")


def _join(where: str, part: str) -> str:
    return f"{where}, {part}" if where else part


def _kind(value: object) -> str:
    names = {bool: "true or false", str: "a text", list: "a list", dict: "an object", type(None): "nothing"}
    return names.get(type(value), "a number")


_AS_IT_IS = frozenset({str, bool, type(None)})


def to_plain(value: Any) -> Any:
    """Data of the rules as JSON holds it.

    Fields that hold their default are left out, so that a field added later changes nothing.
    Moments become UTC, sets become sorted lists, whole numbers lose their point.
    """
    kind = type(value)
    if kind in _AS_IT_IS:
        return value
    if kind is float or kind is int:  # asked early, since most facts are figures
        number = float(value)
        return int(number) if number.is_integer() else number
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, datetime):
        return _spelt(value)
    if is_dataclass(kind):
        names, defaults, held_by = _shape(kind)
        return {
            name: held if type(held) in _AS_IT_IS else to_plain(held)
            for name, default, held in zip(names, defaults, held_by(value), strict=True)
            if held is not default and (default is MISSING or held != default)
        }
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, tuple):
        return [to_plain(item) for item in value]
    return value


def every_field(value: Any) -> dict[str, Any]:
    """The fields of one dataclass as JSON holds them, defaults included."""
    return {field.name: to_plain(getattr(value, field.name)) for field in fields(value)}


@cache
def _shape(kind: type) -> tuple[tuple[str, ...], tuple[object, ...], Callable[[Any], Sequence[object]]]:
    """The fields that making a ``kind`` takes: names, defaults (or ``MISSING``), how to get all at once."""
    made_of = [field for field in fields(kind) if field.init]
    names = tuple(field.name for field in made_of)
    defaults = tuple(
        field.default if field.default_factory is MISSING else field.default_factory() for field in made_of
    )
    several = attrgetter(*names) if len(names) > 1 else lambda value: [getattr(value, name) for name in names]
    return names, defaults, several


@lru_cache(maxsize=4096)
def _spelt(moment: datetime) -> str:
    return within_time(moment).isoformat().replace("+00:00", "Z")


_spell = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False).encode


def digest_of(plain: object) -> str:
    """SHA-256 of plain data in one canonical spelling, as 64 hexadecimal digits."""
    return hashlib.sha256(_spell(plain).encode("ascii")).hexdigest()
