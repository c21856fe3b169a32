"""The next 72 hours as a picture and in words: opening hours, runs by unit, what runs out when.

Everything is worked out here; the template prints places, and the tables beside it say the same.
Lengths are in units of the picture's view box.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import groupby
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Count, F
from django.db.models.functions import TruncHour
from django.utils.translation import gettext as _

from intake.models import ClockRow
from intake.numbers import grouped
from intake.rules.facts import Line
from intake.shown import show_list
from labqueue.around import Around
from labqueue.calendar import opening_hours
from labqueue.drafting import say_clock
from labqueue.foresight import Bench
from labqueue.gathering import floor_minute
from labqueue.hours import moment_of
from labqueue.laboratory import as_planned
from labqueue.models import Unit
from labqueue.states import RunState

HOURS = 72
HOUR = timedelta(hours=1)
LEFT, WIDTH, TOP = 128.0, 1000, 58
SCALE = (WIDTH - LEFT - 16) / HOURS
LANE, DUE_LANE, GAP = 38, 58, 10
#: Room that the name of a day needs.
DAY_WIDTH = 90
MOST_HIGH = 40
#: Hours that one row of the table of due moments takes together.
HOURS_A_ROW = 6


@dataclass(frozen=True, slots=True)
class Span:
    """Something that lasts: where it is drawn and how it is said."""

    x: float
    width: float
    said: str = ""

    @property
    def end(self) -> float:
        return round(self.x + self.width, 1)


@dataclass(frozen=True, slots=True)
class ShownRun:
    """A run as a block: ``lead`` is its start-up, before the first sample goes in."""

    number: str
    said_number: str
    state: object
    block: Span
    lead: Span
    label: str
    starts: datetime
    ends: datetime
    bottles: int


@dataclass(frozen=True, slots=True)
class Lane:
    """The runs of one unit."""

    name: str
    y: int
    runs: list[ShownRun]
    height: int = LANE

    @property
    def middle(self) -> float:
        return self.y + self.height / 2 + 5

    @property
    def block_y(self) -> int:
        return self.y + 6

    @property
    def block_height(self) -> int:
        return self.height - 12


@dataclass(frozen=True, slots=True)
class DueLane:
    """Bottles of one line that run out, by hour: a tick each, as high as they are many."""

    name: object
    y: int
    path: str
    most: int
    height: int = DUE_LANE

    @property
    def base(self) -> int:
        return self.y + self.height - 6

    @property
    def middle(self) -> float:
        return self.base - 6


@dataclass(frozen=True, slots=True)
class Label:
    x: float
    words: str


@dataclass(frozen=True, slots=True)
class DueRow:
    """One row of the table of due moments."""

    begins: datetime
    ends: datetime
    counts: tuple[int, ...]


@dataclass(slots=True)
class Picture:
    """The whole picture, and what its tables say."""

    begins: datetime
    ends: datetime
    open: list[Span] = field(default_factory=list)
    lanes: list[Lane] = field(default_factory=list)
    dues: list[DueLane] = field(default_factory=list)
    hours: list[Label] = field(default_factory=list)
    days: list[Label] = field(default_factory=list)
    edge: str = ""
    rows: list[DueRow] = field(default_factory=list)
    left: float = LEFT
    top: int = TOP
    width: int = WIDTH
    height: int = TOP

    @property
    def view_box(self) -> str:
        return f"0 0 {self.width} {self.height}"

    @property
    def bands_height(self) -> int:
        return self.height - self.top

    @property
    def now_points(self) -> str:
        return f"{LEFT - 7:.0f},{TOP - 14} {LEFT + 7:.0f},{TOP - 14} {LEFT:.0f},{TOP}"

    @property
    def runs(self) -> list[tuple[str, ShownRun]]:
        return [(lane.name, run) for lane in self.lanes for run in lane.runs]

    @property
    def title(self) -> str:
        ends = say_clock(self.ends)
        return _("The bench from %(begins)s to %(ends)s") % {"begins": say_clock(self.begins), "ends": ends}

    @property
    def description(self) -> str:
        """The picture in sentences, for those who do not see it."""
        return " ".join((self._said_hours(), self._said_runs(), self._said_dues()))

    def _said_hours(self) -> str:
        if not self.open:
            return _("The laboratory is not open.")
        return _("Open: %(hours)s.") % {"hours": show_list(span.said for span in self.open)}

    def _said_runs(self) -> str:
        if not self.runs:
            return _("No run is planned or running.")
        said = [
            _("%(unit)s from %(starts)s to %(ends)s, %(label)s")
            % {
                "unit": unit,
                "starts": say_clock(run.starts),
                "ends": say_clock(run.ends),
                "label": run.label,
            }
            for unit, run in self.runs
        ]
        return _("Runs: %(runs)s.") % {"runs": "; ".join(said)}

    def _said_dues(self) -> str:
        total = sum(sum(row.counts) for row in self.rows)
        if not total:
            return _("No waiting bottle runs out.")
        most = max(self.rows, key=lambda row: sum(row.counts))
        return _("Most waiting bottles run out from %(begins)s to %(ends)s: %(count)d.") % {
            "begins": say_clock(most.begins),
            "ends": say_clock(most.ends),
            "count": sum(most.counts),
        }


def due_by_hour(begins: datetime, ends: datetime) -> dict[tuple[str, datetime], int]:
    """How many waiting bottles run out in each hour, by line and beginning of the hour: one query."""
    rows = (
        ClockRow.objects.filter(waiting=True, due_at__gte=begins, due_at__lt=ends)
        .order_by()
        .values(line=F("bottle__line"), hour=TruncHour("due_at", tzinfo=UTC))
        .annotate(bottles=Count("bottle", distinct=True))
        .values_list("line", "hour", "bottles")
    )
    return {(line, hour): bottles for line, hour, bottles in rows}


def picture_of(now: datetime, bench: Bench, around: Around) -> Picture:
    """The picture of the 72 hours from ``now``; of the database it asks the due moments alone."""
    begins = floor_minute(now)
    picture = Picture(begins, begins + HOURS * HOUR)
    _scale(picture)
    _bands(picture, around)
    for unit in bench.units:
        picture.lanes.append(Lane(unit.name, picture.height, _runs_of(picture, bench, unit)))
        picture.height += LANE
    picture.height += GAP
    _dues(picture, due_by_hour(begins, picture.ends))
    picture.height += GAP
    return picture


def _x(picture: Picture, moment: datetime) -> float:
    hours = (moment - picture.begins) / HOUR
    return round(LEFT + min(max(hours, 0.0), HOURS) * SCALE, 1)


def _span(picture: Picture, begins: datetime, ends: datetime, said: str = "") -> Span:
    x = _x(picture, begins)
    return Span(x, round(_x(picture, ends) - x, 1), said)


def _scale(picture: Picture) -> None:
    """The graduated edge: a mark each hour, longer ones at six and at midnight."""
    zone = ZoneInfo(settings.TIME_ZONE)
    hour = picture.begins.replace(minute=0)
    marks: list[str] = []
    while (hour := hour + HOUR) <= picture.ends:
        there, x = hour.astimezone(zone), _x(picture, hour)
        length = 16 if there.hour == 0 else 11 if there.hour % 6 == 0 else 5
        marks.append(f"M{x} {TOP}v-{length}")
        if there.hour % 6 == 0:
            picture.hours.append(Label(x, f"{there:%H:%M}"))
        if there.hour == 0 and x < WIDTH - DAY_WIDTH:
            picture.days.append(Label(x, _day(hour)))
    picture.edge = "".join(marks)
    if not picture.days or picture.days[0].x > LEFT + DAY_WIDTH:
        picture.days.insert(0, Label(LEFT, _day(picture.begins)))


def _day(moment: datetime) -> str:
    return " ".join(say_clock(moment).split()[:3])


def _bands(picture: Picture, around: Around) -> None:
    """When somebody is there, the whole height of the picture."""
    hours = opening_hours(around.lab, picture.begins, picture.ends, around.weekly, around.closed)
    staffed = hours.staffed(picture.begins, 0, HOURS * 60)
    for opens, closes in staffed.intervals:
        first, last = moment_of(opens, picture.begins), moment_of(closes, picture.begins)
        said = _("%(opens)s to %(closes)s") % {"opens": say_clock(first), "closes": say_clock(last)}
        picture.open.append(_span(picture, first, last, said))


def _runs_of(picture: Picture, bench: Bench, unit: Unit) -> list[ShownRun]:
    mine = [place for place in bench.places if place.unit == unit.pk]
    found = []
    for number, places in groupby(mine, key=lambda place: place.run):
        run = list(places)
        starts = run[0].start
        ends = max(place.planned_at for place in run) + timedelta(minutes=unit.inject_min)
        if starts >= picture.ends or ends <= picture.begins:
            continue
        ready = starts + timedelta(minutes=as_planned(unit).lead_min)
        bottles = sum(place.kept for place in run)
        found.append(
            ShownRun(
                number,
                grouped(number),
                RunState(run[0].state).label,
                _span(picture, starts, ends),
                _span(picture, starts, min(ready, ends)),
                _("1 bottle") if bottles == 1 else _("%(count)d bottles") % {"count": bottles},
                starts,
                ends,
                bottles,
            )
        )
    return found


def _dues(picture: Picture, found: dict[tuple[str, datetime], int]) -> None:
    most = max(found.values(), default=1)
    for line in Line:
        marks = {hour: count for (other, hour), count in found.items() if other == line.value}
        lane = DueLane(
            {Line.ANION: _("anions due"), Line.CATION: _("cations due")}[line],
            picture.height,
            _ticks(picture, marks, most),
            max(marks.values(), default=0),
        )
        picture.dues.append(lane)
        picture.height += DUE_LANE
    picture.rows = list(_due_rows(picture, found))


def _ticks(picture: Picture, marks: dict[datetime, int], most: int) -> str:
    base = picture.height + DUE_LANE - 6
    return "".join(
        f"M{_x(picture, hour + HOUR / 2)} {base}v-{4 + (MOST_HIGH - 4) * count / most:.1f}"
        for hour, count in sorted(marks.items())
    )


def _due_rows(picture: Picture, found: dict[tuple[str, datetime], int]) -> Iterable[DueRow]:
    first = picture.begins.replace(minute=0)
    for start in range(0, HOURS + 1, HOURS_A_ROW):
        begins, ends = first + start * HOUR, first + (start + HOURS_A_ROW) * HOUR
        counts = tuple(
            sum(
                count
                for (other, hour), count in found.items()
                if other == line.value and begins <= hour < ends
            )
            for line in Line
        )
        if any(counts):
            yield DueRow(max(begins, picture.begins), min(ends, picture.ends), counts)
