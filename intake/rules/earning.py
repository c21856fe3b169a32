"""Which row of the rulebook a bottle earns for each ion asked of it, and what it breaks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

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


@dataclass(frozen=True, slots=True)
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


class Limits:
    """Due moments of one sample under one book, each worked out once."""

    __slots__ = ("_book", "_known", "_start", "_zone")

    def __init__(self, start: datetime | None, zone: str, book: Rulebook) -> None:
        self._start, self._zone, self._book = start, zone, book
        self._known: dict[int, tuple[datetime, datetime]] = {}

    def of(self, limit: Limit | None) -> tuple[datetime | None, datetime | None]:
        """Due and grossly late moment, both ``None`` without a start or a limit."""
        if limit is None or self._start is None:
            return None, None
        known = self._known.get(id(limit))
        if known is None:
            known = (
                due_moment(self._start, limit, self._zone, self._book),
                due_moment(self._start, limit, self._zone, self._book, self._book.gross_factor),
            )
            self._known[id(limit)] = known
        return known

    def length(self, limit: Limit | None) -> float:
        """A limit's length for comparing rows, in minutes from the start; none is longest."""
        if limit is None:
            return float("inf")
        due, _ = self.of(limit)
        if due is not None and self._start is not None:
            return (due - self._start).total_seconds() / 60
        if limit.unit is LimitUnit.IMMEDIATELY:
            return self._book.immediately_min
        # 28 days, the shortest month, so that an unknown start never makes a month too long.
        return limit.value * MINUTES_PER.get(limit.unit, 28 * 1440.0)


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


def in_order(ions: frozenset[str]) -> tuple[str, ...]:
    """``ions`` in the order of listing; those nobody knows last, by name."""
    return tuple(sorted(ions, key=lambda ion: (_ORDER.get(ion, len(_ORDER)), ion)))


def open_case(sample: SampleFacts, bottle: BottleFacts, book: Rulebook, start: Start, limits: Limits) -> Case:
    """Everything the rules of keeping want to know about ``bottle``."""
    kept = merge(sample, bottle, book)
    case = Case(sample, bottle, book, start, kept, in_order(bottle.ions - bottle.dropped), {}, {})
    seen: dict[int, tuple[Broken, ...]] = {}
    for ion in case.asked:
        rows = book.by_ion.get(ion)
        known = BY_NAME.get(ion)
        if rows is None or known is None or known.line is not bottle.line:
            continue
        earned = earn(rows, case, limits, seen)
        case.earned[ion] = earned
        for condition in earned.broken:
            case.costs[condition] = (*case.costs.get(condition, ()), ion)
    return case


def earn(
    rows: tuple[KeepingRow, ...], case: Case, limits: Limits, seen: dict[int, tuple[Broken, ...]]
) -> Earned:
    """The longest limit whose conditions are met, else the strictest.

    A row without a limit counts only where no other row is left. ``seen`` remembers what is
    broken of conditions that several rows share.
    """
    limited = [row for row in rows if row.limit is not None] or list(rows)
    best: KeepingRow | None = None
    nearest: tuple[int, float] | None = None
    broken_of: tuple[Broken, ...] = ()
    for row in limited:
        broken = seen.get(id(row.conditions))
        if broken is None:
            broken = seen[id(row.conditions)] = tuple(broken_conditions(row.conditions, case))
        length = limits.length(row.limit)
        if not broken:
            if best is None or length > limits.length(best.limit):
                best = row
        else:
            distance = (_distance(row.conditions, broken), -length)
            if nearest is None or distance < nearest:
                nearest, broken_of = distance, broken
    if best is not None:
        return Earned(best, *limits.of(best.limit), True)
    strictest = min(limited, key=lambda row: limits.length(row.limit))
    return Earned(strictest, *limits.of(strictest.limit), False, broken_of)


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


def broken_conditions(conditions: Conditions, case: Case) -> Iterator[Broken]:
    """The conditions that the bottle of ``case`` does not meet.

    A filter, a chill or an acid that nobody stated counts as not given. Moments, container
    and fill that nobody stated are not held against the bottle; findings ask for them.
    """
    yield from _filter(conditions, case)
    yield from _temperature(conditions, case)
    yield from _acid(conditions, case)
    bottle, kept = case.bottle, case.kept
    if conditions.containers and bottle.container and bottle.container not in conditions.containers:
        yield Broken.CONTAINER
    if conditions.to_brim and kept.to_brim is False:
        yield Broken.BRIM
    if conditions.chlorinated is not None and conditions.chlorinated is not bool(case.sample.chlorinated):
        yield Broken.CHLORINE
    if conditions.additive and conditions.additive.casefold() != bottle.additive.strip().casefold():
        yield Broken.ADDITIVE


def _late(case: Case, moment: datetime | None, within_min: float | None) -> bool:
    if within_min is None:
        return False
    minutes = case.start.minutes_until(moment)
    return minutes is not None and minutes > within_min


def _filter(conditions: Conditions, case: Case) -> Iterator[Broken]:
    pore, wanted = case.bottle.filter_pore_um, conditions.filter_pore_max_um
    if wanted is not None:
        if not pore or pore > wanted:
            yield Broken.FILTER
            return
    elif conditions.filtered_within_min is not None and not pore:
        yield Broken.FILTER
        return
    if _late(case, case.bottle.filtered_at, conditions.filtered_within_min):
        yield Broken.FILTER_TIME


def _temperature(conditions: Conditions, case: Case) -> Iterator[Broken]:
    kept = case.kept
    if kept.frozen:
        if conditions.frozen is False or (conditions.frozen is None and conditions.min_c is not None):
            yield Broken.FROZEN
        elif conditions.frozen and _late(case, case.bottle.frozen_at, conditions.frozen_within_min):
            yield Broken.FROZEN_TIME
        return
    if conditions.frozen:
        yield Broken.FROZEN
    elif not cold_enough(conditions, case):
        yield Broken.COLD


def cold_enough(conditions: Conditions, case: Case) -> bool:
    """Whether the bottle lies in the temperature band of a row, as far as anybody knows."""
    if conditions.max_c is None:
        return True
    kept = case.kept
    if kept.temperature_c is None:
        return kept.cold is True or kept.same_day
    if kept.temperature_c > conditions.max_c + case.book.arrival_tolerance_c:
        return kept.same_day
    return conditions.min_c is None or kept.temperature_c >= conditions.min_c


def _acid(conditions: Conditions, case: Case) -> Iterator[Broken]:
    if conditions.acid is None:
        return
    kept = case.kept
    if not conditions.acid:
        if kept.acid is not AcidKind.NONE:
            yield Broken.ACID
        return
    if kept.acid not in conditions.acid:
        yield Broken.ACID
        return
    wanted = conditions.acid_ph_max
    if wanted is not None and kept.ph_high is not None and kept.ph_high >= wanted:
        yield Broken.ACID_PH
    if _late(case, kept.acid_at, conditions.acid_within_min):
        yield Broken.ACID_TIME
