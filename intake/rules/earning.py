"""Which row of the rulebook a bottle earns for each ion asked of it, and what it breaks."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from functools import lru_cache

from intake.rules.book import Conditions, KeepingRow, Limit, LimitUnit, Rulebook
from intake.rules.facts import AcidKind, BottleFacts, SampleFacts
from intake.rules.holding import MINUTES_PER, Start, due_moment
from intake.rules.ions import BY_NAME
from intake.rules.kept import Kept, merge


class Broken(StrEnum):
    """A condition of a row that a bottle does not meet."""

    FILTER = "filter"
    FILTER_TIME = "filtered too late"
    COLD = "cold"
    FROZEN = "frozen"
    FROZEN_TIME = "frozen too late"
    ACID = "acid"
    ACID_PH = "acid too weak"
    ACID_TIME = "acid too late"
    CONTAINER = "container"
    BRIM = "brim"
    CHLORINE = "chlorine"
    ADDITIVE = "additive"


@dataclass(slots=True)
class Earned:
    """The row that counts for one ion.

    ``met`` says that the bottle meets its conditions; otherwise it is the strictest row of
    the ion, and ``broken`` are the conditions of the row the bottle came nearest to.
    """

    row: KeepingRow
    due_at: datetime | None
    grossly_late_at: datetime | None
    met: bool
    broken: tuple[Broken, ...] = ()


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
    gives for each broken condition the ions that suffer from it.
    """

    sample: SampleFacts
    bottle: BottleFacts
    book: Rulebook
    start: Start
    kept: Kept
    asked: tuple[str, ...]
    earned: dict[str, Earned]
    costs: dict[Broken, tuple[str, ...]]


_ORDER = {name: place for place, name in enumerate(BY_NAME)}


@lru_cache(maxsize=4096)
def in_order(ions: frozenset[str]) -> tuple[str, ...]:
    """``ions`` in the order of listing; those nobody knows last, by name."""
    return tuple(sorted(ions, key=lambda ion: (_ORDER.get(ion, len(_ORDER)), ion)))


def open_case(sample: SampleFacts, bottle: BottleFacts, book: Rulebook, start: Start, terms: Terms) -> Case:
    """Everything the rules of keeping want to know about ``bottle``."""
    kept = merge(sample, bottle, book)
    asked = in_order(bottle.ions - bottle.dropped if bottle.dropped else bottle.ions)
    earned: dict[str, Earned] = {}
    costs: dict[Broken, tuple[str, ...]] = {}
    case = Case(sample, bottle, book, start, kept, asked, earned, costs)
    line, all_ways = bottle.line, book.ways
    known: dict[int, Won] = {}
    broken_by: dict[int, tuple[Broken, ...]] = {}
    for ion in asked:
        ways = all_ways.get(ion)
        if ways is None or ways.line is not line:
            continue
        won = known.get(ways.pattern)
        if won is None:
            won = known[ways.pattern] = earn(ways.rows, case, terms, broken_by)
        term, broken = won.term, won.broken
        earned[ion] = Earned(ways.rows[won.place], term.due_at, term.grossly_late_at, not broken, broken)
        for condition in broken:
            costs[condition] = (*costs.get(condition, ()), ion)
    return case


@dataclass(slots=True)
class Won:
    """What a pattern of rows comes to for one bottle: the place of the row, its term, what is broken."""

    place: int
    term: Term
    broken: tuple[Broken, ...] = ()


