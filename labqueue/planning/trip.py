"""A trip that has not happened yet: will an injection be able to start in time?

The way of a bottle: collected, carried to reception, handed over when somebody is there, prepared,
put on a unit that staff start, and injected when the start-up is through.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from labqueue.hours import StaffedTimes


class Obstacle(StrEnum):
    """Why an injection cannot start in time."""

    LIMIT_TOO_SHORT = "limit too short"
    NOBODY_THERE = "nobody there"
    NO_START_IN_TIME = "no start in time"
    ARRIVES_TOO_LATE = "arrives too late"


@dataclass(frozen=True, slots=True)
class Laboratory:
    """How quickly the laboratory can act, in minutes: ``preparation_min`` from handing over to the
    tray, ``lead_min`` from pressing start to the first sample. ``starts`` are the planned starts
    (ascending) if only they count; None: a run may start at any staffed moment.
    """

    staffed: StaffedTimes
    preparation_min: int
    lead_min: int
    starts: tuple[int, ...] | None = None

    def next_start(self, minute: int) -> int | None:
        if self.starts is None:
            return self.staffed.next_at_or_after(minute)
        index = bisect_left(self.starts, minute)
        return self.starts[index] if index < len(self.starts) else None

    def last_start(self, minute: int) -> int | None:
        if self.starts is None:
            return self.staffed.last_at_or_before(minute)
        index = bisect_right(self.starts, minute)
        return self.starts[index - 1] if index else None


@dataclass(frozen=True, slots=True)
class TripAnswer:
    """Moments in minutes. ``received`` is the handing-over, ``injection`` the earliest injection (None
    if the opening hours given end before it), ``latest_arrival`` the last handing-over that is still
    in time (None if none after collection is). ``obstacle`` is None if all goes well.
    """

    due: int
    received: int | None
    injection: int | None
    latest_arrival: int | None
    obstacle: Obstacle | None

    @property
    def in_time(self) -> bool:
        return self.obstacle is None

    @property
    def spare_min(self) -> int | None:
        """Minutes between the earliest injection and the due moment; negative when late."""
        return None if self.injection is None else self.due - self.injection

    def sentence(self, clock: Callable[[int], str]) -> str:
        """The answer in words; ``clock`` writes a moment with its zone."""
        if self.obstacle is None and self.injection is not None and self.latest_arrival is not None:
            return (
                f"Injection can start at {clock(self.injection)}, due {clock(self.due)}. "
                f"Hand the bottles over by {clock(self.latest_arrival)} at the latest."
            )
        if self.obstacle is Obstacle.LIMIT_TOO_SHORT:
            return (
                f"Due {clock(self.due)}: even without any transport, preparation and start-up take longer "
                f"than that. Choose an ion with a longer limit or have the bottles preserved."
            )
        if self.obstacle is Obstacle.NOBODY_THERE:
            return (
                f"Nobody is at the laboratory early enough before {clock(self.due)} to take the bottles in "
                f"and start a run. Collect on another day."
            )
        if self.obstacle is Obstacle.NO_START_IN_TIME:
            return (
                f"No planned run starts early enough before {clock(self.due)}. "
                f"Ask for a run or collect on another day."
            )
        late = "" if self.injection is None else f" The first injection would be {clock(self.injection)}."
        latest = "" if self.latest_arrival is None else f" by {clock(self.latest_arrival)}"
        return (
            f"Due {clock(self.due)}: the bottles arrive too late.{late} "
            f"Hand them over{latest}, or collect on another day."
        )


def check_trip(collected: int, transport_min: int, limit_min: int, laboratory: Laboratory) -> TripAnswer:
    """Whether bottles collected at ``collected`` and carried ``transport_min`` can be injected within
    ``limit_min``; exactly at the limit is in time.
    """
    due = collected + limit_min
    received, injection = arrive(collected + transport_min, laboratory)
    latest = latest_arrival(due, laboratory)
    if latest is not None and latest < collected:
        latest = None
    if injection is not None and injection <= due:
        obstacle = None
    elif latest is not None:
        obstacle = Obstacle.ARRIVES_TOO_LATE
    elif laboratory.preparation_min + laboratory.lead_min > limit_min:
        obstacle = Obstacle.LIMIT_TOO_SHORT
    elif laboratory.starts is not None:
        obstacle = Obstacle.NO_START_IN_TIME
    else:
        obstacle = Obstacle.NOBODY_THERE
    return TripAnswer(due, received, injection, latest, obstacle)


def arrive(arrival: int, laboratory: Laboratory) -> tuple[int | None, int | None]:
    """(handing-over, earliest injection) of bottles that reach the door at ``arrival``."""
    received = laboratory.staffed.next_at_or_after(arrival)
    if received is None:
        return None, None
    start = laboratory.next_start(received + laboratory.preparation_min)
    return received, None if start is None else start + laboratory.lead_min


def latest_arrival(due: int, laboratory: Laboratory) -> int | None:
    """The last staffed moment at which bottles can be handed over to be injected by ``due``."""
    start = laboratory.last_start(due - laboratory.lead_min)
    if start is None:
        return None
    return laboratory.staffed.last_at_or_before(start - laboratory.preparation_min)


def failing_days(
    collections: Sequence[int], transport_min: int, limit_min: int, laboratory: Laboratory
) -> list[int]:
    """Those of several collection moments whose bottles cannot be injected in time."""
    return [c for c in collections if not check_trip(c, transport_min, limit_min, laboratory).in_time]
