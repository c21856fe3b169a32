"""A day at the water that has not happened yet: what to take, by when to be back, which days work.

The bottles of such a day are judged by the same rules as real ones, as if they had been kept the
way the asker means to keep them. Every ion is reckoned from the first sample, whose clock runs out
first; the cooler leaves after the last one.
"""

from __future__ import annotations

from collections.abc import Mapping
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
from intake.rules.judgement import Clock, Finding, Judgement, Weight
from intake.rules.reached import need_ml, water_of
from labqueue.hours import (
    MINUTE,
    OpeningHours,
    StaffedTimes,
    minute_at_or_after,
    minute_at_or_before,
    moment_of,
)
from labqueue.planning.trip import Laboratory, Obstacle, UnitTimes, check_trip

#: How many sampling days are looked at.
DAYS = 14
#: A dose is said to the next tenth of a millilitre above, what a usual pipette can be set to.
DOSE_STEP_ML = 0.1
#: Opening hours are looked up this far beyond the last due moment, in days, so that a closed
#: fortnight has an end; and never further than two years, more than any limit that was found.
_BEYOND_DAYS, _FURTHEST_DAYS = 45, 800


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


@dataclass(frozen=True, slots=True)
class BenchUnit:
    """One unit in UTC moments: ``lead_min`` from pressing start to the first sample, ``alone_min``
    from pressing start until the next run may start, with a single sample.

    ``taken`` are the spells [from, until) of runs and repairs; ``places`` free places on runs
    already planned: (when their run starts, when they are injected). A bottle has to be there at the
    start, or with ``topup`` when somebody was last there before the injection.
    """

    lead_min: int
    alone_min: int
    taken: tuple[tuple[datetime, datetime], ...] = ()
    places: tuple[tuple[datetime, datetime], ...] = ()
    topup: bool = False

    def times(self, staffed: StaffedTimes, origin: datetime) -> UnitTimes:
        """The same on the axis of ``staffed``, which counts from ``origin``."""
        taken = [
            (minute_at_or_before(first, origin), minute_at_or_after(until, origin))
            for first, until in self.taken
        ]
        places = tuple(self._place(start, moment, staffed, origin) for start, moment in self.places)
        # A run that is to be over when another begins has to start so much before.
        closed = ((first - self.alone_min + 1, until - 1) for first, until in taken)
        return UnitTimes(staffed.without(closed), self.lead_min, places)

    def _place(
        self, start: datetime, moment: datetime, staffed: StaffedTimes, origin: datetime
    ) -> tuple[int, int]:
        loading, injection = minute_at_or_before(start, origin), minute_at_or_after(moment, origin)
        if self.topup:
            loading = max(loading, staffed.last_at_or_before(injection) or loading)
        return loading, injection


@dataclass(frozen=True, slots=True)
class Bench:
    """How the laboratory works: its opening hours, minutes from handing over to the tray, and the
    units of each line.
    """

    opening: OpeningHours
    preparation_min: int
    units: Mapping[Line, tuple[BenchUnit, ...]]


@dataclass(frozen=True, slots=True)
class IonAnswer:
    """How one ion fares. Moments in UTC.

    ``due_at`` is ``None`` where the rulebook sets no limit, ``latest_at`` (the last handing-over
    that is in time) where none after the last sample is, ``injection_at`` where the opening hours
    known end before it. ``lost``: a bottle kept this way cannot give the ion at all.
    """

    ion: str
    line: Line
    due_at: datetime | None
    latest_at: datetime | None = None
    injection_at: datetime | None = None
    obstacle: Obstacle | None = None
    lost: bool = False

    @property
    def in_time(self) -> bool:
        return self.obstacle is None and not self.lost


@dataclass(frozen=True, slots=True)
class DayAnswer:
    """How one sampling day would go; ``ions`` in order of listing."""

    outing: Outing
    ions: tuple[IonAnswer, ...]

    @property
    def failing(self) -> tuple[IonAnswer, ...]:
        return tuple(answer for answer in self.ions if not answer.in_time)

    @property
    def works(self) -> bool:
        return not self.failing


_EPOCH = datetime(2000, 1, 1, tzinfo=UTC)


