"""A day at the water that has not happened yet: which bottles to take, and what the rules say of them.

They are judged by the same rules as real ones, as if they had been kept the way the asker means to
keep them. ``faring`` tells how the day would go at the laboratory.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from math import ceil
from zoneinfo import ZoneInfo

from intake.rules.acid import METALS_PH, wanted_ph
from intake.rules.book import Rulebook
from intake.rules.earning import in_order
from intake.rules.facts import AcidKind, BottleFacts, Container, EcReference, Line, SampleFacts, WaterKind
from intake.rules.ions import BY_NAME
from intake.rules.judge import judge
from intake.rules.judgement import Finding, Judgement, Weight
from intake.rules.reached import need_ml, water_of

#: A dose is said to the next tenth of a millilitre above, what a usual pipette can be set to.
DOSE_STEP_ML = 0.1


class Habit(StrEnum):
    """One way to keep a bottle."""

    FILTERED = "filtered"
    CHILLED = "chilled"
    FROZEN = "frozen"
    ACID = "acid"


@dataclass(frozen=True, slots=True)
class Outing:
    """What somebody means to do: first sample at ``begins``, last at ``ends``, then the way.

    ``kept`` is how the bottles will be kept, acid in those for cations only. EC in µS/cm at
    25 °C and alkalinity in meq/L are what is expected, ``None`` where nobody knows.
    """

    ions: frozenset[str]
    sites: int
    begins: datetime
    ends: datetime
    zone: str
    transport_min: int
    kept: frozenset[Habit]
    ec_us_cm: float | None = None
    alkalinity_meq_l: float | None = None
    water_kind: WaterKind = WaterKind.UNKNOWN

    def __post_init__(self) -> None:
        if self.begins.utcoffset() is None or self.ends.utcoffset() is None:
            raise ValueError("An outing begins and ends at aware moments.")
        if self.ends < self.begins:
            raise ValueError("An outing ends before it begins.")

    @property
    def lines(self) -> tuple[Line, ...]:
        """The lines its ions are measured on."""
        asked = {BY_NAME[ion].line for ion in self.ions}
        return tuple(line for line in Line if line in asked)

    def ions_of(self, line: Line) -> tuple[str, ...]:
        return in_order(frozenset(ion for ion in self.ions if BY_NAME[ion].line is line))

    @property
    def arrives(self) -> datetime:
        """When the cooler reaches the laboratory's door."""
        return self.ends.astimezone(UTC) + timedelta(minutes=self.transport_min)

    def days_later(self, days: int) -> Outing:
        """The same outing, on the same local clock, so many days later."""
        begins, ends = (
            moment.astimezone(ZoneInfo(self.zone)).replace(tzinfo=None) + timedelta(days=days)
            for moment in (self.begins, self.ends)
        )
        return replace(self, begins=earliest_of(begins, self.zone), ends=latest_of(ends, self.zone))


def _readings(local: datetime, zone: str) -> tuple[datetime, datetime]:
    there = ZoneInfo(zone)
    return (
        local.replace(tzinfo=there, fold=0).astimezone(UTC),
        local.replace(tzinfo=there, fold=1).astimezone(UTC),
    )


def earliest_of(local: datetime, zone: str) -> datetime:
    """The earlier moment that a local time can mean where clocks repeat or skip an hour."""
    return min(_readings(local, zone))


def latest_of(local: datetime, zone: str) -> datetime:
    """The later moment that a local time can mean where clocks repeat or skip an hour."""
    return max(_readings(local, zone))


@dataclass(frozen=True, slots=True)
class Acid:
    """Nitric acid for one bottle for cations: ``dose_ml`` of ``mol_l`` reaches ``target_ph``.

    ``usual`` says that the rulebook's usual dose is enough, or that nothing is known that asks
    for more. ``too_weak``: this acid cannot reach the pH in any volume. ``total_ml`` is for all
    bottles.
    """

    dose_ml: float
    mol_l: float
    target_ph: float
    total_ml: float
    usual: bool
    too_weak: bool


