"""How a bottle was kept, as far as the conditions of a rulebook look, and which it does not meet."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from typing import NamedTuple

from intake.rules.book import Conditions, Rulebook
from intake.rules.facts import AcidKind, BottleFacts, Container, SampleFacts
from intake.rules.holding import Start
from intake.rules.kept import Kept


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


class Keeping(NamedTuple):
    """All that conditions look at. Bottles that are equal in this meet the same ones.

    ``late`` are the steps of the book (``Rulebook.steps``) that were taken too late.
    """

    acid: AcidKind | None
    ph_high: float | None
    cold: bool | None
    temperature_c: float | None
    frozen: bool | None
    same_day: bool
    to_brim: bool | None
    filter_pore_um: float | None
    container: Container | None
    chlorinated: bool
    additive: str
    late: tuple[tuple[Broken, float], ...]


def keeping_of(sample: SampleFacts, bottle: BottleFacts, kept: Kept, start: Start, book: Rulebook) -> Keeping:
    """What the conditions of ``book`` look at in ``bottle``."""
    return Keeping(
        kept.acid,
        kept.ph_high,
        kept.cold,
        kept.temperature_c,
        kept.frozen,
        kept.same_day,
        kept.to_brim,
        bottle.filter_pore_um,
        bottle.container,
        bool(sample.chlorinated),
        bottle.additive.strip().casefold(),
        _late(bottle, kept, start, book),
    )


def _late(bottle: BottleFacts, kept: Kept, start: Start, book: Rulebook) -> tuple[tuple[Broken, float], ...]:
    late: list[tuple[Broken, float]] = []
    for step, moment, allowed in (
        (Broken.FILTER_TIME, bottle.filtered_at, book.steps.filtered),
        (Broken.FROZEN_TIME, bottle.frozen_at, book.steps.frozen),
        (Broken.ACID_TIME, kept.acid_at, book.steps.acid),
    ):
        if allowed and moment is not None:
            late += _over(step, moment, allowed, start)
    return tuple(late)


def _over(
    step: Broken, moment: datetime, allowed: tuple[float, ...], start: Start
) -> list[tuple[Broken, float]]:
    minutes = start.minutes_until(moment)
    return [] if minutes is None else [(step, within) for within in allowed if minutes > within]


def broken_conditions(conditions: Conditions, keeping: Keeping, tolerance_c: float) -> tuple[Broken, ...]:
    """The conditions that the bottle does not meet; ``tolerance_c`` is the book's on arrival.

    A filter, a chill or an acid that nobody stated counts as not given. Moments, container
    and fill that nobody stated are not held against the bottle; findings ask for them.
    """
    container, chlorinated, additive = conditions.containers, conditions.chlorinated, conditions.additive
    found = _filter(conditions, keeping) + _temperature(conditions, keeping, tolerance_c)
    found += _acid(conditions, keeping)
    if container and keeping.container and keeping.container not in container:
        found += (Broken.CONTAINER,)
    if conditions.to_brim and keeping.to_brim is False:
        found += (Broken.BRIM,)
    if chlorinated is not None and chlorinated is not keeping.chlorinated:
        found += (Broken.CHLORINE,)
    if additive and additive.casefold() != keeping.additive:
        found += (Broken.ADDITIVE,)
    return found


def _filter(conditions: Conditions, keeping: Keeping) -> tuple[Broken, ...]:
    pore, wanted = keeping.filter_pore_um, conditions.filter_pore_max_um
    within = conditions.filtered_within_min
    if wanted is None and within is None:
        return ()
    if not pore or (wanted is not None and pore > wanted):
        return (Broken.FILTER,)
    return (Broken.FILTER_TIME,) if (Broken.FILTER_TIME, within) in keeping.late else ()


def _temperature(conditions: Conditions, keeping: Keeping, tolerance_c: float) -> tuple[Broken, ...]:
    if keeping.frozen:
        if conditions.frozen is False or (conditions.frozen is None and conditions.min_c is not None):
            return (Broken.FROZEN,)
        late = conditions.frozen and (Broken.FROZEN_TIME, conditions.frozen_within_min) in keeping.late
        return (Broken.FROZEN_TIME,) if late else ()
    if conditions.frozen:
        return (Broken.FROZEN,)
    return () if cold_enough(conditions.min_c, conditions.max_c, keeping, tolerance_c) else (Broken.COLD,)


def cold_enough(
    min_c: float | None, max_c: float | None, keeping: Keeping | Kept, tolerance_c: float
) -> bool:
    """Whether the bottle lies in the band of temperature, as far as anybody knows."""
    if max_c is None:
        return True
    if keeping.temperature_c is None:
        return keeping.cold is True or keeping.same_day
    if keeping.temperature_c > max_c + tolerance_c:
        return keeping.same_day
    return min_c is None or keeping.temperature_c >= min_c


def _acid(conditions: Conditions, keeping: Keeping) -> tuple[Broken, ...]:
    wanted = conditions.acid
    if wanted is None:
        return ()
    if keeping.acid not in (wanted or (AcidKind.NONE,)):
        return (Broken.ACID,)
    if not wanted:
        return ()
    found: tuple[Broken, ...] = ()
    if conditions.acid_ph_max is not None and keeping.ph_high is not None:
        found = (Broken.ACID_PH,) if keeping.ph_high >= conditions.acid_ph_max else ()
    if (Broken.ACID_TIME, conditions.acid_within_min) in keeping.late:
        found += (Broken.ACID_TIME,)
    return found
