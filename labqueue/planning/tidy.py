"""Tidying: the same losses, but everybody as early as possible, late ones soon, groups together.

The exchange leaves a plan of least loss in no particular order. Each bottle's promise is the rung of
its ladder it stands on; every step here keeps all promises, so none of them can cost anything:

1. the board is built anew in order of promises, and places still free go to whoever fits them;
2. a place earlier on another tray that would stay empty takes a bottle from a later one;
3. bottles with nothing left to save go before bottles that can wait, by direct exchange;
4. within a loading, bottles of one group stand together where all can still keep their promise.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Sequence
from itertools import takewhile

from labqueue.planning.board import Board
from labqueue.planning.exchange import FREE, OUTSIDE
from labqueue.planning.losses import NEVER, Job
from labqueue.planning.units import Slot

Block = tuple[list[int], list[int]]
"""The places of one loading time, and the bottles on the first of them."""


class Tidy:
    """Arranges ``jobs`` on ``slots`` (ascending); ``seats`` are the places of a plan of least loss."""

    def __init__(self, jobs: Sequence[Job], slots: Sequence[Slot], seats: Sequence[int]) -> None:
        self.jobs = jobs
        self.slots = slots
        self.promises = [
            job.last_promise if seat == OUTSIDE else job.latest[job.rung_at(slots[seat].moment)]
            for job, seat in zip(jobs, seats, strict=True)
        ]
        self.blocks = self._blocks(seats)

    def run(self) -> list[int]:
        """The bottle on each place, or FREE."""
        self._level()
        sitters = [FREE] * len(self.slots)
        for places, ranks in self.blocks:
            for place, rank in zip(places, sorted(ranks, key=self._urgency), strict=False):
                sitters[place] = rank
        self._gather(sitters)
        while self._hurry_late(sitters):  # each round brings late ones forward, so it ends
            self._gather(sitters)
        return sitters

    def _urgency(self, rank: int) -> tuple[int, int, int]:
        return self.promises[rank], self.jobs[rank].release, rank

    def _blocks(self, seats: Sequence[int]) -> list[Block]:
        """Every loading time by the earliest-deadline schedule."""
        board = Board(slot[:2] for slot in self.slots)
        order = sorted(range(len(self.jobs)), key=lambda rank: (seats[rank] == OUTSIDE, self._urgency(rank)))
        for rank in order:
            board.insert(self.jobs[rank].release, self.promises[rank], rank)
        blocks, first = [], 0
        for moments, sitters in zip(board.moments, board.sitters, strict=True):
            blocks.append((list(range(first, first + len(moments))), list(sitters)))
            first += len(moments)
        return blocks

    def _level(self) -> None:
        """Move bottles from the end of the latest tray to earlier places that would stay empty."""
        movable = [block for block in self.blocks if block[1]]
        while movable:
            latest = max(movable, key=self._last_moment)
            if not self._advance_one(latest):
                movable = [block for block in movable if block is not latest]
            elif not latest[1]:
                movable.remove(latest)

    def _last_moment(self, block: Block) -> int:
        places, ranks = block
        return self.slots[places[len(ranks) - 1]].moment

    def _advance_one(self, source: Block) -> bool:
        until = self._last_moment(source)
        targets = []
        for block in self.blocks:
            places, ranks = block
            if len(ranks) < len(places) and self.slots[places[len(ranks)]].moment < until:
                targets.append((self.slots[places[len(ranks)]].moment, block))
        for moment, (places, ranks) in sorted(targets, key=lambda target: target[0]):
            load = self.slots[places[0]].load
            for index in range(len(source[1]) - 1, -1, -1):
                rank = source[1][index]
                if self.jobs[rank].release <= load and self.promises[rank] >= moment:
                    ranks.append(source[1].pop(index))
                    return True
        return False

    def _is_late(self, rank: int) -> bool:
        """Whether it has missed something and nothing is left to miss."""
        return self.promises[rank] == NEVER and self.jobs[rank].latest != (NEVER,)

    def _hurry_late(self, sitters: list[int]) -> bool:
        """Let late bottles change with earlier ones that can wait; whether any did."""
        order = sorted(
            (slot.moment, place) for place, slot in enumerate(self.slots) if sitters[place] != FREE
        )
        patient = [entry for entry in order if not self._is_late(sitters[entry[1]])]
        in_vain: dict[int, tuple[int, int]] = {}
        changed = False
        for moment, place in order:
            rank, load = sitters[place], self.slots[place].load
            if not self._is_late(rank):
                continue
            # Whoever could not change with one late bottle of this tray cannot with a later one.
            release, since = in_vain.get(load, (NEVER, 0))
            first = bisect_left(patient, (since, 0)) if release <= self.jobs[rank].release else 0
            index = self._willing(patient, first, place, sitters)
            if index is None:
                in_vain[load] = self.jobs[rank].release, moment
                continue
            _, earlier = patient.pop(index)
            sitters[earlier], sitters[place] = rank, sitters[earlier]
            insort(patient, (moment, place))
            changed = True
        return changed

    def _willing(
        self, patient: Sequence[tuple[int, int]], first: int, place: int, sitters: Sequence[int]
    ) -> int | None:
        """The first of ``patient`` (moment, place) that can change with the bottle on ``place``."""
        late, (load, moment, *_) = self.jobs[sitters[place]], self.slots[place]
        for index in range(first, len(patient)):
            earlier_moment, earlier = patient[index]
            if earlier_moment >= moment:
                return None
            other = sitters[earlier]
            if (
                self.promises[other] >= moment
                and self.jobs[other].release <= load
                and self.slots[earlier].load >= late.release
            ):
                return index
        return None

    def _gather(self, sitters: list[int]) -> None:
        for places, _ in self.blocks:
            self._gather_block(places, sitters)

    def _gather_block(self, places: Sequence[int], sitters: list[int]) -> None:
        """Reorder one loading by groups; late bottles keep the places of late ones."""
        for late in (False, True):
            mine = [p for p in places if sitters[p] != FREE and self._is_late(sitters[p]) == late]
            pool = sorted((sitters[place] for place in mine), key=self._urgency)
            group = None
            for number, place in enumerate(mine):
                sitters[place] = self._next_of_group(pool, mine[number + 1 :], group)
                group = self.jobs[sitters[place]].bottle.group

    def _next_of_group(self, pool: list[int], following: Sequence[int], group: str | None) -> int:
        """Take from ``pool`` the first of ``group`` that may go before those who are more urgent."""
        # Those before the chosen one each wait for the place after their own.
        patient = takewhile(
            lambda pair: self.promises[pair[0]] >= self.slots[pair[1]].moment,
            zip(pool, following, strict=False),
        )
        allowed = 1 + sum(1 for _ in patient)
        groups = (self.jobs[rank].bottle.group for rank in pool[:allowed])
        return pool.pop(next((index for index, other in enumerate(groups) if other == group), 0))
