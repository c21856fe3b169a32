"""Why a bottle is where it is, and why what is lost must be lost: counted, not estimated.

The sentence for a bottle that was crowded out is exact. From the places that would have been in time
for it, go on to every place their bottles could change to without missing anything more, and so on.
All those places are taken (a free one would have saved the bottle), and their bottles have nowhere
else to go: k places, k bottles. With one due moment each, none of them weighs less.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from labqueue.planning.plan import Missed, Plan, Reason
from labqueue.planning.projection import duration
from labqueue.planning.units import Bottle, Slot, Step

Clock = Callable[[int], str]
"""Writes a moment (minutes since the origin) for a reader, with its zone."""


@dataclass(frozen=True, slots=True)
class Holder:
    """A bottle on a contested place, and the due moment it keeps there."""

    bottle: Bottle
    place: Slot
    step: Step


@dataclass(frozen=True, slots=True)
class Crowd:
    """Places, all taken, whose bottles can change among them only; ``missed`` found no room there."""

    places: tuple[Slot, ...]
    holders: tuple[Holder, ...]
    missed: tuple[Missed, ...]

    @property
    def lost(self) -> int:
        return len({missed.bottle for missed in self.missed})

    @property
    def least_weight(self) -> int:
        """The lightest due moment that is kept there."""
        return min(holder.step.weight for holder in self.holders)

    def _span(self, clock: Clock) -> str:
        moments = [place.moment for place in self.places]
        return f"{clock(min(moments))} to {clock(max(moments))}"

    def sentence_for(self, missed: Missed, clock: Clock) -> str:
        """Why one bottle found no room."""
        count = len(self.places)
        if count == 1:
            return (
                f"The only place in time, {clock(self.places[0].moment)}, is needed by a bottle that has "
                f"nowhere else to go in time; it weighs {self.least_weight}, this one {missed.step.weight}."
            )
        return (
            f"All {count} places from {self._span(clock)} are needed by {count} bottles that have nowhere "
            f"else to go in time; the least of them weighs {self.least_weight}, "
            f"this one {missed.step.weight}."
        )

    def sentence(self, clock: Clock) -> str:
        """The count for the plan as a whole."""
        steps = [holder.step for holder in self.holders] + [missed.step for missed in self.missed]
        names = {step.name for step in steps}
        name = names.pop() if len(names) == 1 else ""
        if all(step.clocks == 1 for step in steps):
            clocks = f"{name} clocks" if name else "clocks"
        else:
            clocks = f"bottles with {name}" if name else "bottles with clocks"
        due = clock(max(step.deadline for step in steps))
        places = "1 place" if len(self.places) == 1 else f"{len(self.places)} places"
        return (
            f"{len(self.holders) + self.lost} {clocks} due by {due}, {places} for them from "
            f"{self._span(clock)}: {self.lost} must be lost."
        )


class Reader:
    """Reads one plan; keeps what it has looked up."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self._bottles = {bottle.id: bottle for bottle in plan.problem.bottles}
        self._missed: dict[str, list[Missed]] = {}
        for missed in plan.missed:
            self._missed.setdefault(missed.bottle, []).append(missed)

    def sentences(self, bottle_id: str, clock: Clock) -> list[str]:
        """Everything to say about one bottle: its place, then what it misses and why."""
        return [self._place_sentence(bottle_id, clock), *self._missed_sentences(bottle_id, clock)]

    def _place_sentence(self, bottle_id: str, clock: Clock) -> str:
        place = self.plan.places.get(bottle_id)
        if place is None:
            return "No place in this plan."
        bottle = self._bottles[bottle_id]
        told = (
            f"Unit {place.unit}, run of {clock(place.start)}, sample {place.sample + 1}: "
            f"injection {clock(place.moment)}"
        )
        step = _kept_step(bottle, place.moment)
        if step is None:
            return f"{told}; no due moment left to keep."
        ahead = self._ahead(bottle_id)
        sooner = sum(1 for other in ahead if self._ends(other) <= step.deadline)
        told = f"{told}, due {clock(step.deadline)}, {duration(step.deadline - place.moment)} to spare."
        if not ahead:
            return f"{told} It is the first of its run."
        return f"{told} {sooner} of the {len(ahead)} places before it hold bottles that end no later."

    def _ahead(self, bottle_id: str) -> list[str]:
        """The bottles before this one in its run."""
        place = self.plan.places[bottle_id]
        return [
            other
            for other, slot in self.plan.places.items()
            if (slot.unit, slot.start) == (place.unit, place.start) and slot.sample < place.sample
        ]

    def _ends(self, bottle_id: str) -> float:
        return _kept_until(self._bottles[bottle_id], self.plan.places[bottle_id].moment)

    def _missed_sentences(self, bottle_id: str, clock: Clock) -> list[str]:
        found = []
        for missed in self._missed.get(bottle_id, ()):
            name = f"{missed.step.name} " if missed.step.name else ""
            due = f"Misses {name}due {clock(missed.step.deadline)}"
            possible = "never" if missed.possible is None else clock(missed.possible)
            if missed.reason is Reason.TOO_LATE_TO_ACT:
                found.append(
                    f"{due}: lost before we could act, the earliest injection possible is {possible}."
                )
            elif missed.reason is Reason.NO_RUN_IN_TIME:
                found.append(f"{due}: no run in time, the first place it could take is {possible}.")
            elif self._is_pinned(bottle_id):
                found.append(f"{due}: it is pinned to this place.")
            elif not self.plan.proven:
                found.append(f"{due}: no place was left; this plan was cut short and is not proven.")
            else:
                found.append(f"{due}. {self.crowd(missed).sentence_for(missed, clock)}")
        return found

    def _is_pinned(self, bottle_id: str) -> bool:
        return any(pin.bottle == bottle_id for pin in self.plan.problem.pins)

    def crowd(self, missed: Missed) -> Crowd:
        """The places that one crowded-out bottle would have needed, and who holds them (proven plans)."""
        board = _Contest(self.plan, self._bottles[missed.bottle].kind)
        return board.crowd(board.closure([missed]), [missed])

    def crowds(self) -> list[Crowd]:
        """All crowded-out due moments, counted: sets of places that touch each other are one crowd.

        None for a plan that is not proven: there it may not be true that they must be lost.
        """
        if not self.plan.proven:
            return []
        found: list[Crowd] = []
        pinned = {pin.bottle for pin in self.plan.problem.pins}
        for kind in self.plan.certificates:
            board = _Contest(self.plan, kind)
            groups: list[tuple[set[int], list[Missed]]] = []
            for missed in self.plan.missed:
                bottle = self._bottles[missed.bottle]
                crowded = missed.reason is Reason.CROWDED_OUT and bottle.id not in pinned
                if not crowded or bottle.kind != kind:
                    continue
                start = board.direct(missed)
                within = next((group for group in groups if start <= group[0]), None)
                if within is not None:
                    within[1].append(missed)
                    continue
                places, members = board.closure([missed]), [missed]
                for group in [group for group in groups if group[0] & places]:
                    places |= group[0]
                    members = group[1] + members
                    groups.remove(group)
                groups.append((places, members))
            found.extend(board.crowd(places, members) for places, members in groups)
        return found


