"""Will it make it? For each waiting bottle the first fitting place, quickly, for the queue.

Not the planner: places are handed out in one pass per due moment, to the earliest due moment that can
still be kept (the largest possible number, weights not considered), then to those that are lost. With
a plan at hand, its places come in as ``placed`` and only the rest is projected. About
(bottles + places) * log per due moment.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections import deque
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import NamedTuple

from labqueue.planning.starts import FirstMoments, UnitStarts, cut_runs
from labqueue.planning.units import Bottle, Problem, Slot


class Projection(NamedTuple):
    """Where a bottle will probably be injected; ``place`` None: nowhere within the horizon.

    ``due`` is the next due moment that can still be kept there, else the first one; None if it has
    none. ``spare_min`` are minutes from injection to ``due``, negative when it is lost.
    """

    bottle: str
    place: Slot | None
    due: int | None
    planned: bool

    @property
    def spare_min(self) -> int | None:
        return None if self.place is None or self.due is None else self.due - self.place.moment

    @property
    def kept(self) -> bool:
        """Whether the due moment is kept; a bottle without any has nothing to lose."""
        if self.due is None:
            return True
        return self.place is not None and self.place.moment <= self.due

    def sentence(self, clock: Callable[[int], str]) -> str:
        """For the row of the queue; ``clock`` writes a moment."""
        if self.place is None:
            due = "" if self.due is None else f"due {clock(self.due)}, "
            return f"{due}no free place in the hours planned"
        if self.due is None:
            return f"injection {clock(self.place.moment)} on unit {self.place.unit}, nothing due"
        if self.kept:
            spare = duration(self.due - self.place.moment)
            return f"injection {clock(self.place.moment)} on unit {self.place.unit}, {spare} to spare"
        return f"due {clock(self.due)}, first free place {clock(self.place.moment)}: lost"


def duration(minutes: int) -> str:
    """A length of time in words: "3 h 20 min", "2 d 4 h"."""
    days, rest = divmod(minutes, 1440)
    hours, minutes = divmod(rest, 60)
    if days:
        return f"{days} d {hours} h" if hours else f"{days} d"
    if hours:
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    return f"{minutes} min"


def project(problem: Problem, placed: Mapping[str, Slot]) -> dict[str, Projection]:
    """A projection for every bottle: ``placed`` ones as planned, the others onto the free places of
    the given runs and of runs that start as soon as each unit is free.
    """
    found: dict[str, Projection] = {}
    for bottle in problem.bottles:
        if bottle.id in placed:
            place = placed[bottle.id]
            found[bottle.id] = Projection(bottle.id, place, _due(bottle, place.moment), planned=True)
    taken = set(placed.values())
    units = [UnitStarts(unit, problem) for unit in problem.units]
    for kind in sorted({bottle.kind for bottle in problem.bottles}):
        of_kind = [unit for unit in units if unit.unit.kind == kind]
        slots = sorted(s for unit in of_kind for s in unit.slots(cut_runs(unit, unit.unit.rack_limit)))
        free = [slot for slot in slots if slot not in taken]
        waiting = [b for b in problem.bottles if b.kind == kind and b.id not in placed]
        places = _hand_out(waiting, free, problem.now)
        for bottle in waiting:
            seat = places.get(bottle.id)
            due = _due(bottle, problem.horizon_end + 1 if seat is None else seat.moment)
            found[bottle.id] = Projection(bottle.id, seat, due, planned=False)
    return found


def free_slots(problem: Problem, taken: Iterable[Slot]) -> dict[str, list[Slot]]:
    """The places nobody has, by kind and in order of their moments: of the given runs and of runs that
    start as soon as each unit is free.
    """
    gone = set(taken)
    found: dict[str, list[Slot]] = {}
    for unit in (UnitStarts(unit, problem) for unit in problem.units):
        slots = unit.slots(cut_runs(unit, unit.unit.rack_limit))
        found.setdefault(unit.unit.kind, []).extend(slot for slot in slots if slot not in gone)
    return {kind: sorted(slots, key=lambda slot: (slot.moment, slot)) for kind, slots in found.items()}


def seat_by_due(
    clocks: Iterable[tuple[int, str, int]], free: Mapping[str, Sequence[Slot]]
) -> dict[int, Slot]:
    """For bottles that are all there: the place each finds when its first due moment comes to be served.

    ``clocks`` are (due, kind, bottle) in order of due. Each takes the first free place of its kind if
    that keeps it, which is the largest number that can be kept; else the bottle is told that place, too
    late for it, and whoever comes next may have it. So what a bottle finds depends on what is due before
    it alone. Without places left nothing more is read.
    """
    rest = {kind: iter(slots) for kind, slots in free.items()}
    first = {kind: slot for kind, slots in rest.items() if (slot := next(slots, None)) is not None}
    found: dict[int, Slot] = {}
    kept: set[int] = set()
    for due, kind, bottle in clocks:
        if not first:
            break
        slot = first.get(kind)
        if slot is None or bottle in kept:
            continue
        found.setdefault(bottle, slot)
        if slot.moment <= due:
            kept.add(bottle)
            following = next(rest[kind], None)
            if following is None:
                del first[kind]
            else:
                first[kind] = following
    return found


def _due(bottle: Bottle, moment: int) -> int | None:
    """The next due moment kept by an injection at ``moment``, else the first one."""
    kept = (step.deadline for step in bottle.steps if step.deadline >= moment)
    return next(kept, bottle.steps[0].deadline if bottle.steps else None)


def _release(bottle: Bottle, now: int | None) -> int:
    return bottle.release if now is None else max(bottle.release, now)


def _hand_out(bottles: Sequence[Bottle], slots: Sequence[Slot], now: int | None) -> dict[str, Slot]:
    places: dict[str, Slot] = {}
    free = list(slots)
    first = FirstMoments(slot[:2] for slot in slots)
    hopes = {bottle.id: _hopes(bottle, first.after(_release(bottle, now))) for bottle in bottles}
    for level in range(max(map(len, hopes.values()), default=0)):
        waiting = sorted(
            (_release(bottle, now), hopes[bottle.id][level], bottle.id)
            for bottle in bottles
            if bottle.id not in places and level < len(hopes[bottle.id])
        )
        free = _keep(waiting, free, places)
    rest = sorted((_release(bottle, now), bottle.id) for bottle in bottles if bottle.id not in places)
    _take_what_is_left(rest, free, places)
    return places


def _hopes(bottle: Bottle, first: int | None) -> list[int]:
    """The due moments that could be kept by an injection at ``first``."""
    return [] if first is None else [step.deadline for step in bottle.steps if step.deadline >= first]


def _keep(
    waiting: Sequence[tuple[int, int, str]], free: Iterable[Slot], places: dict[str, Slot]
) -> list[Slot]:
    """Each place, by loading time, to the earliest due moment it keeps; return the places left."""
    left: list[Slot] = []
    pool: list[tuple[int, str]] = []
    arrived = 0
    for slot in free:
        while arrived < len(waiting) and waiting[arrived][0] <= slot.load:
            insort(pool, waiting[arrived][1:])
            arrived += 1
        index = bisect_left(pool, (slot.moment, ""))
        if index == len(pool):
            left.append(slot)
        else:
            places[pool.pop(index)[1]] = slot
    return left


def _take_what_is_left(
    rest: Sequence[tuple[int, str]], free: Iterable[Slot], places: dict[str, Slot]
) -> None:
    """Each place, by injection moment, to who has been there longest."""
    queue = deque(rest)
    for slot in sorted(free, key=lambda slot: (slot.moment, slot)):
        if queue and queue[0][0] <= slot.load:
            places[queue.popleft()[1]] = slot
