"""Which bottles the queue shows, and in which order.

The keys of one page are asked for first, by an index where the order is that of expiry; what is
shown of them is read afterwards (``labqueue.queuerows``), so that no page reads more than it shows.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import (
    Count,
    Exists,
    F,
    IntegerField,
    Min,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    Window,
)
from django.utils.translation import gettext_lazy as _

from intake import numbers
from intake.models import Bottle, ClockRow, User
from intake.states import WAITING, BottleState
from labqueue.today import changed

#: What "due within" offers: word in the address, label, hours.
WITHIN = (
    ("6h", _("6 hours"), 6),
    ("12h", _("12 hours"), 12),
    ("24h", _("24 hours"), 24),
    ("48h", _("2 days"), 48),
    ("7d", _("7 days"), 7 * 24),
)
#: The word in the address for bottles none of whose clocks can still be kept.
NONE_LEFT = "none"
HOURS = {word: hours for word, _label, hours in WITHIN}

STATES = (BottleState.READY, BottleState.ON_HOLD, BottleState.EXPECTED, BottleState.PLACED)
#: The word in the address for rows gathered by their consignment.
BY_CONSIGNMENT = "consignment"

SORTS: dict[str, tuple[str, ...]] = {
    "due": (),
    "bottle": ("number",),
    "sample": ("sample__own_id",),
    "group": ("consignment__group__name",),
    "line": ("line",),
    "state": ("state",),
    "findings": ("weightiest",),
}


@dataclass(frozen=True, slots=True)
class Wanted:
    """What somebody asked to see; every field is a word of the address, empty where not asked."""

    search: str = ""
    line: str = ""
    group: str = ""
    within: str = ""
    state: str = ""
    changed: str = ""
    by: str = ""
    sort: str = ""

    def any(self) -> bool:
        """Whether anything narrows the queue."""
        return any((self.search, self.line, self.group, self.within, self.state, self.changed))

    @property
    def in_index_order(self) -> bool:
        """Whether the index of waiting clocks gives the rows one after the other as they are wanted."""
        elsewhere = (self.search, self.group, self.changed, self.by, self.state)
        return self.sort in ("", "due") and self.within != NONE_LEFT and not any(elsewhere)


def _searched(bottles: QuerySet, text: str) -> QuerySet:
    """Those that have every word of ``text``, or the one whose whole number it is."""
    number = numbers.tidy(text)
    if numbers.is_number(number, numbers.CONSIGNMENT):
        return bottles.filter(consignment__number=number)
    if numbers.is_number(number, numbers.BOTTLE):
        return bottles.filter(number=number)
    for word in text.split():
        bottles = bottles.filter(_having(word))
    return bottles


def _having(word: str) -> Q:
    """Bottles that have ``word`` in sample, site, title or group, or whose number begins with it."""
    found = (
        Q(sample__own_id__icontains=word)
        | Q(sample__site__icontains=word)
        | Q(consignment__title__icontains=word)
        | Q(consignment__group__name__icontains=word)
    )
    if number := numbers.tidy(word):
        found |= Q(number__startswith=number) | Q(consignment__number__startswith=number)
    return found


def _narrowed(user: User, wanted: Wanted, now: datetime) -> QuerySet:
    """Bottles as asked for, but for what is asked of their next due moment."""
    bottles = Bottle.objects.visible_to(user)
    if wanted.changed:
        bottles = changed(wanted.changed, now, bottles)
    if wanted.state:
        bottles = bottles.filter(state=wanted.state)
    elif not wanted.changed:
        bottles = bottles.filter(state__in=WAITING)
    if wanted.line:
        bottles = bottles.filter(line=wanted.line)
    if wanted.group:
        bottles = bottles.filter(consignment__group_id=int(wanted.group))
    return _searched(bottles, wanted.search) if wanted.search else bottles


def queued_bottles(user: User, wanted: Wanted, now: datetime) -> QuerySet:
    """Bottles as asked for, the clock that runs out next and can still be kept first.

    Bottles with no clock left to keep come last. Without a state asked for, all that wait in
    the laboratory are shown; with what changed today, bottles in any state.
    """
    bottles = _narrowed(user, wanted, now).in_expiry_order(now)
    if wanted.within == NONE_LEFT:
        return bottles.filter(next_due_at__isnull=True)
    if wanted.within:
        return bottles.filter(next_due_at__lte=_horizon(wanted, now))
    return bottles


def _horizon(wanted: Wanted, now: datetime) -> datetime:
    return now + timedelta(hours=HOURS[wanted.within])


def _order(sort: str) -> list[object]:
    """Equal rows keep the order of expiry, so that pages neither skip nor repeat a bottle."""
    names = SORTS.get(sort.lstrip("-"), ())
    backwards = sort.startswith("-")
    soonest = F("next_due_at").asc(nulls_last=True)
    if not names:
        return [
            F("next_due_at").desc(nulls_last=True) if backwards else soonest,
            "-pk" if backwards else "pk",
        ]
    return [*(f"-{name}" if backwards else name for name in names), soonest, "pk"]


def ordered(bottles: QuerySet, sort: str, by: str = "") -> QuerySet:
    """``bottles`` by a column of the table, ``-`` before it for the other way round.

    ``by`` consignment: those of one consignment stand together, the consignment that loses a clock
    first at the top; each bottle then has ``together``, how many they are.
    """
    if by != BY_CONSIGNMENT:
        return bottles.order_by(*_order(sort))
    same = {"partition_by": F("consignment_id")}
    return bottles.annotate(
        soonest=Window(Min("next_due_at"), **same), together=Window(Count("pk"), **same)
    ).order_by(F("soonest").asc(nulls_last=True), "consignment_id", *_order(sort))


def soonest_clocks(user: User, wanted: Wanted, now: datetime) -> QuerySet:
    """The next keepable clock of each waiting bottle, in the order of the index that has them."""
    keepable = {"waiting": True, "due_at__gte": now}
    earlier = ClockRow.objects.filter(bottle=OuterRef("bottle"), **keepable).filter(
        Q(due_at__lt=OuterRef("due_at")) | Q(due_at=OuterRef("due_at"), pk__lt=OuterRef("pk"))
    )
    clocks = ClockRow.objects.filter(~Exists(earlier), **keepable)
    if not user.is_manager:
        clocks = clocks.filter(bottle__in=Bottle.objects.visible_to(user).values("pk"))
    if wanted.line:
        clocks = clocks.filter(bottle__line=wanted.line)
    if wanted.within:
        clocks = clocks.filter(due_at__lte=_horizon(wanted, now))
    return clocks.order_by("due_at", "bottle_id")


@dataclass(frozen=True, slots=True)
class Keys:
    """The bottles of one page in order, out of ``total``; ``together`` by key where gathered."""

    pks: tuple[int, ...]
    total: int
    together: dict[int, int]


def _total(rows: QuerySet) -> Subquery:
    """How many ``rows`` there are, as a value beside each row of another question."""
    counted = rows.order_by().annotate(all=Value(1)).values("all").annotate(count=Count("pk"))
    return Subquery(counted.values("count"), output_field=IntegerField())


def keys_between(user: User, wanted: Wanted, now: datetime, first: int, last: int) -> Keys:
    """The keys of the rows from ``first`` to before ``last`` with their total: one query.

    A second one where the last keepable clock lies before ``last``. No rows: the total is not known.
    """
    if wanted.in_index_order:
        clocks = soonest_clocks(user, wanted, now)
        every = clocks if wanted.within else _narrowed(user, wanted, now)
        rows = list(clocks.annotate(total=_total(every)).values_list("bottle_id", "total")[first:last])
        if rows and (len(rows) == last - first or first + len(rows) == rows[0][1]):
            return Keys(tuple(pk for pk, _total in rows), rows[0][1], {})
    bottles = queued_bottles(user, wanted, now)
    together = F("together") if wanted.by else Value(0)
    found = list(
        ordered(bottles, wanted.sort, wanted.by)
        .annotate(total=_total(bottles), companions=together)
        .values_list("pk", "total", "companions")[first:last]
    )
    total = found[0][1] if found else 0
    return Keys(tuple(row[0] for row in found), total, {row[0]: row[2] for row in found if wanted.by})


def all_keys(user: User, wanted: Wanted, now: datetime) -> list[int]:
    """The keys of all rows in their order: one query."""
    rows = ordered(queued_bottles(user, wanted, now), wanted.sort, wanted.by)
    return list(rows.values_list("pk", flat=True))
