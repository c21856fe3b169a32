"""Choosing the starts: the best of seven rules, then hill climbing, bounded by evaluations.

A choice is scored by filling the board greedily (:func:`labqueue.planning.board.fill`); the bound is
a number of evaluations, not a time, so the same facts always give the same starts. The floor, what
every bottle would lose alone in an empty laboratory, cannot be undercut by any choice: a choice that
meets it is optimal. Otherwise the result is the best found, no more.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
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
    return max(40, 300_000 // (bottles + 20))


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
        while kind < len(moves) and self._left > 0 and score.loss > self.floor:
            for trial in moves[kind](state):
                found = self._score(trial, score.loss)
                if found is not None and found < score:
                    score, state, kind = found, trial, 0
                    break
                if self._left <= 0:
                    break
            else:
                kind += 1
        return score, state

    def _replace(self, state: State, index: int, starts: Starts) -> State | None:
        if not self.units[index].possible(starts):
            return None
        return (*state[:index], starts, *state[index + 1 :])

    def _single_changes(self, state: State) -> Iterator[State]:
        """Drop, move or add one start."""
        for index, unit in enumerate(self.units):
            chosen = [start for start in state[index] if start not in unit.given]
            dropped = [tuple(s for s in state[index] if s != start) for start in chosen]
            moved = [
                with_start(rest, candidate)
                for start, rest in zip(chosen, dropped, strict=True)
                for candidate in _by_distance(unit.candidates, start)
                if candidate not in state[index]
            ]
            added = [with_start(state[index], c) for c in unit.candidates if c not in state[index]]
            for starts in (*dropped, *added, *moved):
                trial = self._replace(state, index, starts)
                if trial is not None:
                    yield trial

    def _double_changes(self, state: State, most: int) -> Iterator[State]:
        """Decide two unit-days anew: neighbouring days of a unit, same or next day of two units."""
        days = [
            (index, *numbered) for index, unit in enumerate(self.units) for numbered in enumerate(unit.days())
        ]
        for (one, number, day), (two, other_number, other_day) in combinations(days, 2):
            if abs(number - other_number) > 1:
                continue
            firsts, seconds = self._day_choices(one, day, most), self._day_choices(two, other_day, most)
            for first, second in product(firsts, seconds):
                trial = self._redecide(state, ((one, day, first), (two, other_day, second)))
                if trial is not None:
                    yield trial

    def _day_choices(self, index: int, day: Starts, most: int) -> list[Starts]:
        """No start that day, one, or up to ``most`` that leave room for each other."""
        unit = self.units[index]
        free = [candidate for candidate in day if candidate not in unit.given]
        choices = chain.from_iterable(combinations(free, size) for size in range(most + 1))
        return [choice for choice in choices if unit.possible(choice)]

    def _redecide(self, state: State, decisions: Sequence[tuple[int, Starts, Starts]]) -> State | None:
        trial = list(state)
        for index, day, choice in decisions:
            given = self.units[index].given
            kept = [s for s in trial[index] if s in given or not day[0] <= s <= day[-1]]
            trial[index] = tuple(sorted((*kept, *choice)))
        if all(self.units[index].possible(trial[index]) for index, _, _ in decisions):
            return tuple(trial)
        return None

    def _slim(self, state: State, score: Score) -> State:
        """Drop runs nobody needs and move starts to earlier candidates, while nothing is lost by it."""
        self._left = max(self._left, 20 + 4 * sum(map(len, state)))
        improved = True
        while improved and self._left > 0:
            improved = False
            for trial in self._smaller(state):
                found = self._score(trial, score.loss)
                if found is not None and found < score:
                    score, state, improved = found, trial, True
                    break
                if self._left <= 0:
                    break
        return state

    def _smaller(self, state: State) -> Iterator[State]:
        for index, unit in enumerate(self.units):
            for start in reversed(state[index]):
                if start in unit.given:
                    continue
                rest = tuple(s for s in state[index] if s != start)
                trial = self._replace(state, index, rest)
                if trial is not None:
                    yield trial
                for candidate in [c for c in unit.candidates if c < start and c not in state[index]][-3:]:
                    trial = self._replace(state, index, with_start(rest, candidate))
                    if trial is not None:
                        yield trial


def _by_distance(candidates: Starts, start: int) -> list[int]:
    return sorted(candidates, key=lambda candidate: abs(candidate - start))