@dataclass(frozen=True, slots=True)
class BottlesToTake:
    """Bottles for one line: how many, of which volume, for which ions, with which acid."""

    line: Line
    count: int
    volume_ml: float
    ions: tuple[str, ...]
    acid: Acid | None


def bottles_to_take(outing: Outing, book: Rulebook) -> tuple[BottlesToTake, ...]:
    """One bottle a site and line, of the volume the rulebook asks for each line."""
    return tuple(
        BottlesToTake(
            line,
            outing.sites,
            book.line_volume_ml,
            outing.ions_of(line),
            _acid(outing, book) if line is Line.CATION and Habit.ACID in outing.kept else None,
        )
        for line in outing.lines
    )


def _acid(outing: Outing, book: Rulebook) -> Acid:
    """The usual dose, or more where the expected water would use it up."""
    wanted = wanted_ph(_bottle(outing, book, Line.CATION, None), book)
    target = METALS_PH if wanted is None else wanted
    dose, weak = book.acid_dose_ml, False
    if outing.ec_us_cm is not None or outing.alkalinity_meq_l is not None:
        need = need_ml(water_of(_sample(outing)), book.line_volume_ml, target, book.acid_dose_mol_l)
        weak = need is None
        if need is not None and need > dose:
            dose = round(ceil(round(need / DOSE_STEP_ML, 6)) * DOSE_STEP_ML, 3)
    usual = dose == book.acid_dose_ml and not weak
    return Acid(dose, book.acid_dose_mol_l, target, dose * outing.sites, usual, weak)


def _sample(outing: Outing) -> SampleFacts:
    return SampleFacts(
        key="outing",
        zone=outing.zone,
        declared_at=outing.begins,
        collected_at=outing.begins,
        ec_value=outing.ec_us_cm,
        ec_reference=EcReference.AT_25,
        alkalinity_meq_l=outing.alkalinity_meq_l,
        water_kind=outing.water_kind,
    )


def _bottle(outing: Outing, book: Rulebook, line: Line, acid: Acid | None) -> BottleFacts:
    """A bottle of ``line`` kept as the outing means to, each step taken at once."""
    at, kept = outing.begins, outing.kept
    filtered, frozen = Habit.FILTERED in kept, Habit.FROZEN in kept
    chilled = Habit.CHILLED in kept or frozen
    return BottleFacts(
        key=line.value,
        line=line,
        ions=frozenset(outing.ions_of(line)),
        volume_ml=book.line_volume_ml,
        container=Container.POLYPROPYLENE,
        to_brim=None if frozen else True,
        chilled=chilled,
        chilled_at=at if chilled else None,
        frozen=frozen,
        frozen_at=at if frozen else None,
        filter_pore_um=(book.filter_pore_max_um or 0.45) if filtered else 0.0,
        filtered_at=at if filtered else None,
        acidified=acid is not None,
        acid_kind=AcidKind.NONE if acid is None else AcidKind.NITRIC,
        acid_mol_l=None if acid is None else acid.mol_l,
        acid_ml=None if acid is None else acid.dose_ml,
        acid_at=None if acid is None else at,
    )


def judged(outing: Outing, book: Rulebook) -> Judgement:
    """What the rules say of the first sample of ``outing``."""
    bottles = [_bottle(outing, book, planned.line, planned.acid) for planned in bottles_to_take(outing, book)]
    return judge(_sample(outing), bottles, book)


#: Facts that the asker decides; what the rules say of others is for the day itself.
_DECIDED = frozenset(
    {"filter_pore_um", "filtered_at", "chilled", "chilled_at", "frozen", "frozen_at", "acidified"}
    | {"acid_kind", "acid_ml", "acid_at", "additive", "ions"}
)


def objections(judgement: Judgement) -> tuple[Finding, ...]:
    """What the rulebook has against the way the bottles will be kept, the heaviest first."""
    found: dict[tuple[str, str], Finding] = {}
    for finding in judgement.findings:
        if finding.weight is not Weight.NOTE and finding.fact in _DECIDED:
            found.setdefault((finding.code, finding.sentence), finding)
    return tuple(sorted(found.values(), key=lambda finding: -finding.weight.rank))
