"""A demo laboratory grown to any size, to see what size does to speed.

What the demo laboratory has received is the mould: its consignments with samples, bottles, clocks,
findings and checks are copied, each copy with keys and numbers of its own and its moments moved
together. Copies of the past are measured, their clocks stopped; copies of today wait.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from random import Random

from django.conf import settings
from django.core.management.color import no_style
from django.db import connection, models, transaction

from intake.actions.indexing import index_consignments
from intake.actions.numbering import free_number, free_numbers
from intake.actions.storing import insert_rows
from intake.actions.tallying import count_months
from intake.demo.scenario import STORIES
from intake.models import (
    AdviceRow,
    Arrival,
    ArrivalPart,
    BenchCheck,
    Bottle,
    ClockRow,
    Consignment,
    FindingRow,
    Injection,
    Sample,
    SampleJudgement,
)
from intake.numbers import ARRIVAL, BOTTLE, CONSIGNMENT
from intake.states import BottleState, ConsignmentState
from intake.tallies import span_of

#: The past reaches back this far; what waits came within the last day.
YEARS = 5
#: Share of its holding time after which a bottle of the past was injected; above one it was late.
SHARES = (0.3, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.1)
#: Copies written in one transaction.
BATCH = 25


@dataclass(slots=True)
class Mould:
    """The rows of one model that are copied; ``places`` maps the key of each to its place among them."""

    model: type[models.Model]
    rows: list[models.Model]
    next_key: int = field(init=False)
    places: dict[int, int] = field(init=False)
    names: list[str] = field(init=False)

    def __post_init__(self) -> None:
        self.next_key = (self.model._default_manager.aggregate(most=models.Max("pk"))["most"] or 0) + 1
        self.places = {row.pk: place for place, row in enumerate(self.rows)}
        self.names = [one.attname for one in self.model._meta.concrete_fields]

    def key_of(self, old: int) -> int:
        """The key that the copy of row ``old`` gets in the copy that is made now."""
        return self.next_key + self.places[old]

    def copy(
        self, shift: timedelta, change: Callable[[models.Model], dict[str, object]]
    ) -> list[tuple[object, ...]]:
        """One copy of all rows: moments moved by ``shift``, what ``change`` says put in."""
        copied = []
        for row in self.rows:
            values = {name: _moved(getattr(row, name), shift) for name in self.names}
            values |= {"id": self.key_of(row.pk), **change(row)}
            copied.append(tuple(values.values()))
        return copied

    def write(self, rows: Sequence[tuple[object, ...]]) -> None:
        """Insert one copy of all rows and move on to the keys of the next."""
        insert_rows(self.model, self.names, rows)
        self.next_key += len(self.rows)


def _moved(value: object, shift: timedelta) -> object:
    return value + shift if isinstance(value, datetime) else value


@dataclass(frozen=True, slots=True)
class Moulds:
    """What the demo laboratory has received, model by model."""

    consignments: Mould
    samples: Mould
    judgements: Mould
    arrivals: Mould
    parts: Mould
    bottles: Mould
    checks: Mould
    clocks: Mould
    findings: Mould
    advice: Mould
    injections: Mould

    def each(self) -> Iterator[Mould]:
        return (getattr(self, name) for name in self.__slots__)


def moulds() -> Moulds:
    """What the demo's own stories have brought to the bench; ``LookupError`` where there is nothing."""
    own = Consignment.objects.order_by("pk").values_list("pk", flat=True)[: len(STORIES)]
    bottles = list(
        Bottle.objects.filter(
            consignment__in=list(own),
            consignment__state=ConsignmentState.RECEIVED,
            state__in=(BottleState.READY, BottleState.MEASURED),
        )
    )
    if not bottles:
        raise LookupError
    samples = Sample.objects.filter(pk__in={bottle.sample_id for bottle in bottles})
    keys = [bottle.pk for bottle in bottles]
    consignments = Consignment.objects.filter(pk__in={bottle.consignment_id for bottle in bottles})
    arrivals = Arrival.objects.filter(pk__in={bottle.arrival_id for bottle in bottles})
    here = FindingRow.objects.filter(sample__in=samples)
    return Moulds(
        Mould(Consignment, list(consignments)),
        Mould(Sample, list(samples)),
        Mould(SampleJudgement, list(SampleJudgement.objects.filter(sample__in=samples))),
        Mould(Arrival, list(arrivals)),
        Mould(
            ArrivalPart, list(ArrivalPart.objects.filter(consignment__in=consignments, arrival__in=arrivals))
        ),
        Mould(Bottle, bottles),
        Mould(BenchCheck, list(BenchCheck.objects.filter(bottle__in=keys, arrival__in=arrivals))),
        Mould(ClockRow, list(ClockRow.objects.filter(bottle__in=keys))),
        Mould(FindingRow, [row for row in here if row.bottle_id is None or row.bottle_id in set(keys)]),
        Mould(AdviceRow, list(AdviceRow.objects.filter(bottle__in=keys))),
        Mould(Injection, []),
    )


