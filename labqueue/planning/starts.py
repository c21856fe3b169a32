"""Where a run of a unit can start, what it then holds, and seven simple rules for choosing starts."""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import accumulate, pairwise

from labqueue.planning.units import PlanningError, Problem, Run, Slot, Unit

GRID_MIN = 60
"""Candidate starts besides opening moments and receipts lie an hour apart (our choice)."""

DAY_BREAK_MIN = 240
"""A closing time longer than this separates two working days (our choice)."""

DAY_MIN = 1440
CUTS = (10, 20, 30, 40, 60)
"""Samples after which the rules cut a run short (our choice)."""

Starts = tuple[int, ...]


class UnitStarts:
    """One unit with its given runs, its pinned places and the moments at which it may start."""

    def __init__(self, unit: Unit, problem: Problem) -> None:
        self.unit = unit
        self.horizon_end = problem.horizon_end
        self.given: Starts = tuple(sorted(run.start for run in problem.runs if run.unit == unit.id))
        self._limits = {run.start: run.samples for run in problem.runs if run.unit == unit.id}
        self._held: dict[int, int] = {}
        self._pinned: dict[int, set[int]] = {start: set() for start in self.given}
        for pin in problem.pins:
            if pin.unit == unit.id:
                self._pinned[pin.start].add(pin.sample)
        self.listed = unit.id in problem.candidates
        earliest = unit.free_from if problem.now is None else max(unit.free_from, problem.now)
        self.earliest = earliest
        moments = problem.candidates[unit.id] if self.listed else self._own_candidates(problem)
        self.candidates: Starts = tuple(sorted({c for c in moments if earliest <= c <= problem.horizon_end}))
        self.moments = lru_cache(maxsize=None)(self._moments)
        self.loads = lru_cache(maxsize=None)(self._loads)
        self._hold_given()

    def _own_candidates(self, problem: Problem) -> Iterator[int]:
        """Opening moments, hours after them, and of each hour the last receipt."""
        releases = sorted({bottle.release for bottle in problem.bottles if bottle.kind == self.unit.kind})
        for opens, closes in self.unit.opening.intervals:
            opens = max(opens, self.earliest)
            closes = min(closes, problem.horizon_end)
            for hour in range(opens, closes + 1, GRID_MIN):
                yield hour
                index = bisect_right(releases, min(hour + GRID_MIN - 1, closes)) - 1
                if index >= 0 and releases[index] > hour:
                    yield releases[index]

    def _hold_given(self) -> None:
        """Note what each given run holds: chosen starts must not cut it short."""
        for start, samples in zip(self.given, self.samples(self.given), strict=True):
            taken = max(self._pinned[start], default=-1) + 1
            if samples < 0:
                raise PlanningError(
                    f"Unit {self.unit.id}: the run at {start} is not through its start-up and the unit free "
                    f"again before its next start. Move one of the two."
                )
            if samples < taken:
                raise PlanningError(
                    f"Unit {self.unit.id}: the run at {start} has room for {samples} samples, "
                    f"but sample {taken} is pinned there. Free the place or move the next run."
                )
            self._held[start] = samples
        self.given_ends = tuple(self.unit.free_after(start, held) for start, held in self._held.items())

    def first_candidate(self, moment: int) -> int | None:
        """The first moment from ``moment`` on at which the unit may start."""
        if self.listed:
            index = bisect_left(self.candidates, moment)
            return self.candidates[index] if index < len(self.candidates) else None
        found = self.unit.opening.next_at_or_after(max(moment, self.earliest))
        return None if found is None or found > self.horizon_end else found

    def need(self, start: int) -> int:
        """The fewest samples a run must have room for: a given run all of its own, a chosen run one."""
        return self._held.get(start, 1)

    def samples(self, starts: Starts) -> list[int]:
        """How many samples each run holds when the unit starts at ``starts``; -1 where impossible."""
        counts = []
        for index, start in enumerate(starts):
            following = starts[index + 1] if index + 1 < len(starts) else None
            count = self.unit.capacity(start, following)
            limit = self._limits.get(start)
            counts.append(count if limit is None else min(count, limit))
        return counts

    def possible(self, starts: Starts) -> bool:
        """Whether every run ends before the next and holds what it must."""
        counts = self.samples(starts)
        return all(count >= self.need(start) for start, count in zip(starts, counts, strict=True))

    def _moments(self, start: int) -> tuple[int, ...]:
        return tuple(self.unit.sample_moment(start, sample) for sample in range(self.unit.rack_limit))

    def _loads(self, start: int) -> tuple[int, ...]:
        return tuple(self.unit.load_moment(start, moment) for moment in self.moments(start))

    def places(self, starts: Starts) -> Iterator[tuple[int, int]]:
        """(load, moment) of every place that is not pinned."""
        for start, count in zip(starts, self.samples(starts), strict=True):
            count = max(count, 0)
            pairs = zip(self.loads(start)[:count], self.moments(start)[:count], strict=True)
            pinned = self._pinned.get(start)
            if pinned:
                yield from (pair for sample, pair in enumerate(pairs) if sample not in pinned)
            else:
                yield from pairs

    def slots(self, starts: Starts) -> Iterator[Slot]:
        """Every place that is not pinned, with its name."""
        for start, count in zip(starts, self.samples(starts), strict=True):
            for sample in range(count):
                if sample not in self._pinned.get(start, ()):
                    load, moment = self.loads(start)[sample], self.moments(start)[sample]
                    yield Slot(load, moment, self.unit.id, start, sample)

    def slot(self, start: int, sample: int) -> Slot:
        """One place by name; its injection moment and loading limit."""
        moment = self.unit.sample_moment(start, sample)
        return Slot(self.unit.load_moment(start, moment), moment, self.unit.id, start, sample)

    def days(self) -> list[Starts]:
        """The candidates by working day: the unattended hours of a night separate days."""
        intervals = self.unit.opening.intervals
        mornings = [opens for opens, _ in intervals[:1]]
        mornings += [b for (_, a), (b, _) in pairwise(intervals) if b - a > DAY_BREAK_MIN]
        days: dict[tuple[int, int], list[int]] = {}
        for candidate in self.candidates:
            number = bisect_right(mornings, candidate)
            since = candidate - mornings[number - 1] if number else 0
            days.setdefault((number, since // DAY_MIN), []).append(candidate)
        return [tuple(day) for day in days.values()]


def with_start(starts: Starts, start: int) -> Starts:
    """``starts`` and one more, in order."""
    longer = list(starts)
    insort(longer, start)
    return tuple(longer)


def cut_runs(unit: UnitStarts, samples: int) -> Starts:
    """Start as soon as possible, each run with at most ``samples``."""
    starts = unit.given
    candidate = unit.first_candidate(unit.earliest)
    while candidate is not None:
        trial = with_start(starts, candidate)
        if candidate not in starts and unit.possible(trial):
            starts = trial
            size = min(samples, unit.unit.rack_limit)
            candidate = unit.first_candidate(unit.unit.free_after(candidate, size))
        else:
            ends = (end for end in unit.given_ends if end > candidate)
            candidate = unit.first_candidate(min((candidate + GRID_MIN, *ends)))
    return starts


def all_starts(unit: UnitStarts) -> Iterator[Starts]:
    """Every possible choice of starts from the candidates, the given ones always among them."""
    free = [candidate for candidate in unit.candidates if candidate not in unit.given]

    def further(starts: Starts, first: int) -> Iterator[Starts]:
        yield starts
        for index in range(first, len(free)):
            longer = with_start(starts, free[index])
            if unit.possible(longer):
                yield from further(longer, index + 1)

    yield from further(unit.given, 0)


def evening_restarts(unit: UnitStarts) -> Starts:
    """A fresh run at the last candidate of every day, a shorter one before it where the unit is free."""
    starts = unit.given
    free = unit.earliest
    for day in unit.days():
        evening = with_start(starts, day[-1])
        if day[-1] in starts or not unit.possible(evening):
            continue
        starts = evening
        morning = unit.first_candidate(max(free, day[0]))
        if morning is not None and morning < day[-1] and unit.possible(with_start(starts, morning)):
            starts = with_start(starts, morning)
        free = unit.unit.free_after(day[-1], unit.unit.rack_limit)
    return starts


def rule_starts(units: Sequence[UnitStarts]) -> Iterator[tuple[Starts, ...]]:
    """The starts of all units by each of the seven rules."""
    yield tuple(cut_runs(unit, unit.unit.rack_limit) for unit in units)
    for samples in CUTS:
        yield tuple(cut_runs(unit, samples) for unit in units)
    yield tuple(evening_restarts(unit) for unit in units)


class FirstMoments:
    """Over given places: the earliest injection of a bottle that is alone with them."""

    def __init__(self, places: Iterable[tuple[int, int]]) -> None:
        """``places``: (load, moment) in any order."""
        ordered = sorted(places)
        self._loads = [load for load, _ in ordered]
        self._moments = list(accumulate((moment for _, moment in reversed(ordered)), min))[::-1]

    def after(self, release: int) -> int | None:
        """The earliest moment of a place loadable from ``release`` on; None if there is none."""
        index = bisect_left(self._loads, release)
        return self._moments[index] if index < len(self._loads) else None


class Earliest:
    """The earliest injection of a bottle alone in an empty laboratory: nobody can promise less.

    Starts from the candidates where they are listed and from the given runs; else from any moment
    of the opening hours.
    """

    def __init__(self, units: Sequence[UnitStarts], chosen: bool) -> None:
        pairs: list[tuple[int, int]] = []
        self._anywhere = [unit for unit in units if not (chosen and unit.listed)]
        for unit in units:
            pairs.extend(unit.places(unit.given))
            if chosen and unit.listed and unit.unit.rack_limit:
                for start in unit.candidates:
                    if unit.unit.topup:
                        pairs.extend(zip(unit.loads(start), unit.moments(start), strict=True))
                    else:
                        pairs.append((start, unit.moments(start)[0]))
        self._listed = FirstMoments(pairs)

    def moment(self, release: int) -> int | None:
        """The earliest injection after ``release``, or None if there is none."""
        found = [moment for unit in self._anywhere if (moment := _alone(unit, release)) is not None]
        if (listed := self._listed.after(release)) is not None:
            found.append(listed)
        return min(found, default=None)


def _alone(unit: UnitStarts, release: int) -> int | None:
    if not unit.unit.rack_limit:
        return None
    opening = unit.unit.opening
    if not unit.unit.topup:
        start = opening.next_at_or_after(max(release, unit.earliest))
        return None if start is None else start + unit.unit.lead_min
    # Topped up, it can join a run started before; it still needs staff to put it on.
    start, hand = opening.next_at_or_after(unit.earliest), opening.next_at_or_after(release)
    if start is None or hand is None:
        return None
    return max(hand, start + unit.unit.lead_min)


def runs_of(units: Sequence[UnitStarts], starts: Sequence[Starts]) -> Iterator[Run]:
    """Every run with the number of samples it can hold."""
    for unit, of_unit in zip(units, starts, strict=True):
        for start, samples in zip(of_unit, unit.samples(of_unit), strict=True):
            yield Run(unit.unit.id, start, max(samples, 0))
