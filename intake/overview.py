"""How a laboratory did in the last twelve months, from what was counted of each month."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Exists, OuterRef

from intake.choices import TallyKind
from intake.models import Arrival, Bottle, Consignment, Group, MonthTally, Question
from intake.states import ConsignmentState
from intake.stating import OPEN
from intake.tallies import Span, Tally, counted

FINDINGS_SHOWN = 5
TO_CLOSE_SHOWN = 20
DAY_S = timedelta(days=1).total_seconds()


@dataclass(frozen=True, slots=True)
class Kept:
    """Clocks that were stopped under one name, and how many of them in time."""

    name: str
    stopped: int
    kept: int

    @property
    def percent(self) -> int:
        """Rounded down, so that 100 means all of them."""
        return 100 * self.kept // self.stopped


@dataclass(frozen=True, slots=True)
class Days:
    """Mean days of a group's bottles: collection to arrival, and arrival to injection."""

    group: str
    bottles: int
    to_arrival: float | None
    to_injection: float | None


@dataclass(frozen=True, slots=True)
class Common:
    """A finding that a group's samples have most often: of how many samples."""

    group: str
    code: str
    samples: int


@dataclass(frozen=True, slots=True)
class KeptTable:
    """Stopped clocks by month, group and ion, and the same rolled up."""

    rows: tuple[tuple[str, str, str, Kept], ...]

    def _rolled(self, place: int) -> list[Kept]:
        stopped: Counter[Hashable] = Counter()
        kept: Counter[Hashable] = Counter()
        for row in self.rows:
            stopped[row[place]] += row[3].stopped
            kept[row[place]] += row[3].kept
        return [Kept(str(name), count, kept[name]) for name, count in stopped.items()]

    def by_month(self) -> list[Kept]:
        return sorted(self._rolled(0), key=lambda one: one.name)

    def by_group(self) -> list[Kept]:
        return sorted(self._rolled(1), key=lambda one: (one.percent, one.name))

    def by_ion(self) -> list[Kept]:
        return sorted(self._rolled(2), key=lambda one: (one.percent, one.name))


@dataclass(frozen=True, slots=True)
class Year:
    """What was counted of twelve months; ``counted_at`` is when, empty for just now.

    ``names`` has the name that each group has today, by its key.
    """

    tallies: tuple[Tally, ...]
    names: dict[int, str]
    counted_at: datetime | None = None

    def _of(self, kind: str) -> Iterator[tuple[str, Tally]]:
        return ((self.names[one.group], one) for one in self.tallies if one.kind == kind)

    def clocks(self) -> KeptTable:
        """Clocks with a due moment that an injection stopped."""
        told = [
            (one.month, group, one.name, Kept(one.name, one.count, one.kept))
            for group, one in self._of(TallyKind.CLOCK)
        ]
        return KeptTable(tuple(sorted(told, key=lambda row: row[:3])))

    def _means(self, kind: str) -> dict[str, tuple[int, float]]:
        """By group: how many, and the days one took in the mean."""
        counts: Counter[str] = Counter()
        seconds: dict[str, float] = defaultdict(float)
        for group, one in self._of(kind):
            counts[group] += one.count
            seconds[group] += one.seconds
        return {group: (count, seconds[group] / count / DAY_S) for group, count in counts.items()}

    def days(self) -> list[Days]:
        """Mean days by group."""
        arrived, injected = self._means(TallyKind.ARRIVAL), self._means(TallyKind.INJECTION)
        return [
            Days(
                group,
                arrived.get(group, (0, 0.0))[0],
                arrived[group][1] if group in arrived else None,
                injected[group][1] if group in injected else None,
            )
            for group in sorted({*arrived, *injected})
        ]

    def findings(self) -> list[Common]:
        """The cautions and bars that each group's received samples have most often."""
        samples: dict[str, Counter[str]] = defaultdict(Counter)
        for group, one in self._of(TallyKind.FINDING):
            samples[group][one.name] += one.count
        return [
            Common(group, code, count)
            for group in sorted(samples)
            for code, count in sorted(samples[group].items(), key=lambda pair: (-pair[1], pair[0]))[
                :FINDINGS_SHOWN
            ]
        ]


def just_now(span: Span) -> Year:
    """Count ``span`` now, in five queries that read all that happened in it."""
    return Year(tuple(counted(span)), dict(Group.objects.values_list("pk", "name")))


def year(span: Span) -> Year:
    """What was counted of ``span`` last, in one query; where nothing was, it is counted now."""
    rows = MonthTally.objects.filter(month__month__in=span.names()).order_by()
    told = list(
        rows.values_list(
            "month__month", "kind", "group_id", "name", "count", "kept", "seconds",
            "group__name", "month__counted_at",
        )
    )  # fmt: skip
    if not told:
        return just_now(span)
    names = {row[2]: row[7] for row in told}
    return Year(tuple(Tally(*row[:7]) for row in told), names, max(row[8] for row in told))


def open_questions() -> int:
    """How many questions wait for an answer."""
    return Question.objects.open().count()


def to_close(start: datetime) -> list[Consignment]:
    """Consignments received since ``start``, measured and without a statement, the oldest first."""
    waiting = Bottle.objects.filter(consignment=OuterRef("pk"), state__in=OPEN)
    received = Consignment.objects.filter(
        state=ConsignmentState.RECEIVED, received_at__gte=start, stated_at__isnull=True
    )
    found = received.filter(~Exists(waiting)).select_related("group").order_by("received_at", "pk")
    return list(found[:TO_CLOSE_SHOWN])


def arrivals_since(start: datetime) -> int:
    return Arrival.objects.filter(received_at__gte=start).count()