class Timetable:
    """The bench on the planner's axis, for outings of :data:`DAYS` days from that of ``first``.

    ``longest_min`` is the longest holding time of interest, in minutes.
    """

    def __init__(self, bench: Bench, first: Outing, longest_min: int) -> None:
        begins = first.begins.astimezone(UTC)
        self.origin = moment_of(minute_at_or_before(begins, _EPOCH), _EPOCH) - timedelta(days=2)
        reach = timedelta(minutes=longest_min) + (first.arrives - begins)
        days = min(reach.days + DAYS + _BEYOND_DAYS, _FURTHEST_DAYS)
        staffed = bench.opening.staffed(self.origin, 0, days * 1440)
        self._laboratories = {
            line: self._laboratory(staffed, bench.preparation_min, units)
            for line, units in bench.units.items()
        }

    def _laboratory(
        self, staffed: StaffedTimes, preparation_min: int, units: tuple[BenchUnit, ...]
    ) -> Laboratory:
        return Laboratory(
            staffed,
            preparation_min,
            tuple(unit.times(staffed, self.origin) for unit in units),
            tuple(UnitTimes(staffed, unit.lead_min) for unit in units),
        )

    def day(self, outing: Outing, judgement: Judgement) -> DayAnswer:
        """How every ion of ``outing`` fares under its ``judgement``."""
        clocks = {clock.ion: clock for clock in judgement.clocks}
        return DayAnswer(outing, tuple(self._ion(outing, clocks[ion]) for ion in in_order(frozenset(clocks))))

    def _ion(self, outing: Outing, clock: Clock) -> IonAnswer:
        line = BY_NAME[clock.ion].line
        if clock.void or clock.due_at is None:
            return IonAnswer(clock.ion, line, None, lost=clock.void)
        begins = minute_at_or_before(outing.begins, self.origin)
        ends = minute_at_or_after(outing.ends, self.origin)
        due = minute_at_or_before(clock.due_at, self.origin)
        way = ends + outing.transport_min - begins
        told = check_trip(begins, way, due - begins, self._laboratories[line])
        latest = told.latest_arrival
        return IonAnswer(
            clock.ion,
            line,
            clock.due_at,
            None if latest is None or latest < ends else moment_of(latest, self.origin),
            None if told.injection is None else moment_of(told.injection, self.origin),
            told.obstacle,
        )


@dataclass(frozen=True, slots=True)
class OutingAnswer:
    """Everything there is to say of one outing.

    ``days`` are :data:`DAYS` sampling days in a row; ``objections`` what the rulebook has against
    the way the bottles will be kept.
    """

    outing: Outing
    bottles: tuple[BottlesToTake, ...]
    chosen: DayAnswer
    days: tuple[DayAnswer, ...]
    objections: tuple[Finding, ...]


def longest_min(judgement: Judgement) -> int:
    """The longest holding time of ``judgement`` in whole minutes."""
    spans = [
        (clock.due_at - clock.starts_at) // MINUTE
        for clock in judgement.clocks
        if clock.due_at is not None and clock.starts_at is not None
    ]
    return max(spans, default=0)


class Check:
    """One outing held against a rulebook and a bench.

    ``first_day`` is where the sampling days that are looked at begin, in days after that of the
    outing; it may be negative.
    """

    def __init__(self, outing: Outing, book: Rulebook, bench: Bench, first_day: int = 0) -> None:
        self.outing, self.book, self._first_day = outing, book, first_day
        self._judgement = judged(outing, book)
        longest = longest_min(self._judgement)
        self._here = Timetable(bench, outing, longest)
        self._around = Timetable(bench, outing.days_later(first_day), longest)

    def day(self, outing: Outing) -> DayAnswer:
        """How a changed ``outing`` of the same day would go."""
        return self._here.day(outing, judged(outing, self.book))

    def days(self, outing: Outing) -> tuple[DayAnswer, ...]:
        """How ``outing`` would go on each of the sampling days."""
        moved = [outing.days_later(self._first_day + number) for number in range(DAYS)]
        return tuple(self._around.day(one, judged(one, self.book)) for one in moved)

    def answer(self) -> OutingAnswer:
        return OutingAnswer(
            self.outing,
            bottles_to_take(self.outing, self.book),
            self._here.day(self.outing, self._judgement),
            self.days(self.outing),
            objections(self._judgement),
        )
