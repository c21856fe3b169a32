"""The proof: anybody can check with one double loop that no plan loses less.

Given a price for some places, every bottle pays at least the least of (its loss on a place, plus the
price of that place) over all places it fits, or its loss outside the plan. Whatever the plan, the
losses therefore sum to at least the sum of those minima less the sum of the prices. If the plan at
hand reaches that bound, it is optimal. Nothing here uses the algorithms that found plan and prices.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from labqueue.planning.losses import Job
from labqueue.planning.units import Slot


@dataclass(frozen=True, slots=True)
class Certificate:
    """The bottles, places, seats (bottle id to slot) and prices of one line, for anybody to check."""

    jobs: tuple[Job, ...]
    slots: tuple[Slot, ...]
    seats: Mapping[str, Slot]
    prices: Mapping[Slot, int]

    def bound(self) -> int:
        """No plan on these places loses less than this."""
        total = -sum(self.prices.values())
        for job in self.jobs:
            least = job.outside
            for slot in self.slots:
                if job.release <= slot.load:
                    least = min(least, job.loss_of(job.rung_at(slot.moment)) + self.prices.get(slot, 0))
            total += least
        return total

    def loss(self) -> int:
        """What this plan loses."""
        total = 0
        for job in self.jobs:
            slot = self.seats.get(job.bottle.id)
            total += job.outside if slot is None else job.loss_of(job.rung_at(slot.moment))
        return total

    def holds(self) -> bool:
        """Whether it is a plan (every place once, bottles loadable) and its loss meets the bound."""
        places = list(self.seats.values())
        known = {job.bottle.id: job for job in self.jobs}
        return (
            len(set(places)) == len(places)
            and set(places) <= set(self.slots)
            and set(self.seats) <= set(known)
            and all(_fits(known[bottle], slot) for bottle, slot in self.seats.items())
            and all(price >= 0 for price in self.prices.values())
            and set(self.prices) <= set(self.slots)
            and self.loss() == self.bound()
        )


def _fits(job: Job, slot: Slot) -> bool:
    return job.release <= slot.load and job.rung_at(slot.moment) < len(job.latest)
