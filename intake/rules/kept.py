"""How a bottle really was kept: what was seen outweighs what was declared."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from intake.rules.book import Rulebook
from intake.rules.facts import AcidKind, BottleFacts, Cooling, Line, Precision, SampleFacts
from intake.rules.moments import local
from intake.rules.reached import ONE_PROTON, SALT_WATERS, dose_of, reach, volume_of, water_of

#: A strip at or below this in a bottle for anions, in water that was not acid in the field,
#: shows that acid was added. House choice, no published source.
ACID_SEEN_PH = 3.0
#: By how much the strip must lie below the field pH for that.
ACID_SEEN_DROP = 1.5
#: A strip above this in a bottle declared acidified shows that no acid is left. House choice;
#: ISO 14911 (from memory) wants about pH 3 where calcium or magnesium may precipitate.
NO_ACID_SEEN_PH = 4.0


@dataclass(slots=True)
class Kept:
    """The facts of a bottle after declaration and bench check are merged.

    ``acid`` ``None`` means that the statements contradict each other. ``temperature_c`` is
    the best reading there is, ``temperature_fact`` the facts field it came from. ``cold``
    is the touch of the bottle, else the declaration. ``ph_high`` is the upper end of a strip
    that still holds. ``same_day`` says that the bottle came on ice, measured, on the local
    day of its collection.
    """

    acid: AcidKind | None
    acid_at: datetime | None
    acid_fact: str
    ph_high: float | None
    cold: bool | None
    temperature_c: float | None
    temperature_fact: str
    frozen: bool | None
    to_brim: bool | None
    same_day: bool


def merge(sample: SampleFacts, bottle: BottleFacts, book: Rulebook) -> Kept:
    """One account of the bottle from what was declared and what reception saw."""
    seen = bottle.seen
    arrival = bottle.arrival
    temperature, temperature_fact = None, "chilled"
    cold, frozen, to_brim = bottle.chilled, bottle.frozen, bottle.to_brim
    if arrival is not None and arrival.temperature_c is not None:
        temperature, temperature_fact = arrival.temperature_c, "arrival.temperature_c"
    if seen is not None:
        if seen.temperature_c is not None:
            temperature, temperature_fact = seen.temperature_c, "seen.temperature_c"
        elif seen.cold is not None:
            cold = seen.cold
            if not cold or temperature is None:
                temperature, temperature_fact = None, "seen.cold"
        frozen = frozen if seen.frozen is None else seen.frozen
        to_brim = to_brim if seen.headspace is None else not seen.headspace
    acid, acid_at, acid_fact = acid_present(sample, bottle)
    return Kept(
        acid,
        acid_at,
        acid_fact,
        strip_ph(bottle)[1],
        cold,
        temperature,
        temperature_fact,
        frozen,
        to_brim,
        arrival is not None and came_same_day(sample, bottle, book),
    )


def strip_ph(bottle: BottleFacts) -> tuple[float | None, float | None]:
    """The range of the strip, unless acid was given at the bench after it was read."""
    seen = bottle.seen
    if seen is None:
        return None, None
    if seen.acid_added_ml and seen.acid_added_at is not None and seen.acid_added_at >= seen.checked_at:
        return None, None
    low = seen.ph_high if seen.ph_low is None else seen.ph_low
    high = seen.ph_low if seen.ph_high is None else seen.ph_high
    return low, high


def declared_acid(bottle: BottleFacts) -> AcidKind | None:
    """The acid the submitter declared; ``None`` when the statements contradict each other.

    An acid whose kind nobody stated is ``OTHER``.
    """
    kind, added = bottle.acid_kind, bool(bottle.acid_ml)
    named = kind is not None and kind is not AcidKind.NONE
    if bottle.acidified is False:
        return None if added or named else AcidKind.NONE
    if kind is AcidKind.NONE:
        return None if added or bottle.acidified else AcidKind.NONE
    if kind is not None:
        return kind
    return AcidKind.OTHER if added or bottle.acidified else AcidKind.NONE


def acid_present(sample: SampleFacts, bottle: BottleFacts) -> tuple[AcidKind | None, datetime | None, str]:
    """The acid that is in the bottle, when it was given, and the fact that says so.

    Acid given at the bench is taken to be nitric, the acid of the house for cations.
    """
    acid, seen = declared_acid(bottle), bottle.seen
    if seen is not None:
        doubtful = acid in (AcidKind.NONE, None)
        if seen.acid_added_ml and doubtful:
            return AcidKind.NITRIC, seen.acid_added_at or seen.checked_at, "seen.acid_added_ml"
        low, high = strip_ph(bottle)
        if low is not None and high is not None and not seen.acid_added_ml:
            if bottle.line is Line.ANION:
                if doubtful and high <= min(ACID_SEEN_PH, _field_ph(sample) - ACID_SEEN_DROP):
                    return AcidKind.OTHER, None, "seen.ph_high"
            elif acid is not AcidKind.NONE and low > NO_ACID_SEEN_PH:
                return AcidKind.NONE, None, "seen.ph_low"
            return acid, bottle.acid_at, "acid_kind"
    if bottle.line is Line.CATION and acid in ONE_PROTON and _used_up(sample, bottle):
        return AcidKind.NONE, None, "alkalinity_meq_l"
    return acid, bottle.acid_at, "acid_kind"


def _used_up(sample: SampleFacts, bottle: BottleFacts) -> bool:
    """Whether the alkalinity of the water surely takes the whole dose (``acid.py`` says so)."""
    if sample.alkalinity_meq_l is None and sample.water_kind not in SALT_WATERS:
        return False
    volume, dose = volume_of(bottle), dose_of(bottle)
    if volume is None or dose is None:
        return False
    return reach(water_of(sample), volume, dose).lowest_ph is None


def _field_ph(sample: SampleFacts) -> float:
    """The field pH; neutral when nobody measured it."""
    return 7.0 if sample.ph is None else sample.ph


def came_same_day(sample: SampleFacts, bottle: BottleFacts, book: Rulebook) -> bool:
    """Whether the bottle may still be warm because it only just went on ice.

    The same-day allowance of TNI V1M2 5.8.7 (from memory): it came on the local day of its
    collection and chilling had begun. TNI interpretation request 10009 (read): the measured
    figure must be on record as well.
    """
    arrival = bottle.arrival
    if arrival is None or not book.same_day_allowance or bottle.chilled is False:
        return False
    iced = arrival.cooling is Cooling.ICE or (
        arrival.cooling is Cooling.GEL_PACKS and book.gel_packs_count_as_ice
    )
    measured = arrival.temperature_c is not None or (
        bottle.seen is not None and bottle.seen.temperature_c is not None
    )
    if not (iced and measured) or sample.collected_at is None or sample.precision is Precision.UNKNOWN:
        return False
    collected = local(sample.collected_at, sample.zone)
    received = local(arrival.received_at, sample.zone)
    return collected.date() == received.date() and collected <= received
