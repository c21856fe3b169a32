"""What to change when an outing fails: each change is tried, and what it brings is told.

Nothing here is advice from a list. A change that would not help is named as well, so that nobody
freezes bottles for nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

from intake.rules.facts import Line
from intake.rules.judgement import Finding
from labqueue.hours import MINUTE
from labqueue.planning.faring import Check, DayAnswer, OutingAnswer
from labqueue.planning.outing import Habit, Outing, judged, objections


class Change(StrEnum):
    """What can be done differently."""

    FILTER = "filter"
    CHILL = "chill"
    FREEZE = "freeze"
    CHILL_NOT_FREEZE = "chill instead of freezing"
    ACIDIFY = "acidify"
    LEAVE_OUT = "leave out"
    QUICKER = "bring it sooner"
    OTHER_DAY = "another day"


@dataclass(frozen=True, slots=True)
class Alternative:
    """``outing`` with one change, how its day would go, and on how many of the days it would.

    ``saved`` are the ions that would fail otherwise, ``against`` what the rulebook would newly
    have against the bottles.
    """

    change: Change
    outing: Outing
    day: DayAnswer
    saved: tuple[str, ...]
    against: tuple[Finding, ...]
    days_that_work: int

    @property
    def works(self) -> bool:
        """Whether every ion still asked would be in time, and the rulebook content."""
        return self.day.works and not self.against


def alternatives(check: Check, answer: OutingAnswer) -> tuple[Alternative, ...]:
    """Every change that can be tried on an outing that fails, those that work first."""
    if answer.chosen.works:
        return ()
    tried = [_try(check, answer, change, outing) for change, outing in _changed(answer)]
    return tuple(sorted(tried, key=lambda one: (not one.works, -len(one.saved))))


def _try(check: Check, answer: OutingAnswer, change: Change, outing: Outing) -> Alternative:
    day = check.day(outing) if change is not Change.OTHER_DAY else _day_of(answer, outing)
    failing = {ion.ion for ion in day.failing}
    known = {finding.code for finding in answer.objections}
    new = tuple(finding for finding in objections(judged(outing, check.book)) if finding.code not in known)
    days = answer.days if change is Change.OTHER_DAY else check.days(outing)
    return Alternative(
        change,
        outing,
        day,
        tuple(ion.ion for ion in answer.chosen.failing if ion.ion not in failing),
        new,
        sum(1 for one in days if one.works),
    )


def _day_of(answer: OutingAnswer, outing: Outing) -> DayAnswer:
    return next(day for day in answer.days if day.outing == outing)


def _changed(answer: OutingAnswer) -> Iterator[tuple[Change, Outing]]:
    """The outing with one thing changed, for each thing that can be."""
    outing, chosen = answer.outing, answer.chosen
    failing = frozenset(ion.ion for ion in chosen.failing)
    if failing < outing.ions:
        yield Change.LEAVE_OUT, replace(outing, ions=outing.ions - failing)
    sooner = _sooner(chosen)
    if sooner is not None:
        yield Change.QUICKER, sooner
    nearest = _nearest_day(answer)
    if nearest is not None:
        yield Change.OTHER_DAY, nearest
    yield from _kept_otherwise(outing)


def _kept_otherwise(outing: Outing) -> Iterator[tuple[Change, Outing]]:
    kept = outing.kept
    if Habit.FILTERED not in kept:
        yield Change.FILTER, replace(outing, kept=kept | {Habit.FILTERED})
    if Habit.ACID not in kept and Line.CATION in outing.lines:
        yield Change.ACIDIFY, replace(outing, kept=kept | {Habit.ACID})
    if Habit.FROZEN in kept:
        yield Change.CHILL_NOT_FREEZE, replace(outing, kept=kept - {Habit.FROZEN} | {Habit.CHILLED})
        return
    if Habit.CHILLED not in kept:
        yield Change.CHILL, replace(outing, kept=kept | {Habit.CHILLED})
    yield Change.FREEZE, replace(outing, kept=kept | {Habit.FROZEN})


def _sooner(chosen: DayAnswer) -> Outing | None:
    """The outing with the way so short that the most pressing ion that can be saved is."""
    outing = chosen.outing
    latest = [ion.latest_at for ion in chosen.failing if ion.latest_at is not None]
    if not latest:
        return None
    minutes = (min(latest) - outing.ends) // MINUTE
    return replace(outing, transport_min=minutes) if minutes < outing.transport_min else None


def _nearest_day(answer: OutingAnswer) -> Outing | None:
    """The same outing on the nearest of the days that work, the earlier of two equally near."""
    begins = answer.outing.begins
    working = [day.outing for day in answer.days if day.works and day.outing.begins != begins]
    return min(working, key=lambda outing: (abs(outing.begins - begins), outing.begins), default=None)
