"""How the rules say numbers, moments and lists in sentences that people read."""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import datetime
from functools import lru_cache

from intake.rules.moments import local

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

#: Below these, rounding to so many digits leaves whole numbers as they are.
_WHOLE_BELOW = tuple(10.0**digits for digits in range(18))


@lru_cache(maxsize=256)
def say_number(value: float, digits: int = 4) -> str:
    """``value`` with at most ``digits`` significant digits, no exponent and no idle zeros.

    Whole numbers are said to their last digit.
    """
    text = f"{value + 0.0:.{digits}g}"
    if abs(value) < _WHOLE_BELOW[digits] and "e" not in text:
        return text
    if not math.isfinite(value):
        return str(value)
    if value == int(value) and abs(value) < 1e15:
        return str(int(value))
    return f"{float(text):.10f}".rstrip("0").rstrip(".")


def say_moment(moment: datetime, zone: str) -> str:
    """``moment`` on the wall clock of ``zone``, with the zone named."""
    there = local(moment, zone)
    return f"{there.day} {MONTHS[there.month - 1]} {there.year} {there.hour:02}:{there.minute:02} {zone}"


def say_date(moment: datetime, zone: str) -> str:
    """The local date of ``moment`` in ``zone``."""
    there = local(moment, zone)
    return f"{there.day} {MONTHS[there.month - 1]} {there.year}"


def say_list(words: Iterable[str], joint: str = "and") -> str:
    """``a``, ``a and b`` or ``a, b and c``."""
    items = list(words)
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {joint} {items[-1]}"


def say_span(minutes: float) -> str:
    """A length of time in the unit that reads best: minutes, hours or days."""
    if minutes < 120:
        return f"{say_number(round(minutes, 1))} minutes"
    if minutes < 4320:
        return f"{say_number(round(minutes / 60, 1))} hours"
    return f"{say_number(round(minutes / 1440, 1))} days"
