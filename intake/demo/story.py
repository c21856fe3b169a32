"""What a demo consignment is, before it is told to the database."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from intake.actions.entries import SampleEntry
from intake.choices import Decision
from intake.demo.mishaps import Mishap
from intake.demo.waters import ANIONS, CATIONS, Water, sample
from intake.rules.facts import Cooling, Line, MeasuredOn, Seal

#: A moment, given the moment at which the demo is loaded.
Moment = Callable[[datetime], datetime]
#: One bottle: the sample's number in the consignment, and the line.
Place = tuple[int, Line]
#: A decision with the reason the group reads.
Ruling = tuple[Decision, str]

FRIDAY = 4
FRIDAY_TO_MONDAY = timedelta(hours=66.5)


def hours_ago(hours: float) -> Moment:
    return lambda at: at - timedelta(hours=hours)


def last_friday_afternoon(zone: str) -> Moment:
    """Half past three on the latest Friday whose Monday morning has already come."""

    def moment(at: datetime) -> datetime:
        day = at.astimezone(ZoneInfo(zone)).replace(hour=15, minute=30, second=0, microsecond=0)
        while day.weekday() != FRIDAY or day + FRIDAY_TO_MONDAY + timedelta(hours=1) > at:
            day -= timedelta(days=1)
        return day

    return moment


def after(moment: Moment, wait: timedelta) -> Moment:
    return lambda at: moment(at) + wait


@dataclass(frozen=True, slots=True)
class Delivery:
    """One box at reception. Every bottle that came and is not named in ``seen`` is in order.

    ``of`` are the numbers of the samples in it (none named: all). ``rulings`` are decisions on
    single bottles; ``rest`` is decided for whatever the rules put on hold besides, and ``None``
    leaves it on hold. ``given_up`` names an ion and the reason. ``surprises`` are bottles nobody
    announced: the id on the label and the line.
    """

    received: Moment
    by: str = "reception"
    temperature_c: float | None = 4.0
    measured_on: str = MeasuredOn.BLANK
    cooling: str = Cooling.ICE
    seal: str = Seal.INTACT
    carrier: str = ""
    remark: str = ""
    of: frozenset[int] = frozenset()
    absent: frozenset[Place] = frozenset()
    seen: Mapping[Place, Mapping[str, object]] = field(default_factory=dict)
    rulings: Mapping[Place, Ruling] = field(default_factory=dict)
    rest: Ruling | None = None
    given_up: Mapping[Place, tuple[str, str]] = field(default_factory=dict)
    surprises: tuple[tuple[str, Line], ...] = ()
    unchecked: frozenset[Place] = frozenset()
    closed: bool = True
    more_to_come: bool = False


@dataclass(frozen=True, slots=True)
class Story:
    """One consignment from the field to where it stands when the demo is loaded.

    ``prefix`` begins each own sample id; ``sites`` are gone round in turn. ``sent`` ``None``
    leaves a draft; ``confirmed`` says why readings that look wrong are right. ``measured`` says when
    the first bottle of a line was injected.
    """

    group: str
    by: str
    title: str
    purpose: str
    water: Water
    prefix: str
    sites: tuple[str, ...]
    count: int
    began: Moment
    step_min: int = 12
    anions: tuple[str, ...] = ANIONS
    cations: tuple[str, ...] = CATIONS
    mishaps: Mapping[int, Mishap] = field(default_factory=dict)
    wanted_in_days: int | None = None
    sent: Moment | None = None
    confirmed: str = ""
    withdrawn: str = ""
    deliveries: tuple[Delivery, ...] = ()
    measured: Mapping[Line, Moment] = field(default_factory=dict)

    def own_id(self, number: int) -> str:
        return f"{self.prefix}-{number:02}"

    def entries(self, at: datetime) -> list[SampleEntry]:
        """The samples as they were registered, faults and all."""
        began = self.began(at).replace(second=0, microsecond=0)
        return [self._entry(number, began) for number in range(1, self.count + 1)]

    def _entry(self, number: int, began: datetime) -> SampleEntry:
        sound = sample(
            self.water,
            number,
            own_id=self.own_id(number),
            site=self.sites[(number - 1) % len(self.sites)],
            collected_at=began + timedelta(minutes=self.step_min * (number - 1)),
            anions=self.anions,
            cations=self.cations,
        )
        return self.mishaps.get(number, lambda entry: entry)(sound)

    def registered_at(self, at: datetime) -> datetime:
        """When the last water was taken and its figures were entered; never after ``at``."""
        last = self.began(at) + timedelta(minutes=self.step_min * (self.count - 1) + 20)
        return min(last, at)
