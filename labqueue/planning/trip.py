"""A trip that has not happened yet: will an injection be able to start in time?

The way of a bottle: collected, carried to reception, handed over when somebody is there, prepared,
put on a unit that staff start, and injected when the start-up is through.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from labqueue.hours import StaffedTimes


class Obstacle(StrEnum):
    """Why an injection cannot start in time."""

    LIMIT_TOO_SHORT = "limit too short"
    NOBODY_THERE = "nobody there"
    UNITS_TAKEN = "units taken"
    ARRIVES_TOO_LATE = "arrives too late"


@dataclass(frozen=True, slots=True)
class UnitTimes:
    """One unit as a trip sees it, in minutes.

    A run with the bottles may be started at every minute of ``startable``; its first sample is
    injected ``lead_min`` later. ``places`` are free places on runs already planned: (until when a
    bottle can be put there, when it is injected).
    """

    startable: StaffedTimes
    lead_min: int
    places: tuple[tuple[int, int], ...] = ()

    def injection(self, ready: int) -> int | None:
        """The earliest injection of a bottle that is ready for the tray at ``ready``."""
        found = [moment for loading, moment in self.places if loading >= ready]
        start = self.startable.next_at_or_after(ready)
        if start is not None:
            found.append(start + self.lead_min)
        return min(found, default=None)

    def loading(self, due: int) -> int | None:
        """The last minute to be ready for the tray and still be injected by ``due``."""
        found = [loading for loading, moment in self.places if moment <= due]
        start = self.startable.last_at_or_before(due - self.lead_min)
        if start is not None:
            found.append(start)
        return max(found, default=None)


@dataclass(frozen=True, slots=True)
class Laboratory:
    """How quickly the laboratory can act on one line, in minutes: ``preparation_min`` from handing
    over to the tray; the ``units`` as they are ``taken`` by runs, and ``free`` as if nothing were
    planned on them.
    """

    staffed: StaffedTimes
    preparation_min: int
    taken: tuple[UnitTimes, ...]
    free: tuple[UnitTimes, ...]

    @classmethod
    def empty(cls, staffed: StaffedTimes, preparation_min: int, lead_min: int) -> Laboratory:
        """One unit on which nothing is planned: a run starts whenever somebody is there."""
        units = (UnitTimes(staffed, lead_min),)
        return cls(staffed, preparation_min, units, units)

    @property
    def least_min(self) -> int:
        """From handing over to an injection, when nothing has to be waited for."""
        return self.preparation_min + min((unit.lead_min for unit in self.free), default=0)


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
        if self.obstacle is Obstacle.UNITS_TAKEN:
            return (
                f"Other runs or repairs take the units until no injection can start by {clock(self.due)}. "
                f"Ask the laboratory, or collect on another day."
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
    latest = latest_handover(due, laboratory, laboratory.taken, collected)
    if injection is not None and injection <= due:
        obstacle = None
    elif latest is not None:
        obstacle = Obstacle.ARRIVES_TOO_LATE
    elif laboratory.least_min > limit_min:
        obstacle = Obstacle.LIMIT_TOO_SHORT
    elif latest_handover(due, laboratory, laboratory.free, collected) is not None:
        obstacle = Obstacle.UNITS_TAKEN
    else:
        obstacle = Obstacle.NOBODY_THERE
    return TripAnswer(due, received, injection, latest, obstacle)


def arrive(arrival: int, laboratory: Laboratory) -> tuple[int | None, int | None]:
    """(handing-over, earliest injection) of bottles that reach the door at ``arrival``."""
    received = laboratory.staffed.next_at_or_after(arrival)
    if received is None:
        return None, None
    ready = received + laboratory.preparation_min
    moments = (unit.injection(ready) for unit in laboratory.taken)
    return received, min((moment for moment in moments if moment is not None), default=None)


def latest_handover(
    due: int, laboratory: Laboratory, units: Sequence[UnitTimes], collected: int
) -> int | None:
    """The last staffed moment, not before ``collected``, at which bottles can be handed over to be
    injected on one of ``units`` by ``due``.
    """
    loadings = [loading for unit in units if (loading := unit.loading(due)) is not None]
    if not loadings:
        return None
    latest = laboratory.staffed.last_at_or_before(max(loadings) - laboratory.preparation_min)
    return None if latest is None or latest < collected else latest


def failing_days(
    collections: Sequence[int], transport_min: int, limit_min: int, laboratory: Laboratory
) -> list[int]:
    """Those of several collection moments whose bottles cannot be injected in time."""
    return [c for c in collections if not check_trip(c, transport_min, limit_min, laboratory).in_time]