def earn(
    rows: tuple[KeepingRow, ...], case: Case, terms: Terms, broken_by: dict[int, tuple[Broken, ...]]
) -> Won:
    """The row among ``rows`` with the longest limit whose conditions are met, else the strictest.

    With it what is broken of the row that comes nearest, nothing where a row is met.
    ``broken_by`` remembers what is broken of conditions that several ions share.
    """
    met: list[Won] = []
    missed: list[tuple[int, KeepingRow, tuple[Broken, ...]]] = []
    for place, row in enumerate(rows):
        conditions = row.conditions
        broken = broken_by.get(id(conditions))
        if broken is None:
            broken = broken_by[id(conditions)] = broken_conditions(conditions, case)
        if broken:
            missed.append((place, row, broken))
        else:
            met.append(Won(place, terms.of(row.limit)))
    if len(met) == 1:
        return met[0]
    if met:
        return max(met, key=lambda won: won.term.length)
    by_length = [(place, terms.of(row.limit), row, broken) for place, row, broken in missed]
    strictest = min(by_length, key=lambda way: way[1].length)
    nearest = min(by_length, key=lambda way: (_distance(way[2].conditions, way[3]), -way[1].length))
    return Won(strictest[0], strictest[1], nearest[3])


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


def broken_conditions(conditions: Conditions, case: Case) -> tuple[Broken, ...]:
    """The conditions that the bottle of ``case`` does not meet.

    A filter, a chill or an acid that nobody stated counts as not given. Moments, container
    and fill that nobody stated are not held against the bottle; findings ask for them.
    """
    bottle = case.bottle
    container, chlorinated, additive = conditions.containers, conditions.chlorinated, conditions.additive
    found = _filter(conditions, case) + _temperature(conditions, case) + _acid(conditions, case)
    if container and bottle.container and bottle.container not in container:
        found += (Broken.CONTAINER,)
    if conditions.to_brim and case.kept.to_brim is False:
        found += (Broken.BRIM,)
    if chlorinated is not None and chlorinated is not bool(case.sample.chlorinated):
        found += (Broken.CHLORINE,)
    if additive and additive.casefold() != bottle.additive.strip().casefold():
        found += (Broken.ADDITIVE,)
    return found


def _late(case: Case, moment: datetime | None, within_min: float | None) -> bool:
    if within_min is None:
        return False
    minutes = case.start.minutes_until(moment)
    return minutes is not None and minutes > within_min


def _filter(conditions: Conditions, case: Case) -> tuple[Broken, ...]:
    pore, wanted = case.bottle.filter_pore_um, conditions.filter_pore_max_um
    within = conditions.filtered_within_min
    if wanted is None and within is None:
        return ()
    if not pore or (wanted is not None and pore > wanted):
        return (Broken.FILTER,)
    return (Broken.FILTER_TIME,) if _late(case, case.bottle.filtered_at, within) else ()


def _temperature(conditions: Conditions, case: Case) -> tuple[Broken, ...]:
    if case.kept.frozen:
        if conditions.frozen is False or (conditions.frozen is None and conditions.min_c is not None):
            return (Broken.FROZEN,)
        late = conditions.frozen and _late(case, case.bottle.frozen_at, conditions.frozen_within_min)
        return (Broken.FROZEN_TIME,) if late else ()
    if conditions.frozen:
        return (Broken.FROZEN,)
    return () if cold_enough(conditions.min_c, conditions.max_c, case) else (Broken.COLD,)


def cold_enough(min_c: float | None, max_c: float | None, case: Case) -> bool:
    """Whether the bottle lies in the band of temperature, as far as anybody knows."""
    if max_c is None:
        return True
    kept = case.kept
    if kept.temperature_c is None:
        return kept.cold is True or kept.same_day
    if kept.temperature_c > max_c + case.book.arrival_tolerance_c:
        return kept.same_day
    return min_c is None or kept.temperature_c >= min_c


def _acid(conditions: Conditions, case: Case) -> tuple[Broken, ...]:
    kept, wanted = case.kept, conditions.acid
    if wanted is None:
        return ()
    if kept.acid not in (wanted or (AcidKind.NONE,)):
        return (Broken.ACID,)
    if not wanted:
        return ()
    found: tuple[Broken, ...] = ()
    if conditions.acid_ph_max is not None and kept.ph_high is not None:
        found = (Broken.ACID_PH,) if kept.ph_high >= conditions.acid_ph_max else ()
    if _late(case, kept.acid_at, conditions.acid_within_min):
        found += (Broken.ACID_TIME,)
    return found
