"""The board: places by loading time, filled so that a promise once given is kept.

A board holds the earliest-deadline schedule of the bottles it has accepted: places are gone through
by loading time, each takes the loadable bottle with the earliest promise it can still keep. Adding a
bottle carries it along that order, swapping with whoever can wait longer; the bottle fits if and only
if nobody is left standing at the end. (Greedy matching under dominance; the case of one order is
Glover 1967, Naval Research Logistics Quarterly 14, 313-316.)
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from heapq import heapify, heappop, heappush
from itertools import groupby
from operator import itemgetter
from typing import NamedTuple

from labqueue.planning.losses import Job


class Change(NamedTuple):
    """In ``block`` somebody sits down at ``position``; who sat at ``leaver`` stands up (None: nobody)."""

    block: int
    position: int
    leaver: int | None


class Board:
    """Places in blocks of equal loading time.

    Within a block everybody is loadable everywhere, so promises rise with the injection moments and
    no place is left free before a taken one: a block is two sorted lists.
    """

    def __init__(self, places: Iterable[tuple[int, int]]) -> None:
        """``places``: (load, moment) in ascending order."""
        self.loads: list[int] = []
        self.moments: list[list[int]] = []
        for load, block in groupby(places, key=itemgetter(0)):
            self.loads.append(load)
            self.moments.append([moment for _, moment in block])
        self.promises: list[list[int]] = [[] for _ in self.loads]
        self.sitters: list[list[int]] = [[] for _ in self.loads]
        self._last_open = len(self.loads) - 1
        # The earliest moment from a block on: whose promise lies before it need not walk further.
        self._earliest = [block[0] for block in self.moments]
        for index in range(len(self.loads) - 2, -1, -1):
            self._earliest[index] = min(self._earliest[index], self._earliest[index + 1])

    def insert(self, release: int, promise: int, rank: int) -> bool:
        """Accept a bottle if everybody already accepted still keeps the promise; O(places) at most."""
        changes = self._walk(release, promise)
        if changes is None:
            return False
        for block, position, leaver in changes:
            promises, sitters = self.promises[block], self.sitters[block]
            promises.insert(position, promise)
            sitters.insert(position, rank)
            if leaver is not None:
                promise = promises.pop(leaver + 1)
                rank = sitters.pop(leaver + 1)
        self._close_full_blocks()
        return True

    def _walk(self, release: int, promise: int) -> list[Change] | None:
        changes = []
        for block in range(bisect_left(self.loads, release), self._last_open + 1):
            if promise < self._earliest[block]:
                return None
            moments, promises = self.moments[block], self.promises[block]
            position = bisect_right(promises, promise)
            if position == len(moments) or moments[position] > promise:
                continue
            # Everybody behind moves one place on, up to the first who cannot.
            seated, last = len(promises), len(moments) - 1
            mover = position
            while mover < seated and mover < last and promises[mover] >= moments[mover + 1]:
                mover += 1
            if mover == seated:
                changes.append(Change(block, position, None))
                return changes
            changes.append(Change(block, position, mover))
            promise = promises[mover]
        return None

    def _close_full_blocks(self) -> None:
        last = self._last_open
        while last >= 0 and len(self.promises[last]) == len(self.moments[last]):
            last -= 1
        self._last_open = last

    def seats(self) -> Iterator[tuple[int, int]]:
        """(number of the place in the order of building, rank of the bottle on it)."""
        first = 0
        for moments, sitters in zip(self.moments, self.sitters, strict=True):
            yield from enumerate(sitters, first)
            first += len(moments)


def fill(
    board: Board, jobs: Sequence[Job], rungs: Sequence[int], allowance: int | None = None
) -> tuple[int, list[int]] | None:
    """Fill a board greedily; return (loss above that of ``rungs``, ranks left out).

    Whoever has most at stake comes first; who does not fit tries the next rung. With one due moment
    each, this loses the least weight and the fewest bottles at once (the sets that can be kept form a
    transversal matroid). ``rungs`` are where each bottle starts: rungs above are known to be out of
    reach. None as soon as the loss exceeds ``allowance``: an early end for searches.
    """
    queue = [_claim(job, rungs[job.rank]) for job in jobs if rungs[job.rank] < len(job.latest)]
    left_out = [job.rank for job in jobs if rungs[job.rank] >= len(job.latest)]
    heapify(queue)
    loss = 0
    while queue:
        stake, promise, release, rank, rung = heappop(queue)
        if board.insert(release, promise, rank):
            continue
        loss -= stake
        if allowance is not None and loss > allowance:
            return None
        job = jobs[rank]
        if rung + 1 < len(job.latest):
            heappush(queue, _claim(job, rung + 1))
        else:
            left_out.append(rank)
    return loss, left_out


def _claim(job: Job, rung: int) -> tuple[int, int, int, int, int]:
    return (-job.stake(rung), job.latest[rung], job.release, job.rank, rung)
