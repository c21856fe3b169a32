"""What stands around the rows of the queue, in one question: small things that fit into one list.

Groups to choose from, the person's saved views, how many bottles changed today, and the hours of
the laboratory. Each is a handful of rows; asked for one by one they cost a question each.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, datetime, time

from django.db.models import CharField, Count, IntegerField, QuerySet, Value
from django.db.models.functions import Cast

from intake.models import Group, User
from labqueue.models import ClosedDay, Laboratory, OpeningHours, SavedView
from labqueue.today import CHANGES, rows_today

TEXT = CharField()


def _as_list(rows: QuerySet, kind: str, key: object, name: object, more: object) -> QuerySet:
    """``rows`` as lines of the one list: what they are, a number, two texts."""
    return (
        rows.order_by()
        .annotate(
            sort_=Value(kind, TEXT),
            key_=Cast(key, IntegerField()),
            name_=Cast(name, TEXT),
            more_=Cast(more, TEXT),
        )
        .values_list("sort_", "key_", "name_", "more_")
    )


def _counted(word: str, now: datetime) -> QuerySet:
    return (
        rows_today(word, now)
        .order_by()
        .annotate(sort_=Value("change", TEXT))
        .values("sort_")
        .annotate(
            key_=Count(CHANGES[word].bottle, distinct=True), name_=Value(word, TEXT), more_=Value("", TEXT)
        )
        .values_list("sort_", "key_", "name_", "more_")
    )


@dataclass(frozen=True, slots=True)
class View:
    """A saved view: its key, its name, its words of the address."""

    pk: int
    name: str
    query: str


@dataclass(slots=True)
class Around:
    """What was found. ``closed`` are days of the laboratory's own; ``changes`` counts by word."""

    groups: list[tuple[str, str]] = field(default_factory=list)
    views: list[View] = field(default_factory=list)
    changes: dict[str, int] = field(default_factory=dict)
    weekly: dict[int, list[tuple[time, time]]] = field(default_factory=lambda: defaultdict(list))
    closed: dict[date, str] = field(default_factory=dict)
    lab: Laboratory = field(default_factory=lambda: Laboratory(pk=1))


def _hours() -> list[QuerySet]:
    return [
        _as_list(OpeningHours.objects.all(), "shift", "weekday", "opens", "closes"),
        _as_list(ClosedDay.objects.all(), "closed", Value(0), "day", "reason"),
        _as_list(Laboratory.objects.all(), "lab", "margin_min", "country", "region"),
    ]


def look_around(user: User | None = None, now: datetime | None = None) -> Around:
    """All of it for ``user`` at ``now``; without them the hours alone. One query."""
    asked = _hours()
    if user is not None and now is not None:
        asked += [
            _as_list(Group.objects.visible_to(user), "group", "pk", "name", Value("")),
            _as_list(SavedView.objects.of(user), "view", "pk", "name", "query"),
            *(_counted(word, now) for word in CHANGES),
        ]
    first, *others = asked
    found = Around()
    for kind, key, name, more in sorted(first.union(*others, all=True), key=lambda line: (line[0], line[2])):
        _put(found, kind, key, name, more)
    return found


def _put(found: Around, kind: str, key: int, name: str, more: str) -> None:
    match kind:
        case "group":
            found.groups.append((str(key), name))
        case "view":
            found.views.append(View(key, name, more))
        case "change":
            found.changes[name] = key
        case "shift":
            found.weekly[key].append((time.fromisoformat(name), time.fromisoformat(more)))
        case "closed":
            found.closed[date.fromisoformat(name)] = more
        case "lab":
            found.lab.margin_min, found.lab.country, found.lab.region = key, name, more
