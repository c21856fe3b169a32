"""Choosing the starts: the best of seven rules, then hill climbing, bounded by evaluations.

A choice is scored by filling the board greedily (:func:`labqueue.planning.board.fill`); the bound is
a number of evaluations, not a time, so the same facts always give the same starts. The floor, what
every bottle would lose alone in an empty laboratory, cannot be undercut by any choice: a choice that
meets it is optimal. Otherwise the result is the best found, no more.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial
from itertools import chain, combinations, islice, product
from typing import NamedTuple

from labqueue.planning.board import Board, fill
from labqueue.planning.losses import Job
from labqueue.planning.starts import Starts, UnitStarts, all_starts, rule_starts, with_start

State = tuple[Starts, ...]


class Score(NamedTuple):
    """What is compared, in this order; the last two by policy."""

    loss: int
    without_place: int
    first: int
    second: int


def default_evaluations(bottles: int) -> int:
    """Enough for the small cases, and about a second for the large ones on one core of 2020."""
    return max(20, 240_000 // (bottles + 20))


class Search:
    """Chooses starts for the units of one line."""

    def __init__(
        self, units: Sequence[UnitStarts], jobs: Sequence[Job], rungs: Sequence[int], *, earlier_first: bool
    ) -> None:
        self.units = units
        self.jobs = jobs
        self.rungs = rungs
        self.earlier_first = earlier_first
        self.floor = sum(job.loss_of(rung) for job, rung in zip(jobs, rungs, strict=True))
        self._known: dict[State, Score] = {}
        self._given_up: dict[State, int] = {}
        self._left = 0

    def run(self, evaluations: int) -> State:
        """The starts, given ones included."""
        self._left = evaluations
        scored = [(self._score(state, None), state) for state in set(rule_starts(self.units))]
        rules = sorted((score, state) for score, state in scored if score is not None)
        best_score, best = rules[0]
        everything = self._all_states() if best_score.loss > self.floor else None
        if everything is not None:
            for state in everything:
                found = self._score(state, best_score.loss)
                if found is not None and found < best_score:
                    best_score, best = found, state
            return best
        for score, state in rules:
            if best_score.loss == self.floor or self._left <= 0:
                break
            score, state = self._climb(state, score)
            if score < best_score:
                best_score, best = score, state
        return self._slim(best, best_score)

    def _all_states(self) -> list[State] | None:
        """Every choice of starts, or None if they are more than may be evaluated."""
        lists: list[list[Starts]] = []
        count = 1
        if self._left <= 0:
            return None
        for unit in self.units:
            most = self._left // count
            lists.append(list(islice(all_starts(unit), most + 1)))
            if len(lists[-1]) > most:
                return None
            count *= len(lists[-1])
        return list(product(*lists))

    def _score(self, state: State, limit: int | None) -> Score | None:
        """The score of a choice; None if it loses more than ``limit`` or the work is used up."""
        if state in self._known:
            return self._known[state]
        if limit is not None and self._given_up.get(state, -1) >= limit:
            return None
        self._left -= 1
        places = (unit.places(starts) for unit, starts in zip(self.units, state, strict=True))
        board = Board(sorted(chain.from_iterable(places)))
        filled = fill(board, self.jobs, self.rungs, None if limit is None else limit - self.floor)
        if filled is None:
            self._given_up[state] = limit or 0
            return None
        loss, left_out = filled
        runs = sum(map(len, state))
        if self.earlier_first:
            seated = zip(board.moments, board.sitters, strict=True)
            order = sum(sum(moments[: len(sitters)]) for moments, sitters in seated), runs
        else:
            order = runs, sum(map(sum, state))
        score = self._known[state] = Score(self.floor + loss, len(left_out), *order)
        return score

    def _climb(self, state: State, score: Score) -> tuple[Score, State]:
        """Take every better neighbour at once, single changes before double ones."""
        moves: tuple[Callable[[State], Iterator[State]], ...] = (
            self._single_changes,
            partial(self._double_changes, most=1),
            partial(self._double_changes, most=2),
        )
        kind = 0
        while kind < len(moves) and score.loss > self.floor:
            better = self._better(score, moves[kind](state))
            if better is None:
                kind += 1
            else:
                (score, state), kind = better, 0
        return score, state

    def _slim(self, state: State, score: Score) -> State:
        """Drop runs nobody needs and move starts to earlier candidates, while nothing is lost by it."""
        self._left = max(self._left, 20 + 4 * sum(map(len, state)))
        while (better := self._better(score, self._smaller(state))) is not None:
            score, state = better
        return state

    def _better(self, score: Score, trials: Iterable[State]) -> tuple[Score, State] | None:
        """The first of ``trials`` that is possible and better; None once the work is used up."""
        for trial in trials:
            if self._left <= 0:
                return None
            if all(unit.possible(starts) for unit, starts in zip(self.units, trial, strict=True)):
                found = self._score(trial, score.loss)
                if found is not None and found < score:
                    return found, trial
        return None

    def _chosen(self, state: State) -> Iterator[tuple[int, int, Starts]]:
        """(number of the unit, a start that may be changed, the other starts of that unit)."""
        for index, unit in enumerate(self.units):
            for start in state[index]:
                if start not in unit.given:
                    yield index, start, tuple(other for other in state[index] if other != start)

    def _single_changes(self, state: State) -> Iterator[State]:
        """Drop, add or move one start."""
        for index, _, rest in self._chosen(state):
            yield _replaced(state, index, rest)
        for index, unit in enumerate(self.units):
            for candidate in unit.candidates:
                if candidate not in state[index]:
                    yield _replaced(state, index, with_start(state[index], candidate))
        for index, start, rest in self._chosen(state):
            for candidate in _by_distance(self.units[index].candidates, start):
                if candidate not in state[index]:
                    yield _replaced(state, index, with_start(rest, candidate))

    def _double_changes(self, state: State, most: int) -> Iterator[State]:
        """Decide two unit-days anew: neighbouring days of a unit, same or next day of two units."""
        days = [
            (index, number, day)
            for index, unit in enumerate(self.units)
            for number, day in enumerate(unit.days())
        ]
        for (one, number, day), (two, other_number, other_day) in combinations(days, 2):
            if abs(number - other_number) <= 1:
                firsts, seconds = self._day_choices(one, day, most), self._day_choices(two, other_day, most)
                for first, second in product(firsts, seconds):
                    yield self._redecided(self._redecided(state, one, day, first), two, other_day, second)

    def _day_choices(self, index: int, day: Starts, most: int) -> list[Starts]:
        """No start that day, one, or up to ``most`` that leave room for each other."""
        unit = self.units[index]
        free = [candidate for candidate in day if candidate not in unit.given]
        choices = chain.from_iterable(combinations(free, size) for size in range(most + 1))
        return [choice for choice in choices if unit.possible(choice)]

    def _redecided(self, state: State, index: int, day: Starts, choice: Starts) -> State:
        given = self.units[index].given
        kept = [start for start in state[index] if start in given or not day[0] <= start <= day[-1]]
        return _replaced(state, index, tuple(sorted((*kept, *choice))))

    def _smaller(self, state: State) -> Iterator[State]:
        for index, start, rest in reversed(list(self._chosen(state))):
            yield _replaced(state, index, rest)
            earlier = [c for c in self.units[index].candidates if c < start and c not in state[index]]
            for candidate in earlier[-3:]:
                yield _replaced(state, index, with_start(rest, candidate))


def _replaced(state: State, index: int, starts: Starts) -> State:
    return (*state[:index], starts, *state[index + 1 :])


def _by_distance(candidates: Starts, start: int) -> list[int]:
    return sorted(candidates, key=lambda candidate: abs(candidate - start))
