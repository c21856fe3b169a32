"""Clocks: when one starts, when it is due, and what its outcome is.

Hours and minutes are elapsed time and nothing else (interpretation request 76 of The NELAC
Institute, 2011: a 36 h limit missed by five minutes is missed). Days and months follow the
counting of the rulebook. Exactly at the limit is in time (same source: "not to exceed").
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta

from intake.rules.book import Counting, Limit, LimitUnit, Rulebook
from intake.rules.facts import Collection, Precision, SampleFacts
from intake.rules.judgement import Clock, ClockOutcome
from intake.rules.moments import (
    LATEST,
    end_of_day,
    end_of_month,
    later,
    local,
    months_later,
    start_of_day,
    within_time,
)
from intake.rules.words import say_moment, say_number

#: Limits of fewer days are elapsed even where days end at midnight. EPA SW-846 frequent
#: questions, Holding Time & Preservation, question 9 speaks of seven days or more; that
#: shorter ones are elapsed is our inference from its wording.
END_OF_DAY_FROM_DAYS = 7

#: Older water than this is taken for a mistyped year. House choice, no published source.
IMPLAUSIBLE_AGE = timedelta(days=3653)
#: How far a clock in the field may run ahead before a collection counts as future. House choice.
FUTURE_TOLERANCE = timedelta(minutes=15)

#: Hours that a sample may stand at room temperature in all, on the tray and elsewhere, inside
#: its holding time: EPA Method 300.1 Rev 1.0 (1997) 8.7, after a recovery of 62.8 % from 18 h on
#: the tray (its Table 3A).
ROOM_TEMPERATURE_H = {"phosphate": 12.0}

MINUTES_PER = {LimitUnit.MINUTES: 1.0, LimitUnit.HOURS: 60.0, LimitUnit.DAYS: 1440.0}

#: How much later than the stated start the water may have been collected, in minutes.
SLACK_MIN = {Precision.MINUTE: 0.0, Precision.HOUR: 60.0, Precision.DATE: 1440.0}


@dataclass(slots=True)
class Start:
    """When the clocks of a sample start.

    ``at`` is ``None`` when nobody knows. ``assumed`` says that it is the earliest moment the
    facts allow; the true one may be up to ``slack_min`` minutes later. A start that is not
    ``trusted`` lies in the future or implausibly long ago; its finding is enough, so no step
    is called late because of it.
    """

    at: datetime | None
    words: str
    assumed: bool = False
    slack_min: float = 0.0
    trusted: bool = True

    def minutes_until(self, moment: datetime | None) -> float | None:
        """The least time that can have passed from the true start to ``moment``.

        ``None`` when either is unknown or the start is not trusted; negative when ``moment``
        lies before the start.
        """
        if self.at is None or moment is None or not self.trusted:
            return None
        minutes = (moment - self.at) / timedelta(minutes=1)
        return minutes if minutes < 0 else max(minutes - self.slack_min, 0.0)


def clock_start(sample: SampleFacts) -> Start:
    """The start that every ion of ``sample`` counts from.

    A grab starts at collection, a composite at the end of its period (40 CFR 136.3 Table II
    footnote 4, from memory). A date without a time starts at the beginning of that local day
    and an hour at its beginning, never later than the truth (common practice).
    """
    moment = sample.collected_at
    if moment is None or sample.precision is Precision.UNKNOWN:
        return Start(None, "from collection, whose moment is not stated")
    moment = within_time(moment)
    composite = sample.collection is Collection.COMPOSITE
    if sample.precision is Precision.DATE:
        moment = start_of_day(local(moment, sample.zone).date(), sample.zone)
    elif sample.precision is Precision.HOUR:
        there = local(moment, sample.zone)
        moment -= timedelta(minutes=there.minute, seconds=there.second, microseconds=there.microsecond)
    assumed = sample.precision is not Precision.MINUTE
    began = sample.collection_began_at
    if assumed and composite and began is not None:
        moment = max(moment, within_time(began))
    told = say_moment(moment, sample.zone)
    if assumed:
        told = f"the earliest moment the stated {sample.precision.value} allows, {told}"
    if composite:
        told = f"the end of the composite, {told}"
    return Start(
        moment,
        f"from {told}",
        assumed,
        SLACK_MIN[sample.precision],
        -IMPLAUSIBLE_AGE <= moment - within_time(sample.declared_at) <= FUTURE_TOLERANCE,
    )


def due_moment(start: datetime, limit: Limit, zone: str, book: Rulebook, factor: float = 1.0) -> datetime:
    """The last moment that keeps ``factor`` times ``limit``, in UTC; itself in time.

    ``zone`` decides where local days and months end. Held at the edge of the years Python
    can name when the limit leads beyond it.
    """
    value = limit.value * factor
    if limit.unit is LimitUnit.MONTHS:
        return _months(start, value, zone, book.counting)
    if limit.unit is LimitUnit.IMMEDIATELY:
        return later(start, book.immediately_min * factor)
    due = later(start, value * MINUTES_PER[limit.unit])
    if (
        limit.unit is LimitUnit.DAYS
        and book.counting is Counting.END_OF_PERIOD
        and limit.value >= END_OF_DAY_FROM_DAYS
    ):
        return _end_of_last_day(start, value, zone)
    return due


def _end_of_last_day(start: datetime, days: float, zone: str) -> datetime:
    """The end of the local day that lies ``days`` local days after that of ``start``.

    Counted on the calendar, so that a clock change never moves the last day. Water collected
    in the last hour of a day may then be due up to an hour before its elapsed limit.
    """
    try:
        return end_of_day(local(start, zone).date() + timedelta(days=math.floor(days)), zone)
    except (OverflowError, ValueError):
        return LATEST


def _months(start: datetime, months: float, zone: str, counting: Counting) -> datetime:
    whole = math.floor(months)
    due = months_later(start, whole, zone)
    if counting is Counting.END_OF_PERIOD:
        return end_of_month(local(due, zone).date(), zone)
    if months > whole:
        due += (months_later(start, whole + 1, zone) - due) * (months - whole)
    return due


def span_min(limit: Limit | None, book: Rulebook) -> tuple[float, float]:
    """The least and the most minutes a limit can come to, whenever it starts; wide where unsure."""
    if limit is None:
        return math.inf, math.inf
    if limit.unit is LimitUnit.IMMEDIATELY:
        return book.immediately_min, book.immediately_min
    to_the_end = book.counting is Counting.END_OF_PERIOD
    if limit.unit is LimitUnit.MONTHS:
        return (28 * limit.value - 2) * 1440, (31 * (limit.value + to_the_end) + 2) * 1440
    length = limit.value * MINUTES_PER[limit.unit]
    if limit.unit is LimitUnit.DAYS and to_the_end and limit.value >= END_OF_DAY_FROM_DAYS:
        return length - 2 * 1440, length + 2 * 1440
    return length, length


def outcome(clock: Clock, now: datetime) -> ClockOutcome:
    """What has become of ``clock`` at ``now``: the one definition for page, query and paper.

    Void also means that a stopped clock can show nothing, because its start was never
    stated or its ion has no limit.
    """
    if clock.void:
        return ClockOutcome.VOID
    if clock.due_at is None or clock.grossly_late_at is None:
        return ClockOutcome.RUNNING if clock.stopped_at is None else ClockOutcome.VOID
    moment = clock.stopped_at or now
    if moment > clock.grossly_late_at:
        return ClockOutcome.GROSSLY_LATE
    if moment > clock.due_at:
        return ClockOutcome.LATE
    return ClockOutcome.RUNNING if clock.stopped_at is None else ClockOutcome.KEPT


def say_limit(limit: Limit, book: Rulebook) -> str:
    """A limit as people write it: 48 h, 28 days, 6 months."""
    if limit.unit is LimitUnit.IMMEDIATELY:
        return f"at once ({say_number(book.immediately_min)} minutes)"
    if limit.unit is LimitUnit.HOURS:
        return f"{say_number(limit.value)} h"
    return (
        f"{say_number(limit.value)} {limit.unit.value.removesuffix('s') if limit.value == 1 else limit.unit}"
    )
