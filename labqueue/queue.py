"""What the queue shows: which waiting bottles, in which order, and what is left of each.

Filtering and ordering are one query over bottles; clocks and findings are read for the rows
of one page only, so that no page works through more than it shows.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import F, Prefetch, Q, QuerySet

from intake import numbers
from intake.models import Bottle, ClockRow, FindingRow, User
from intake.rules.judgement import Weight
from intake.states import WAITING, BottleState

#: What "due within" offers: word in the address, label, hours.
WITHIN = (
    ("6h", "6 hours", 6),
    ("12h", "12 hours", 12),
    ("24h", "24 hours", 24),
    ("48h", "2 days", 48),
    ("7d", "7 days", 7 * 24),
)
#: The word in the address for bottles none of whose clocks can still be kept.
NONE_LEFT = "none"
HOURS = {word: hours for word, _label, hours in WITHIN}

STATES = (BottleState.READY, BottleState.ON_HOLD, BottleState.EXPECTED, BottleState.PLACED)

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

    def any(self) -> bool:
        return any((self.search, self.line, self.group, self.within, self.state))


def _searched(bottles: QuerySet, text: str) -> QuerySet:
    number = numbers.tidy(text)
    if numbers.is_number(number, numbers.BOTTLE):
        return bottles.filter(number=number)
    found = (
        Q(sample__own_id__icontains=text)
        | Q(sample__site__icontains=text)
        | Q(consignment__title__icontains=text)
        | Q(consignment__group__name__icontains=text)
    )
    if number:
        found |= Q(number__startswith=number) | Q(consignment__number__startswith=number)
    return bottles.filter(found)


def queued_bottles(user: User, wanted: Wanted, now: datetime) -> QuerySet:
    """Bottles as asked for, the clock that runs out next and can still be kept first.

    Bottles with no clock left to keep come last. Without a state asked for, all that wait in
    the laboratory are shown.
    """
    bottles = Bottle.objects.visible_to(user)
    bottles = bottles.filter(state__in=(wanted.state,) if wanted.state else WAITING)
    if wanted.line:
        bottles = bottles.filter(line=wanted.line)
    if wanted.group:
        bottles = bottles.filter(consignment__group_id=int(wanted.group))
    if wanted.search:
        bottles = _searched(bottles, wanted.search)
    bottles = bottles.in_expiry_order(now)
    if wanted.within == NONE_LEFT:
        bottles = bottles.filter(next_due_at__isnull=True)
    elif wanted.within:
        bottles = bottles.filter(next_due_at__lte=now + timedelta(hours=HOURS[wanted.within]))
    return bottles.select_related("sample", "consignment__group", "arrival").prefetch_related(
        Prefetch("clocks", ClockRow.objects.order_by("due_at", "pk")),
        Prefetch("findings", FindingRow.objects.filter(rank__gte=Weight.CAUTION.rank)),
        Prefetch(
            "sample__findings",
            FindingRow.objects.filter(rank__gte=Weight.CAUTION.rank, bottle__isnull=True),
        ),
    )


def ordered(bottles: QuerySet, sort: str) -> QuerySet:
    """``bottles`` by a column of the table, ``-`` before it for the other way round.

    Equal rows keep the order of expiry, so that pages neither skip nor repeat a bottle.
    """
    names = SORTS.get(sort.lstrip("-"), ())
    backwards = sort.startswith("-")
    soonest = F("next_due_at").asc(nulls_last=True)
    if not names:
        first = F("next_due_at").desc(nulls_last=True) if backwards else soonest
        return bottles.order_by(first, "-pk" if backwards else "pk")
    return bottles.order_by(*(f"-{name}" if backwards else name for name in names), soonest, "pk")


@dataclass(frozen=True, slots=True)
class Left:
    """What is left of one bottle at a moment: the soonest keepable clock and the run-out ions."""

    ions: tuple[str, ...]
    clock: ClockRow | None
    run_out: tuple[str, ...]
    unlimited: tuple[str, ...]


def left_of(bottle: Bottle, now: datetime) -> Left:
    """Read off the clocks of ``bottle`` (prefetched, by due moment) how it stands at ``now``."""
    running = [clock for clock in bottle.clocks.all() if clock.stopped_at is None and not clock.void]
    keepable = [clock for clock in running if clock.due_at is not None and clock.due_at >= now]
    soonest = keepable[0] if keepable else None
    return Left(
        ions=tuple(clock.ion for clock in keepable if clock.due_at == soonest.due_at) if soonest else (),
        clock=soonest,
        run_out=tuple(clock.ion for clock in running if clock.due_at is not None and clock.due_at < now),
        unlimited=tuple(clock.ion for clock in running if clock.due_at is None),
    )


def findings_of(bottle: Bottle) -> list[FindingRow]:
    """Cautions and bars of a bottle, its sample's among them, heaviest first."""
    return sorted(
        [*bottle.findings.all(), *bottle.sample.findings.all()], key=lambda row: (-row.rank, row.pk)
    )
