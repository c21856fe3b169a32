"""How many bottles a day takes, line by line, and how many of those places are spoken for."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from django.db.models import Sum

from intake.models import DateRequest
from intake.rules.facts import Line
from intake.states import DateState
from labqueue.hours import DAY, MINUTE, OpeningHours
from labqueue.laboratory import as_planned, in_service, opening_hours, units
from labqueue.models import Unit


@dataclass(frozen=True, slots=True)
class LineRoom:
    """Bottles of one line on one day: what the units take, what is agreed, what is asked for beside."""

    line: Line
    capacity: int
    agreed: int
    asked: int

    @property
    def left(self) -> int:
        """Places not agreed yet; not below zero."""
        return max(0, self.capacity - self.agreed)

    @property
    def left_if_all_agree(self) -> int:
        return self.capacity - self.agreed - self.asked


@dataclass(frozen=True, slots=True)
class DayRoom:
    """One day on the laboratory's calendar, with its lines."""

    day: date
    lines: tuple[LineRoom, ...]

    @property
    def closed(self) -> bool:
        return all(line.capacity == 0 for line in self.lines)

    def takes(self, bottles: dict[Line, int]) -> bool:
        """Whether ``bottles`` of each line still fit beside those agreed."""
        return all(bottles.get(line.line, 0) <= line.left for line in self.lines)


def day_capacity(day: date, line: Line, hours: OpeningHours, standing: list[Unit]) -> int:
    """Bottles of ``line`` that runs started at the opening of ``day`` inject before the next opening.

    Start-up, check standards and duplicates take their time and places; a tray bounds it.
    """
    shifts = hours.of_day(day)
    if not shifts:
        return 0
    opens = min(begin for begin, _end in shifts)
    following = hours.of_day(day + DAY)
    after = min((begin for begin, _end in following), default=opens + timedelta(days=1))
    until = (after - opens) // MINUTE
    return sum(
        max(0, as_planned(unit).capacity(0, until))
        for unit in standing
        if unit.line == line.value and in_service(unit, opens)
    )


def rooms(first: date, days: int, *, without: DateRequest | None = None) -> list[DayRoom]:
    """Room on ``days`` days from ``first``; ``without`` is left out of what is spoken for."""
    last = first + timedelta(days=days - 1)
    asked = DateRequest.objects.standing().filter(day__gte=first, day__lte=last)
    if without is not None:
        asked = asked.exclude(pk=without.pk)
    totals = (
        asked.order_by().values_list("day", "state").annotate(Sum("anion_bottles"), Sum("cation_bottles"))
    )
    taken: dict[tuple[date, bool], tuple[int, int]] = {}
    for day, state, anion, cation in totals:
        key = (day, state == DateState.AGREED)
        former = taken.get(key, (0, 0))
        taken[key] = (former[0] + anion, former[1] + cation)
    begins = datetime.combine(first, time(), UTC) - DAY
    hours, standing = opening_hours(begins, begins + (days + 3) * DAY), units()
    found = []
    for day in (first + timedelta(days=number) for number in range(days)):
        agreed, open_ = taken.get((day, True), (0, 0)), taken.get((day, False), (0, 0))
        lines = tuple(
            LineRoom(line, day_capacity(day, line, hours, standing), agreed[place], open_[place])
            for place, line in enumerate((Line.ANION, Line.CATION))
        )
        found.append(DayRoom(day, lines))
    return found


def room_on(day: date, *, without: DateRequest | None = None) -> DayRoom:
    return rooms(day, 1, without=without)[0]
