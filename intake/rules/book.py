"""A rulebook: the numbered, dated, cited data that the rules follow.

Rows are *keeping alternatives*: one ion, the conditions under which it may be kept, and the
longest it may then wait. A bottle gets the longest limit whose conditions it meets; if it
meets none, the strictest limit of that ion and a finding for the broken condition.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

from intake.rules.facts import AcidKind, Container, Line
from intake.rules.ions import BY_NAME


class LimitUnit(StrEnum):
    """Units as published; minutes are never converted and a month is not a number of days."""

    MINUTES = "minutes"
    HOURS = "hours"
    DAYS = "days"
    MONTHS = "months"
    IMMEDIATELY = "immediately"


class Counting(StrEnum):
    """How limits in days and months are counted; limits in hours are always elapsed time."""

    ELAPSED = "elapsed"
    END_OF_PERIOD = "end of period"


class Confidence(StrEnum):
    """How well a row is founded."""

    READ = "read"
    MEMORY = "from memory, check before use"
    COMMON_PRACTICE = "common practice"
    HOUSE_CHOICE = "house choice, no published source"


class Outcome(StrEnum):
    """What reception may do with an ion of a bottle that departs from the book."""

    ACCEPT = "accept"
    ACCEPT_WITH_WORD = "accept with the submitter's word"
    REFUSE = "refuse"


@dataclass(frozen=True, slots=True)
class Limit:
    value: float
    unit: LimitUnit


@dataclass(frozen=True, slots=True)
class Source:
    """Where a row comes from: document, edition and place in it."""

    document: str
    place: str = ""
    edition: str = ""


@dataclass(frozen=True, slots=True)
class Conditions:
    """What must be true of a bottle for a row to apply. ``None`` asks for nothing.

    ``acid`` lists the acids that satisfy the row; an empty tuple forbids every acid.
    ``max_c`` makes chilling a condition. ``frozen`` True asks for it, False forbids it.
    The ``..._within_min`` count from the start of the clock. ``acid_ph_max`` has to be undercut.
    """

    filter_pore_max_um: float | None = None
    filtered_within_min: float | None = None
    min_c: float | None = None
    max_c: float | None = None
    frozen: bool | None = None
    frozen_within_min: float | None = None
    acid: tuple[AcidKind, ...] | None = None
    acid_ph_max: float | None = None
    acid_within_min: float | None = None
    containers: tuple[Container, ...] | None = None
    to_brim: bool | None = None
    chlorinated: bool | None = None
    additive: str | None = None


@dataclass(frozen=True, slots=True)
class KeepingRow:
    """One row of a rulebook. ``limit`` ``None``: the ion is known, the lab must set a limit."""

    number: int
    ion: str
    conditions: Conditions
    limit: Limit | None
    source: Source
    confidence: Confidence
    note: str = ""


@dataclass(frozen=True, slots=True)
class Ways:
    """The rows an ion can earn, in the order of their numbers.

    Those with a limit, or all where none has one. Equal conditions and limits are one object
    throughout a book, and ions with the same ones share ``pattern``, so that each is worked
    out once a bottle. ``acids`` are those that some row of the ion wants, ``bands`` the coldest and
    the warmest of each row that wants it chilled, ``finest_um`` the finest filter that one wants;
    ``line`` is that of the ion, ``None`` for one nobody knows.
    """

    rows: tuple[KeepingRow, ...]
    pattern: int
    acids: tuple[AcidKind, ...]
    bands: frozenset[tuple[float | None, float]]
    finest_um: float | None
    line: Line | None


def _ways(by_ion: Mapping[str, tuple[KeepingRow, ...]]) -> dict[str, Ways]:
    """The ways to keep each ion, equal parts shared."""
    conditions: dict[Conditions, Conditions] = {}
    limits: dict[Limit | None, Limit | None] = {}
    patterns: dict[tuple[tuple[Conditions, Limit | None], ...], int] = {}
    ways = {}
    for ion, rows in by_ion.items():
        shared = tuple(
            replace(
                row,
                conditions=conditions.setdefault(row.conditions, row.conditions),
                limit=limits.setdefault(row.limit, row.limit),
            )
            for row in [row for row in rows if row.limit is not None] or rows
        )
        pattern = tuple((row.conditions, row.limit) for row in shared)
        acids = tuple(acid for row in rows for acid in row.conditions.acid or ())
        asked = [row.conditions for row in rows]
        bands = frozenset((one.min_c, one.max_c) for one in asked if one.max_c is not None)
        pores = [one.filter_pore_max_um for one in asked if one.filter_pore_max_um is not None]
        line = BY_NAME[ion].line if ion in BY_NAME else None
        number = patterns.setdefault(pattern, len(patterns))
        ways[ion] = Ways(shared, number, acids, bands, min(pores, default=None), line)
    return ways


@dataclass(frozen=True, slots=True)
class Steps:
    """The minutes that some row of a book allows for each step, each once."""

    filtered: tuple[float, ...]
    frozen: tuple[float, ...]
    acid: tuple[float, ...]


def _steps(rows: tuple[KeepingRow, ...]) -> Steps:
    conditions = [row.conditions for row in rows]
    return Steps(
        _each_once(row.filtered_within_min for row in conditions),
        _each_once(row.frozen_within_min for row in conditions),
        _each_once(row.acid_within_min for row in conditions),
    )


def _each_once(minutes: Iterable[float | None]) -> tuple[float, ...]:
    return tuple(sorted({allowed for allowed in minutes if allowed is not None}))


@dataclass(frozen=True, slots=True)
class Rulebook:
    """One version of a set of rules; once used it is never changed.

    ``immediately_min`` is what "at once" means in minutes. ``gross_factor`` times the limit
    is grossly late. ``filter_pore_max_um``, ``to_brim`` and ``bottle_max_c`` are what the lab
    expects of every bottle, whatever its ions. ``line_volume_ml`` is what it asks for each
    line, ``injection_volume_ml`` what one injection with its rinse takes and ``repeats`` how
    many more may be wanted. ``arrival_tolerance_c`` is by how much a box may be warmer on
    opening than the upper limit of a row, ``chilled_within_min`` how soon after collection a
    bottle has to be in the cold. ``acid_dose_*`` is the lab's usual dose and
    ``acid_ph_target`` the pH it wants, ``acid_standing_h`` how long a bottle stands after acid in
    the laboratory (EPA Method 200.7 Rev 4.4, 8.1 to 8.3: 16 h; 40 CFR 136.3 Table II footnote 19:
    24 h). ``by_ion`` and ``ways`` are worked out from ``rows``; ``steps`` are the times it allows
    for them, and ``standings`` keeps what ``earning.py`` has
    found for bottles that were kept alike.
    """

    code: str
    version: int
    title: str
    rows: tuple[KeepingRow, ...]
    counting: Counting = Counting.ELAPSED
    departure: Outcome = Outcome.ACCEPT_WITH_WORD
    about: str = ""
    dated: str = ""
    immediately_min: float = 15
    gross_factor: float = 2.0
    arrival_tolerance_c: float = 0
    line_volume_ml: float = 50
    injection_volume_ml: float = 5
    repeats: int = 2
    filter_pore_max_um: float | None = 0.45
    to_brim: bool = True
    bottle_max_c: float | None = None
    chilled_within_min: float | None = None
    acid_dose_ml: float = 0.5
    acid_dose_mol_l: float = 1.0
    acid_ph_target: float | None = None
    acid_standing_h: float = 16.0
    same_day_allowance: bool = True
    gel_packs_count_as_ice: bool = True
    by_ion: Mapping[str, tuple[KeepingRow, ...]] = field(init=False, repr=False, compare=False)
    ways: Mapping[str, Ways] = field(init=False, repr=False, compare=False)
    steps: Steps = field(init=False, repr=False, compare=False)
    standings: dict[Any, Any] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        rows: dict[str, tuple[KeepingRow, ...]] = {}
        for row in sorted(self.rows, key=lambda row: row.number):
            rows[row.ion] = (*rows.get(row.ion, ()), row)
        object.__setattr__(self, "by_ion", rows)
        object.__setattr__(self, "ways", _ways(rows))
        object.__setattr__(self, "steps", _steps(self.rows))
        object.__setattr__(self, "standings", {})

    @property
    def name(self) -> str:
        """Title and version as people read it."""
        return f"{self.title}, version {self.version}"
