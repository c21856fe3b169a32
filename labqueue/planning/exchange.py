"""The exchange: chains of swaps that save more than they cost, until there are none, and the prices.

A plan is a matching of least loss if and only if no chain "A takes B's place, B takes C's, ..." that
ends on a free place, outside the plan, or on A's old place has a negative total (residual network
without negative cycle). Bellman-Ford looks for one: ``distance[B]`` is the least total of a chain
after which B is left standing. One round sweeps the places by loading time; a Fenwick tree over the
rungs keeps the cheapest bottle that can sit down, so a round costs (bottles * rungs + places) * log.

When no chain is left, ``-distance`` of the sitter is a price for each place at which every bottle
already sits where its loss plus the price is least, and free places cost nothing: linear programming
duality, so the plan is optimal. :mod:`labqueue.planning.proof` checks that without this module.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from labqueue.planning.losses import Job
from labqueue.planning.units import Slot

FREE = -1
OUTSIDE = -1


class Outcome(NamedTuple):
    """``prices`` by number of the place (only those above 0); ``proven``: no chain was left."""

    prices: dict[int, int]
    proven: bool


class Ending(NamedTuple):
    """A chain that saves: its last bottle moves to ``place``, or out of the plan."""

    total: int
    last: int
    place: int


class Exchange:
    """Improves, in place, ``sitters`` (bottle on each place or FREE) and ``seats`` (its inverse)."""

    def __init__(self, jobs: Sequence[Job], slots: Sequence[Slot], sitters: list[int]) -> None:
        self.jobs = jobs
        self.slots = slots
        self.sitters = sitters
        self.seats = [OUTSIDE] * len(jobs)
        for place, rank in enumerate(sitters):
            if rank != FREE:
                self.seats[rank] = place
        self._arrivals = sorted(range(len(jobs)), key=lambda rank: jobs[rank].release)
        latest = sorted({latest for job in jobs for latest in job.latest}, reverse=True)
        position = {moment: index for index, moment in enumerate(latest, 1)}
        self._rungs = [
            [(position[latest], loss) for latest, loss in zip(job.latest, job.loss, strict=True)]
            for job in jobs
        ]
        self._size = len(latest)
        self._reach = _reach(latest, slots)
        self._losses = [self._loss_at(rank) for rank in range(len(jobs))]

    def run(self, rounds: int) -> Outcome:
        """Swap until nothing is left to save, or for so many ``rounds``."""
        self._forget()
        for _ in range(rounds):
            changed, endings = self._sweep()
            if self._improve(endings):
                self._forget()
            elif not changed:
                return Outcome(self._prices(), proven=True)
        return Outcome({}, proven=False)

    def _forget(self) -> None:
        self._distance = [0] * len(self.jobs)
        self._parent = [OUTSIDE] * len(self.jobs)

    def _loss_at(self, rank: int) -> int:
        job, seat = self.jobs[rank], self.seats[rank]
        return job.outside if seat == OUTSIDE else job.loss_of(job.rung_at(self.slots[seat].moment))

    def _prices(self) -> dict[int, int]:
        return {
            place: -self._distance[rank]
            for place, rank in enumerate(self.sitters)
            if rank != FREE and self._distance[rank] < 0
        }

    def _sweep(self) -> tuple[bool, list[Ending]]:
        """One round of Bellman-Ford; whether any distance fell, and the chains that end well."""
        jobs, distance, count = self.jobs, self._distance, len(self.jobs)
        tree = [0] * (self._size + 1)
        endings: list[Ending] = []
        changed = False
        waiting = iter(self._arrivals)
        arriving = next(waiting, None)
        for place, slot in enumerate(self.slots):
            while arriving is not None and jobs[arriving].release <= slot.load:
                self._stand_up(tree, arriving)
                arriving = next(waiting, None)
            best, index = 0, self._reach[place]
            while index:
                if tree[index] < best:
                    best = tree[index]
                index &= index - 1
            if best == 0:
                continue
            total, rank = divmod(best, count)
            sitter = self.sitters[place]
            if sitter == FREE:
                endings.append(Ending(total, rank, place))
            elif total < distance[sitter]:
                distance[sitter] = total
                self._parent[sitter] = rank
                changed = True
                self._stand_up(tree, sitter)
                leaving = total + jobs[sitter].outside - self._losses[sitter]
                if leaving < 0:
                    endings.append(Ending(leaving, sitter, OUTSIDE))
        return changed, endings

    def _stand_up(self, tree: list[int], rank: int) -> None:
        """Enter what it would total if this bottle, left standing, sat down on each of its rungs."""
        base, count = self._distance[rank] - self._losses[rank], len(self.jobs)
        for position, loss in self._rungs[rank]:
            if base + loss >= 0:
                return
            # The number of the bottle rides along; smaller totals come first, then smaller ranks.
            entry, index = (base + loss) * count + rank, position
            while index <= self._size and tree[index] > entry:
                tree[index] = entry
                index += index & -index

    def _improve(self, endings: list[Ending]) -> bool:
        """Carry out the chains, and rings, that save and do not touch each other."""
        moved: set[int] = set()
        taken: set[int] = set()
        for ring in self._rings():
            self._shift(ring, self.seats[ring[0]], moved)
        for ending in sorted(endings):
            chain = self._chain(ending.last, moved)
            if chain is None or ending.place in taken:
                continue
            self._shift(chain, ending.place, moved)
            if ending.place != OUTSIDE:
                taken.add(ending.place)
        return bool(moved)

    def _chain(self, last: int, moved: set[int]) -> list[int] | None:
        """The bottles from the first that moves to ``last``; None if one of them has moved already.

        Rings have all moved before, so the way back cannot run in one.
        """
        chain = [last]
        while chain[-1] not in moved:
            parent = self._parent[chain[-1]]
            if parent == OUTSIDE:
                return chain[::-1]
            chain.append(parent)
        return None

    def _rings(self) -> list[list[int]]:
        """The rings of the parent pointers; each saves (a ring there has a negative total)."""
        rings = []
        visited = [OUTSIDE] * len(self.jobs)
        for start in range(len(self.jobs)):
            rank = start
            while rank != OUTSIDE and visited[rank] == OUTSIDE:
                visited[rank] = start
                rank = self._parent[rank]
            if rank != OUTSIDE and visited[rank] == start:
                ring = [rank]
                while (parent := self._parent[ring[-1]]) != rank:
                    ring.append(parent)
                rings.append(ring[::-1])
        return rings

    def _shift(self, chain: list[int], place: int, moved: set[int]) -> None:
        """Everybody takes the next one's place, the last one ``place``."""
        targets = [self.seats[rank] for rank in chain[1:]] + [place]
        for rank in chain:
            if self.seats[rank] != OUTSIDE:
                self.sitters[self.seats[rank]] = FREE
        for rank, target in zip(chain, targets, strict=True):
            self.seats[rank] = target
            if target != OUTSIDE:
                self.sitters[target] = rank
        for rank in chain:
            self._losses[rank] = self._loss_at(rank)
        moved.update(chain)


def _reach(latest: Sequence[int], slots: Sequence[Slot]) -> list[int]:
    """For each place, how many of the ``latest`` (descending) an injection there still reaches."""
    order = sorted(range(len(slots)), key=lambda place: -slots[place].moment)
    reach = [0] * len(slots)
    count = 0
    for place in order:
        while count < len(latest) and latest[count] >= slots[place].moment:
            count += 1
        reach[place] = count
    return reach
