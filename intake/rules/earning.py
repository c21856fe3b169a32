"""Which row of the rulebook a bottle earns for each ion asked of it, and what it breaks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from itertools import combinations

from intake.rules.book import Conditions, KeepingRow, Limit, LimitUnit, Rulebook
from intake.rules.facts import BottleFacts, Line, SampleFacts
from intake.rules.holding import MINUTES_PER, Start, due_moment, span_min
from intake.rules.ions import BY_NAME
from intake.rules.keeping import Broken, Keeping, broken_conditions, keeping_of
from intake.rules.kept import Kept, merge
from intake.rules.reasons import say_row

__all__ = ["Broken", "Case", "Earned", "Term", "Terms", "in_order", "open_case"]


@dataclass(frozen=True, slots=True)
class Earned:
    """The row that counts for one ion.

    ``met`` says that the bottle meets its conditions; otherwise it is the strictest row of
    the ion, and ``broken`` are the conditions of the row the bottle came nearest to. ``told``
    and ``why`` are the reason of its clock, before and after the words for the start; with
    nothing after, nothing is due.
    """

    row: KeepingRow
    met: bool
    broken: tuple[Broken, ...]
    told: str
    why: str


@dataclass(slots=True)
class Term:
    """What a limit comes to for one sample; ``length`` is for comparing rows.

    Both moments are ``None`` without a start or a limit.
    """

    due_at: datetime | None
    grossly_late_at: datetime | None
    length: timedelta


#: Longer than every limit: that of a row without one.
ENDLESS = timedelta(days=999_999_999)


class Terms:
    """The terms of one sample under one book, each worked out once.

    Limits are known by their identity: a book holds each only once (``Rulebook.ways``).
    """

    __slots__ = ("_book", "_known", "_start", "_zone")

    def __init__(self, start: datetime | None, zone: str, book: Rulebook) -> None:
        self._start, self._zone, self._book = start, zone, book
        self._known: dict[int, Term] = {}

    def of(self, limit: Limit | None) -> Term:
        """What ``limit`` comes to."""
        known = self._known.get(id(limit))
        if known is None:
            known = self._known[id(limit)] = self._reckon(limit)
        return known

    def _reckon(self, limit: Limit | None) -> Term:
        if limit is None:
            return Term(None, None, ENDLESS)
        if self._start is not None:
            due = due_moment(self._start, limit, self._zone, self._book)
            gross = due_moment(self._start, limit, self._zone, self._book, self._book.gross_factor)
            return Term(due, gross, due - self._start)
        if limit.unit is LimitUnit.IMMEDIATELY:
            return Term(None, None, timedelta(minutes=self._book.immediately_min))
        # 28 days, the shortest month, so that an unknown start never makes a month too long.
        return Term(None, None, timedelta(minutes=limit.value * MINUTES_PER.get(limit.unit, 28 * 1440.0)))


@dataclass(slots=True)
class Case:
    """One bottle under judgement: its facts, how it was kept and what its ions earned.

    ``asked`` are the ions to be measured, in the order of listing, then by name. ``costs``
    gives for each broken condition the ions that suffer from it. ``limits`` are those earned,
    each once.
    """

    sample: SampleFacts
    bottle: BottleFacts
    book: Rulebook
    start: Start
    kept: Kept
    asked: tuple[str, ...]
    terms: Terms
    earned: Mapping[str, Earned]
    costs: Mapping[Broken, tuple[str, ...]]
    limits: tuple[Limit | None, ...]

    def over_by(self, moment: datetime) -> bool:
        """Whether any of its limits was over at ``moment``."""
        dues = [self.terms.of(limit).due_at for limit in self.limits]
        return any(due is not None and moment > due for due in dues)


_ORDER = {name: place for place, name in enumerate(BY_NAME)}


@lru_cache(maxsize=4096)
def in_order(ions: frozenset[str]) -> tuple[str, ...]:
    """``ions`` in the order of listing; those nobody knows last, by name."""
    return tuple(sorted(ions, key=lambda ion: (_ORDER.get(ion, len(_ORDER)), ion)))


def open_case(sample: SampleFacts, bottle: BottleFacts, book: Rulebook, start: Start, terms: Terms) -> Case:
    """Everything the rules of keeping want to know about ``bottle``."""
    kept = merge(sample, bottle, book)
    ions = bottle.ions - bottle.dropped if bottle.dropped else bottle.ions
    asked = in_order(ions)
    keeping = keeping_of(sample, bottle, kept, start, book)
    key = (ions, bottle.line, keeping)
    standing = book.standings.get(key)
    if standing is None:
        standing, lasting = _stand(asked, bottle.line, keeping, book, terms)
        if lasting:
            if len(book.standings) >= MOST_STANDINGS:
                book.standings.clear()
            book.standings[key] = standing
    return Case(sample, bottle, book, start, kept, asked, terms, *standing)


#: How many ways of keeping a book remembers the rows of; then it begins anew.
MOST_STANDINGS = 1024

Standing = tuple[dict[str, Earned], dict[Broken, tuple[str, ...]], tuple[Limit | None, ...]]


def _stand(
    asked: tuple[str, ...], line: Line, keeping: Keeping, book: Rulebook, terms: Terms
) -> tuple[Standing, bool]:
    """What each ion earns, what each broken condition costs and the limits, for a bottle kept like this.

    And whether that holds whenever the clock starts, so that it need not be found again.
    """
    earned: dict[str, Earned] = {}
    costs: dict[Broken, tuple[str, ...]] = {}
    known: dict[int, tuple[int, tuple[Broken, ...], bool]] = {}
    for ion in asked:
        ways = book.ways.get(ion)
        if ways is None or ways.line is not line:
            continue
        if ways.pattern not in known:
            known[ways.pattern] = _earn(ways.rows, keeping, book, terms)
        place, broken, _ = known[ways.pattern]
        row = ways.rows[place]
        earned[ion] = Earned(row, not broken, broken, *say_row(row, not broken, book))
        for condition in broken:
            costs[condition] = (*costs.get(condition, ()), ion)
    limits = {id(won.row.limit): won.row.limit for won in earned.values()}
    return (earned, costs, tuple(limits.values())), all(lasting for _, _, lasting in known.values())


def _earn(
    rows: tuple[KeepingRow, ...], keeping: Keeping, book: Rulebook, terms: Terms
) -> tuple[int, tuple[Broken, ...], bool]:
    """The place among ``rows`` of the longest limit whose conditions are met, else the strictest.

    With it what is broken of the row that comes nearest, nothing where a row is met, and
    whether that holds whenever the clock starts.
    """
    broken = [broken_conditions(row.conditions, keeping, book.arrival_tolerance_c) for row in rows]
    met = [place for place in range(len(rows)) if not broken[place]]
    if len(met) == 1:
        return met[0], (), True
    lengths, lasting = _lengths(rows, book, terms)
    if met:
        return max(met, key=lengths.__getitem__), (), lasting
    places = range(len(rows))
    nearest = min(
        places, key=lambda place: (_distance(rows[place].conditions, broken[place]), -lengths[place])
    )
    return min(places, key=lengths.__getitem__), broken[nearest], lasting


def _lengths(rows: tuple[KeepingRow, ...], book: Rulebook, terms: Terms) -> tuple[list[float], bool]:
    """Numbers in the order of the limits' lengths, and whether the order never changes.

    28 days are shorter than some months and as long as others: there the start decides.
    """
    spans = [span_min(row.limit, book) for row in rows]
    lasting = all(
        one.limit == other.limit or first[1] < second[0] or second[1] < first[0]
        for (one, first), (other, second) in combinations(zip(rows, spans, strict=True), 2)
    )
    if lasting:
        return [shortest for shortest, _ in spans], True
    return [terms.of(row.limit).length / timedelta(minutes=1) for row in rows], False


def _distance(conditions: Conditions, broken: tuple[Broken, ...]) -> int:
    """How far a bottle is from a row: a step nobody took counts twice one taken badly.

    So a bottle is told what is wrong with how it was kept, not about a way it never went.
    """
    untaken = (
        (Broken.FROZEN in broken and conditions.frozen is True)
        + (Broken.ACID in broken and bool(conditions.acid))
        + (Broken.ADDITIVE in broken)
        + (Broken.CHLORINE in broken)
    )
    return len(broken) + untaken
