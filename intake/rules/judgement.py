"""What the rules return: findings, clocks and advice."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from intake.rules.book import Limit


class Weight(StrEnum):
    """How heavy a finding is. A bar stops the ions it names; a caution may cost them."""

    NOTE = "note"
    CAUTION = "caution"
    BAR = "bar"

    @property
    def rank(self) -> int:
        return _RANKS[self]


_RANKS = {weight: rank for rank, weight in enumerate(Weight)}


class Stage(StrEnum):
    """When a remedy can still be done."""

    BEFORE_SENDING = "before sending"
    AT_THE_BENCH = "at the bench"
    AFTER_ANALYSIS = "after analysis"


class ClockOutcome(StrEnum):
    RUNNING = "running"
    KEPT = "kept"
    LATE = "late"
    GROSSLY_LATE = "grossly late"
    VOID = "void"


@dataclass(frozen=True, slots=True)
class Remedy:
    stage: Stage
    sentence: str


@dataclass(slots=True)
class Finding:
    """What one rule says. ``fact`` names the field of the facts that caused it.

    Nobody changes one. Not frozen, for the same reason as ``Clock``.

    ``bottle`` is the key of the bottle concerned, empty for the sample itself. ``ions`` are
    those the finding may cost; empty means none in particular.
    """

    code: str
    weight: Weight
    sentence: str
    remedies: tuple[Remedy, ...]
    source: str
    fact: str
    bottle: str = ""
    ions: tuple[str, ...] = ()


@dataclass(slots=True)
class Clock:
    """The holding time of one ion in one bottle. Nobody changes one.

    Not frozen, because there is one for every ion of every bottle and a frozen one takes
    several times as long to make.

    ``starts_at`` is ``None`` when the collection is unknown, ``due_at`` also when the book
    sets no limit. ``assumed`` says that the start is the earliest possible one, not a stated
    one. ``due_at`` itself is still in time. ``grossly_late_at`` is the last moment that is
    late but not grossly so.
    """

    bottle: str
    ion: str
    starts_at: datetime | None
    limit: Limit | None
    due_at: datetime | None
    grossly_late_at: datetime | None
    row: int | None
    reason: str
    assumed: bool = False
    stopped_at: datetime | None = None
    void: bool = False


@dataclass(slots=True)
class Advice:
    """Something to do at the bench for one bottle: a dilution, an acid dose, an order.

    Nobody changes one. Not frozen, for the same reason as ``Clock``.

    ``figures`` are numbers with their unit in the name, for use by the planner and papers.
    """

    code: str
    bottle: str
    sentence: str
    source: str
    figures: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Judgement:
    findings: tuple[Finding, ...]
    clocks: tuple[Clock, ...]
    advice: tuple[Advice, ...]