class _Contest:
    """Who could change to which place of one line without missing anything more."""

    def __init__(self, plan: Plan, kind: str) -> None:
        certificate = plan.certificates[kind]
        self.slots: Sequence[Slot] = certificate.slots
        self._releases = {job.bottle.id: job.release for job in certificate.jobs}
        bottles = {job.bottle.id: job.bottle for job in certificate.jobs}
        self._holders = {slot: bottles[bottle] for bottle, slot in certificate.seats.items()}

    def direct(self, missed: Missed) -> set[int]:
        """The places that would have been in time for a missed due moment."""
        return set(self._within(self._releases[missed.bottle], missed.step.deadline))

    def _within(self, release: int, until: float) -> Iterator[int]:
        for place, slot in enumerate(self.slots):
            if release <= slot.load and slot.moment <= until:
                yield place

    def closure(self, missed: Iterable[Missed]) -> set[int]:
        """Those places, and all to which their bottles could change, and so on."""
        reached: set[int] = set()
        asked: list[tuple[int, float]] = []
        waiting: list[tuple[int, float]] = [(self._releases[m.bottle], m.step.deadline) for m in missed]
        while waiting:
            release, until = waiting.pop()
            if any(other <= release and until <= later for other, later in asked):
                continue
            asked.append((release, until))
            for place in self._within(release, until):
                if place in reached:
                    continue
                reached.add(place)
                holder = self._holders[self.slots[place]]  # taken: a free place would have saved somebody
                kept = _kept_until(holder, self.slots[place].moment)
                waiting.append((self._releases[holder.id], kept))
        return reached

    def crowd(self, places: Iterable[int], missed: Iterable[Missed]) -> Crowd:
        slots = tuple(self.slots[place] for place in sorted(places))
        holders = tuple(
            Holder(bottle, slot, step)
            for slot in slots
            if (bottle := self._holders[slot]) and (step := _kept_step(bottle, slot.moment))
        )
        return Crowd(slots, holders, tuple(missed))


def _kept_step(bottle: Bottle, moment: int) -> Step | None:
    """The next due moment that an injection at ``moment`` still keeps."""
    return next((step for step in bottle.steps if step.deadline >= moment), None)


def _kept_until(bottle: Bottle, moment: int) -> float:
    """How late it could be injected without missing more than at ``moment``."""
    step = _kept_step(bottle, moment)
    return float("inf") if step is None else step.deadline
