"""One page of the queue, gathered: which rows, what is said of them, what stands around them.

Whatever waits, it asks as often: what stands around, the keys of the page, its rows, the bench, and
the clocks that run out before the last of its rows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.core.paginator import Page, Paginator

from intake.actions.storing import in_parts
from intake.models import Bottle, User
from labqueue.around import Around
from labqueue.foresight import Foresight, bench_now, foresee
from labqueue.queue import Keys, Wanted, all_keys, keys_between, queued_bottles
from labqueue.queuerows import QueueRow, rows_of

ROWS_PER_PAGE = 50
#: Rows read at once for a file, so that memory does not grow with the queue.
ROWS_AT_ONCE = 500


class KnownPaginator(Paginator):
    """A paginator that was told how many rows there are."""

    def __init__(self, count: int) -> None:
        super().__init__((), ROWS_PER_PAGE)
        self.__dict__["count"] = count


@dataclass(frozen=True, slots=True)
class QueuePage:
    """The rows of one page at a moment. ``together`` by key where they are gathered."""

    page: Page
    rows: list[QueueRow]
    together: dict[int, int]
    foresight: Foresight


def _page_number(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and 0 < len(text) < 7 else 1


def _keys(user: User, wanted: Wanted, now: datetime, number: int) -> tuple[Keys, int]:
    """The keys of page ``number``, or of the last page where there are not so many."""
    first = (number - 1) * ROWS_PER_PAGE
    keys = keys_between(user, wanted, now, first, first + ROWS_PER_PAGE)
    if keys.pks or number == 1:
        return keys, number
    total = queued_bottles(user, wanted, now).count()
    last = max(1, -(-total // ROWS_PER_PAGE))
    first = (last - 1) * ROWS_PER_PAGE
    return keys_between(user, wanted, now, first, first + ROWS_PER_PAGE), last


def page_of(user: User, wanted: Wanted, now: datetime, around: Around, number: str = "") -> QueuePage:
    """The page of that number (1 where it is none), as the queue stands at ``now``."""
    keys, at = _keys(user, wanted, now, max(1, _page_number(number)))
    rows = rows_of(keys.pks, now) if keys.pks else []
    page = Page(rows, at, KnownPaginator(keys.total))
    return QueuePage(page, rows, keys.together, _foresight(rows, now, around))


def _foresight(rows: Sequence[QueueRow], now: datetime, around: Around | None) -> Foresight:
    dues = [row.left.clock.due_at for row in rows if row.left.clock is not None]
    return foresee(now, around, bench_now(), max(dues, default=now))


def named_rows(user: User, numbers: Sequence[str], now: datetime) -> list[QueueRow]:
    """The bottles of these numbers that ``user`` may know of, the clock that runs out next first."""
    bottles = Bottle.objects.visible_to(user).filter(number__in=numbers).in_expiry_order(now)
    return rows_of(list(bottles.values_list("pk", flat=True)), now)


def chosen_page(rows: list[QueueRow], now: datetime) -> Foresight:
    """The outlook of rows that somebody chose."""
    return _foresight(rows, now, None)


def all_rows(pks: Sequence[int], now: datetime) -> Iterator[tuple[QueueRow, Foresight]]:
    """Every row of these keys in order with the one outlook of all, read some at a time."""
    foresight = foresee(now)
    for part in in_parts(pks, ROWS_AT_ONCE):
        for row in rows_of(part, now):
            yield row, foresight


__all__ = ["QueuePage", "all_keys", "all_rows", "chosen_page", "named_rows", "page_of"]
