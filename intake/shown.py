"""Moments, days and lists as pages, papers and mails say them: in the language of whoever reads.

The sentences of the rules (``intake.rules.words``) are English, since they are stored; what is made anew
each time it is shown goes through here. Nothing that is stored may.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from django.utils.translation import pgettext, pgettext_lazy

from intake.rules.moments import local
from intake.rules.words import say_list

MONTHS = (
    pgettext_lazy("month", "Jan"),
    pgettext_lazy("month", "Feb"),
    pgettext_lazy("month", "Mar"),
    pgettext_lazy("month", "Apr"),
    pgettext_lazy("month", "May"),
    pgettext_lazy("month", "Jun"),
    pgettext_lazy("month", "Jul"),
    pgettext_lazy("month", "Aug"),
    pgettext_lazy("month", "Sep"),
    pgettext_lazy("month", "Oct"),
    pgettext_lazy("month", "Nov"),
    pgettext_lazy("month", "Dec"),
)
WEEKDAYS = (
    pgettext_lazy("weekday", "Mon"),
    pgettext_lazy("weekday", "Tue"),
    pgettext_lazy("weekday", "Wed"),
    pgettext_lazy("weekday", "Thu"),
    pgettext_lazy("weekday", "Fri"),
    pgettext_lazy("weekday", "Sat"),
    pgettext_lazy("weekday", "Sun"),
)


def show_day(day: date) -> str:
    """``24 Nov 2026``."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def show_weekday(day: date) -> str:
    """``Tue 24 Nov``, where the year is plain."""
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]}"


def show_date(moment: datetime, zone: str) -> str:
    """The local date of ``moment`` in ``zone``."""
    return show_day(local(moment, zone))


def show_clock(moment: datetime, zone: str) -> str:
    """``24 Nov 2026 14:05`` on the wall clock of ``zone``, which is named beside it."""
    there = local(moment, zone)
    return f"{show_day(there)} {there:%H:%M}"


def show_moment(moment: datetime, zone: str) -> str:
    """``24 Nov 2026 14:05 Europe/Zurich``."""
    return f"{show_clock(moment, zone)} {zone}"


def show_list(words: Iterable[str]) -> str:
    """``a``, ``a and b`` or ``a, b and c``."""
    return say_list(words, pgettext("between the last two of a list", "and"))


def show_choices(words: Iterable[str]) -> str:
    """``a``, ``a or b`` or ``a, b or c``."""
    return say_list(words, pgettext("between the last two of a list", "or"))