def grow(
    history: int,
    waiting: int,
    *,
    at: datetime,
    seed: int = 1,
    told: Callable[[int, int], None] = lambda *_: None,
) -> tuple[int, int]:
    """Add at least so many bottles of the past and so many that wait at ``at``; the numbers added.

    ``told`` hears how many bottles are made, and of how many, after each batch.
    """
    made = moulds()
    size = len(made.bottles.rows)
    past, present = (-(-wanted // size) for wanted in (history, waiting))
    chance = Random(seed)
    for start in range(0, past + present, BATCH):
        with transaction.atomic():
            for number in range(start, min(start + BATCH, past + present)):
                _copy(made, at, chance, is_past=number < past)
        told(min(start + BATCH, past + present) * size, (past + present) * size)
    _renew_sequences(made)
    count_months(span_of(at, settings.TIME_ZONE), at=at)
    return past * size, present * size


def _copy(made: Moulds, at: datetime, chance: Random, *, is_past: bool) -> None:
    newest = max(row.received_at for row in made.consignments.rows)
    ago = timedelta(minutes=chance.randrange(60 * 24 * 365 * YEARS) + 60 * 24 * 30 if is_past else 0)
    shift = at - newest - ago - timedelta(minutes=chance.randrange(1, 12 * 60))
    share = chance.choice(SHARES)
    spare = iter(free_numbers(Bottle, BOTTLE, len(made.bottles.rows)))

    copied: list[tuple[Mould, list[tuple[object, ...]]]] = []

    def write(mould: Mould, change: Callable[[models.Model], dict[str, object]]) -> None:
        copied.append((mould, mould.copy(shift, change)))

    stops = {clock.pk: _stop(clock, share, shift) if is_past else None for clock in made.clocks.rows}
    lasts = _last_stops(made, stops)
    write(made.consignments, lambda row: {"number": free_number(Consignment, CONSIGNMENT)})
    write(made.samples, lambda row: {"consignment_id": made.consignments.key_of(row.consignment_id)})
    write(made.judgements, lambda row: {"sample_id": made.samples.key_of(row.sample_id)})
    write(made.arrivals, lambda row: {"number": free_number(Arrival, ARRIVAL)})
    write(
        made.parts,
        lambda row: {
            "consignment_id": made.consignments.key_of(row.consignment_id),
            "arrival_id": made.arrivals.key_of(row.arrival_id),
        },
    )
    state = BottleState.MEASURED.value if is_past else BottleState.READY.value
    write(
        made.bottles,
        lambda row: {
            "number": next(spare),
            "consignment_id": made.consignments.key_of(row.consignment_id),
            "sample_id": made.samples.key_of(row.sample_id),
            "arrival_id": made.arrivals.key_of(row.arrival_id),
            "stored_in_id": None,
            "state": state,
            **_discarded(made, lasts.get(row.pk), at),
        },
    )
    write(
        made.checks,
        lambda row: {
            "bottle_id": made.bottles.key_of(row.bottle_id),
            "arrival_id": made.arrivals.key_of(row.arrival_id),
        },
    )
    write(
        made.clocks,
        lambda row: {
            "bottle_id": made.bottles.key_of(row.bottle_id),
            "stopped_at": stops[row.pk],
            "waiting": not is_past and not row.void,
        },
    )
    write(
        made.findings,
        lambda row: {
            "sample_id": made.samples.key_of(row.sample_id),
            "bottle_id": row.bottle_id and made.bottles.key_of(row.bottle_id),
        },
    )
    write(made.advice, lambda row: {"bottle_id": made.bottles.key_of(row.bottle_id)})
    for mould, rows in copied:
        mould.write(rows)
    index_consignments(row[0] for row in copied[0][1])
    if is_past:
        _inject(made, stops)


def _stop(clock: ClockRow, share: float, shift: timedelta) -> datetime | None:
    """When the clock of a bottle of the past was stopped."""
    if clock.void or clock.starts_at is None or clock.due_at is None:
        return None
    return clock.starts_at + shift + share * min(clock.due_at - clock.starts_at, timedelta(days=7))


def _last_stops(made: Moulds, stops: dict[int, datetime | None]) -> dict[int, datetime]:
    """When the last clock of each bottle was stopped, of those that were."""
    last: dict[int, datetime] = {}
    for clock in made.clocks.rows:
        stop = stops[clock.pk]
        if stop is not None:
            last[clock.bottle_id] = max(stop, last.get(clock.bottle_id, stop))
    return last


def _discarded(made: Moulds, last: datetime | None, at: datetime) -> dict[str, object]:
    """A bottle of the past is discarded once the laboratory need not keep it any more."""
    over = last + timedelta(days=settings.DISCARD_AFTER_DAYS) if last is not None else at
    if over >= at:
        return {"discarded_at": None, "discarded_by_id": None}
    return {"discarded_at": over, "discarded_by_id": made.arrivals.rows[0].received_by_id}


def _inject(made: Moulds, stops: dict[int, datetime | None]) -> None:
    """One injection for each bottle of the copy just written, at the first of its stops."""
    first: dict[int, datetime] = {}
    for clock in made.clocks.rows:
        stop = stops[clock.pk]
        if stop is not None:
            first[clock.bottle_id] = min(stop, first.get(clock.bottle_id, stop))
    person = made.arrivals.rows[0].received_by_id
    before = made.bottles.next_key - len(made.bottles.rows)
    insert_rows(
        Injection,
        ("bottle_id", "at", "label", "entered_at", "entered_by_id"),
        [
            (before + made.bottles.places[bottle], stop, "Grown", stop, person)
            for bottle, stop in first.items()
        ],
    )


def _renew_sequences(made: Moulds) -> None:
    """Keys were given by us: where the database counts them, it goes on after the last."""
    statements = connection.ops.sequence_reset_sql(no_style(), [mould.model for mould in made.each()])
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
