"""The queue as a table: its columns, and rows whose every word is ready for the template.

The template prints a page of fifty rows many times a day; so a row brings finished words and
numbers, and no cell is a template of its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from django.http import QueryDict
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from intake import choices
from intake.numbers import grouped
from intake.phrasebook import said
from intake.pictures import signs
from intake.pictures.clockbar import ClockBar, clock_bar
from intake.pictures.timeleft import say_left
from intake.shown import show_list
from labqueue.drafting import say_clock
from labqueue.foresight import Foresight, Outlook
from labqueue.queuerows import QueueRow

#: Word of the sort (empty: not sorted by), heading, class of the column.
COLUMNS = (
    ("due", gettext_lazy("Due"), "queue-due"),
    ("", gettext_lazy("Runs out next"), ""),
    ("", gettext_lazy("Will it make it?"), "queue-outlook"),
    ("bottle", gettext_lazy("Bottle"), ""),
    ("sample", gettext_lazy("Sample"), "queue-sample"),
    ("group", gettext_lazy("Group"), ""),
    ("findings", gettext_lazy("Findings"), ""),
    ("state", gettext_lazy("State"), ""),
)


@dataclass(frozen=True, slots=True)
class Heading:
    """The head of a column: ``address`` sorts by it, the other way round if it is sorted so already."""

    words: object
    kind: str
    address: str
    sorted: str


def headings(asked: QueryDict, sort: str) -> list[Heading]:
    """The heads of the columns on a page with the address ``asked``, sorted by ``sort``."""
    present = sort or "due"
    found = []
    for word, words, kind in COLUMNS:
        address = ""
        if word:
            changed = asked.copy()
            changed.pop("page", None)
            changed["sort"] = f"-{word}" if present == word else word
            address = f"?{changed.urlencode()}"
        turned = {word: "ascending", f"-{word}": "descending"}.get(present, "") if word else ""
        found.append(Heading(words, kind, address, turned))
    return found


@dataclass(frozen=True, slots=True)
class ShownBottle:
    """One row of the queue in words, read off at one moment.

    ``due_stamp`` is its next keyed moment for scripts, empty where nothing is left to keep.
    """

    number: str
    said_number: str
    address: str
    line: object
    own_id: str
    site: str
    group: str
    ions: str
    run_out: str
    unlimited: str
    due_stamp: str
    due_left: str
    due_said: str
    ion: str
    bar: ClockBar | None
    finding: str
    further: str
    weight: str
    state: str
    reservation: str
    outlook: Outlook | None


class Words:
    """Markup and addresses that rows of one page share, made once."""

    def __init__(self) -> None:
        self._pattern = reverse("intake:bottle", args=["NUMBER"])
        self._signs: dict[signs.Sign | None, str] = {}

    def address(self, number: str) -> str:
        return self._pattern.replace("NUMBER", number)

    def sign(self, sign: signs.Sign | None) -> str:
        """The sign as ``_parts/_sign.html`` draws it."""
        if sign not in self._signs:
            self._signs[sign] = render_to_string("_parts/_sign.html", {"sign": sign})
        return self._signs[sign]


def shown(row: QueueRow, now: datetime, foresight: Foresight, words: Words) -> ShownBottle:
    """What the queue says of ``row`` at ``now``."""
    left, clock = row.left, row.left.clock
    due_at = clock.due_at if clock else None
    return ShownBottle(
        number=row.number,
        said_number=grouped(row.number),
        address=words.address(row.number),
        line=choices.LINE_NAMES[row.line],
        own_id=row.own_id,
        site=row.site,
        group=row.group,
        ions=_ions(left.ions),
        run_out=_ions(left.run_out),
        unlimited=_ions(left.unlimited),
        due_stamp=f"{due_at:%Y-%m-%dT%H:%M:%SZ}" if due_at else "",
        due_left=say_left(due_at, now) if due_at else "",
        due_said=say_clock(due_at) if due_at else "",
        ion=said(clock.ion) if clock else "",
        bar=_bar(row, now) if clock else None,
        finding=said(row.finding),
        further=_further(row.findings - 1),
        weight=words.sign(signs.WEIGHTS_BY_RANK.get(row.weightiest)) if row.findings else "",
        state=words.sign(signs.BOTTLES[row.state]),
        reservation=row.reservation,
        outlook=foresight.of(row.pk, due_at, row.state),
    )


def _ions(names: Iterable[str]) -> str:
    return show_list(said(name) for name in names)


def _further(count: int) -> str:
    return _("And %(count)d more.") % {"count": count} if count > 0 else ""


def _bar(row: QueueRow, now: datetime) -> ClockBar:
    clock = row.left.clock
    return clock_bar(starts_at=clock.starts_at, due_at=clock.due_at, now=now, received_at=row.received_at)


@dataclass(frozen=True, slots=True)
class ShownGroup:
    """Rows under one heading: those of a consignment, or all of a page without a heading."""

    number: str
    said_number: str
    title: str
    group: str
    count: str
    rows: list[ShownBottle]


@dataclass(frozen=True, slots=True)
class QueueTable:
    """A page of the queue; ``selectable`` rows have a box to tick."""

    headings: list[Heading]
    groups: list[ShownGroup]
    selectable: bool

    @property
    def span(self) -> int:
        return len(self.headings) + self.selectable


def table_of(
    rows: Iterable[QueueRow],
    now: datetime,
    foresight: Foresight,
    heads: list[Heading],
    *,
    together: dict[int, int] | None = None,
    selectable: bool = True,
) -> QueueTable:
    """The table of ``rows``; with ``together`` (how many of a consignment there are, by bottle key)
    those of one consignment stand under its heading.
    """
    groups = list(_groups(rows, now, foresight, together))
    return QueueTable(heads, groups, selectable)


def _groups(
    rows: Iterable[QueueRow], now: datetime, foresight: Foresight, together: dict[int, int] | None
) -> Iterator[ShownGroup]:
    words = Words()
    if not together:
        yield ShownGroup("", "", "", "", "", [shown(row, now, foresight, words) for row in rows])
        return
    for number, theirs in groupby(rows, key=lambda row: row.consignment):
        found = list(theirs)
        first, count = found[0], together[found[0].pk]
        here = len(found)
        said = _("%(here)d of %(count)d bottles") if here < count else _("%(count)d bottles")
        yield ShownGroup(
            number,
            grouped(number),
            first.title,
            first.group,
            _("1 bottle") if count == 1 else said % {"here": here, "count": count},
            [shown(row, now, foresight, words) for row in found],
        )
