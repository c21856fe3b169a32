"""What a statement says: a consignment as plain data, from collection to what was kept.

Only reads, in a fixed number of queries however many samples there are. Moments are texts in
UTC; the zone of the sampling stands beside them.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable
from datetime import UTC, datetime

from intake.actions.judging import rulebook_of, sample_facts
from intake.citing import sources
from intake.models import (
    AdviceRow,
    Arrival,
    AskedBottle,
    Bottle,
    ClockRow,
    Consignment,
    FindingRow,
    Injection,
    Result,
    Sample,
)
from intake.rules.book import Limit, LimitUnit, Rulebook
from intake.rules.closing import closing_word, share_used_percent, tally
from intake.rules.holding import say_limit
from intake.rules.ions import BY_NAME
from intake.rules.judgement import Clock, ClockOutcome, Weight
from intake.rules.measured import usable_alkalinity, usable_ec25, usable_ph
from intake.rules.results import ELEMENT_OF, element_from_ion
from intake.rules.timing import lateness
from intake.rules.values import checks
from intake.states import BottleState
from intake.stored import stored_words

#: Raised when what stands in the content changes its shape.
FORM = 2

#: States from which an ion may still be measured; a statement then is early.
OPEN = (BottleState.EXPECTED, BottleState.READY, BottleState.ON_HOLD, BottleState.PLACED)

#: Why an ion was not measured, by the state of its bottle.
WHY_NOT = {
    BottleState.EXPECTED: "the bottle has not been received",
    BottleState.MISSING: "the bottle did not come",
    BottleState.REFUSED: "the bottle was refused",
    BottleState.ON_HOLD: "the bottle was on hold",
    BottleState.READY: "the bottle was waiting to be injected",
    BottleState.PLACED: "the bottle was in a run that was not over",
}

#: What a value is marked with, by the check that failed.
FLAGS = {
    "balance": "charge balance failed",
    "ec": "EC does not agree",
    "range": "above the calibrated range",
}

Plain = dict[str, object]


def stamp(moment: datetime | None) -> str | None:
    """A moment as it stands in a statement: UTC, to the second."""
    return None if moment is None else f"{moment.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"


def moment_of(text: object) -> datetime | None:
    """The moment of a ``stamp``."""
    return None if not text else datetime.fromisoformat(str(text))


class _Reading:
    """All rows of one consignment, gathered by bottle or sample."""

    def __init__(self, consignment: Consignment) -> None:
        own = {"bottle__consignment": consignment}
        self.clocks = _by("bottle_id", ClockRow.objects.filter(**own).order_by("pk"))
        self.advice = _by("bottle_id", AdviceRow.objects.filter(**own).order_by("pk"))
        shots = Injection.objects.filter(**own, voided_at__isnull=True).order_by("at", "pk")
        self.injections = _by("bottle_id", shots)
        values = Result.objects.filter(**own, withdrawn_at__isnull=True).order_by("injection__at", "pk")
        self.results = _by("bottle_id", values.select_related("injection"))
        asked = AskedBottle.objects.filter(**own).order_by("pk")
        self.asked = _by("bottle_id", asked.select_related("question__answer__answered_by"))
        heavy = FindingRow.objects.filter(sample__consignment=consignment, rank__gte=Weight.CAUTION.rank)
        findings = list(heavy.order_by("-rank", "pk"))
        self.of_bottle = _by("bottle_id", findings)
        self.of_sample = _by("sample_id", [row for row in findings if row.bottle_id is None])
        bottles = Bottle.objects.filter(consignment=consignment)
        self.bottles = _by(
            "sample_id", bottles.select_related("arrival__received_by", "decided_by").order_by("line", "pk")
        )

    def rules_used(self) -> set[tuple[str, int]]:
        """Ion and number of the rows of the rulebook by which clocks go."""
        return {(row.ion, row.row) for rows in self.clocks.values() for row in rows if row.row is not None}


def _by(name: str, rows: Iterable) -> dict[int, list]:
    gathered: dict[int, list] = defaultdict(list)
    for row in rows:
        gathered[getattr(row, name)].append(row)
    return gathered


@stored_words()
def statement_content(consignment: Consignment) -> Plain:
    """Everything a statement of ``consignment`` says. It comes with its group and rulebook read."""
    book = rulebook_of(consignment.rulebook)
    reading = _Reading(consignment)
    samples = [
        _sample(sample, reading, book, consignment.zone)
        for sample in consignment.samples.order_by("position", "pk")
    ]
    ions = [ion for sample in samples for bottle in sample["bottles"] for ion in bottle["ions"]]
    return _plain(
        {
            "form": FORM,
            "consignment": {
                "number": consignment.number,
                "title": consignment.title,
                "purpose": consignment.purpose,
                "group": consignment.group.name,
                "zone": consignment.zone,
                "sent_at": stamp(consignment.sent_at),
                "received_at": stamp(consignment.received_at),
            },
            "rulebook": {
                "code": book.code,
                "title": book.title,
                "version": book.version,
                "digest": consignment.rulebook.digest,
                "counting": book.counting.value,
            },
            "arrivals": _arrivals(reading),
            "samples": samples,
            "tally": tally(ion["outcome"] for ion in ions),
            "sources": sources(samples, book, reading.rules_used()),
        }
    )


def _plain(content: Plain) -> Plain:
    """``content`` as it comes back from the database, so that its digest can be made again."""
    return json.loads(json.dumps(content))


def _arrivals(reading: _Reading) -> list[Plain]:
    """The arrivals in which bottles came, the first one first."""
    found: dict[int, Arrival] = {
        bottle.arrival_id: bottle.arrival
        for bottles in reading.bottles.values()
        for bottle in bottles
        if bottle.arrival is not None
    }
    return [
        {
            "number": arrival.number,
            "received_at": stamp(arrival.received_at),
            "received_by": str(arrival.received_by),
            "temperature_c": arrival.temperature_c,
            "measured_on": arrival.measured_on,
            "cooling": arrival.cooling,
            "seal": arrival.seal,
        }
        for arrival in sorted(found.values(), key=lambda arrival: (arrival.received_at, arrival.pk))
    ]


def _checks(sample: Sample, reading: _Reading, zone: str) -> list[Plain]:
    """Whether the values of a sample can be true together; nothing where none was entered."""
    latest = {
        row.ion: 0.0 if row.below else row.value_mg_l
        for bottle in reading.bottles[sample.pk]
        for row in reading.results[bottle.pk]
    }
    if not latest:
        return []
    facts = sample_facts(sample, zone)
    made = checks(latest, usable_ph(facts), usable_ec25(facts), usable_alkalinity(facts))
    return [
        {"name": check.name, "passed": check.passed, "sentence": check.sentence, "source": check.source}
        for check in made
    ]


def _sample(sample: Sample, reading: _Reading, book: Rulebook, zone: str) -> Plain:
    found = _checks(sample, reading, zone)
    flags = [FLAGS[check["name"]] for check in found if check["passed"] is False]
    return {
        "own_id": sample.own_id,
        "site": sample.site,
        "collection": sample.collection,
        "collected_at": stamp(sample.collected_at),
        "began_at": stamp(sample.collection_began_at),
        "precision": sample.precision,
        "ph": sample.ph,
        "ec": sample.ec_value,
        "ec_unit": sample.ec_unit if sample.ec_value is not None else "",
        "departures": [_departure(row) for row in reading.of_sample[sample.pk]],
        "checks": found,
        "bottles": [_bottle(bottle, reading, book, flags) for bottle in reading.bottles[sample.pk]],
    }


def _departure(row: FindingRow) -> Plain:
    return {
        "code": row.code,
        "weight": row.weight,
        "sentence": row.sentence,
        "ions": row.ions,
        "source": row.source,
    }


def _bottle(bottle: Bottle, reading: _Reading, book: Rulebook, flags: list[str]) -> Plain:
    figures: dict[str, float] = {}
    for row in reading.advice[bottle.pk]:
        figures |= row.figures
    shots = reading.injections[bottle.pk]
    clocks = {row.ion: row for row in reading.clocks[bottle.pk]}
    return {
        "number": bottle.number,
        "line": bottle.line,
        "state": bottle.state,
        "announced": bottle.announced,
        "received_at": stamp(bottle.arrival.received_at) if bottle.arrival else None,
        "decision": str(bottle.get_decision_display()) if bottle.decision else "",
        "decision_reason": bottle.decision_reason,
        "decided_by": str(bottle.decided_by) if bottle.decided_by else "",
        "decided_at": stamp(bottle.decided_at),
        "questions": [_question(row) for row in reading.asked[bottle.pk]],
        "injections": [
            {
                "at": stamp(shot.at),
                "label": shot.label,
                "dilution": shot.dilution,
                "volume_factor": shot.volume_factor,
            }
            for shot in shots
        ],
        "suggested_dilution": figures.get("suggested_dilution"),
        "acid_volume_factor": figures.get("volume_factor"),
        "departures": [_departure(row) for row in reading.of_bottle[bottle.pk]],
        "ions": [
            _ion(ion, bottle, clocks.get(ion), shots, book)
            | {
                "results": [
                    _result(row, clocks.get(ion), flags)
                    for row in reading.results[bottle.pk]
                    if row.ion == ion
                ]
            }
            for ion in bottle.ions
        ],
    }


def _question(row: AskedBottle) -> Plain:
    """What the group was asked about a bottle, and its word."""
    question = row.question
    answer = getattr(question, "answer", None)
    return {
        "sentence": row.sentence,
        "ions": row.ions,
        "asked_at": stamp(question.asked_at),
        "answer": answer.choice if answer else "",
        "words": answer.words if answer else "",
        "disclaimer": answer.disclaimer if answer else "",
        "answered_by": str(answer.answered_by) if answer else "",
        "answered_at": stamp(question.answered_at),
    }


def _result(row: Result, clock: ClockRow | None, flags: list[str]) -> Plain:
    """A value with everything that is to travel with it."""
    word = closing_word(clock_of(clock), row.injection.at) if clock else ""
    own = [word] if word not in ("", ClockOutcome.KEPT.value) else []
    own += [FLAGS["range"]] if row.above_range else []
    return {
        "mg_l": row.value_mg_l,
        "below": row.below,
        "element": ELEMENT_OF.get(row.ion, ""),
        "element_mg_l": element_from_ion(row.ion, row.value_mg_l) if row.ion in ELEMENT_OF else None,
        "stated": row.stated_value,
        "unit": row.unit,
        "as_element": row.as_element,
        "dilution": row.dilution,
        "dilution_applied": row.dilution_applied,
        "acid_factor": row.acid_factor,
        "acid_applied": row.acid_applied,
        "injected_at": stamp(row.injection.at),
        "flags": [*own, *flags],
        "remark": row.remark,
    }


def clock_of(row: ClockRow) -> Clock:
    """A stored clock as the rules know it."""
    limit = Limit(row.limit_value or 0.0, LimitUnit(row.limit_unit)) if row.limit_unit else None
    return Clock(
        str(row.bottle_id),
        row.ion,
        row.starts_at,
        limit,
        row.due_at,
        row.grossly_late_at,
        row.row,
        row.reason,
        row.assumed,
        row.stopped_at,
        row.void,
    )


def _ion(ion: str, bottle: Bottle, row: ClockRow | None, shots: list[Injection], book: Rulebook) -> Plain:
    known = BY_NAME.get(ion)
    told: Plain = {
        "ion": ion,
        "formula": known.formula if known else "",
        "limit": "",
        "starts_at": None,
        "assumed": False,
        "due_at": None,
        "injected_at": None,
        "share_percent": None,
        "outcome": closing_word(_NO_CLOCK, None),
        "why": "",
        "reason": "",
        "lateness": "",
        "further": [],
    }
    if ion in bottle.dropped:
        return told | {"why": f"given up: {bottle.dropped[ion]}"}
    if row is None:
        return told | {"why": WHY_NOT.get(bottle.state, "")}
    clock = clock_of(row)
    first, *further = [shot.at for shot in shots] or [None]
    word = closing_word(clock, first)
    late = ClockOutcome.LATE.value, ClockOutcome.GROSSLY_LATE.value
    return told | {
        "limit": say_limit(clock.limit, book) if clock.limit else "",
        "starts_at": stamp(clock.starts_at),
        "assumed": clock.assumed,
        "due_at": stamp(clock.due_at),
        "injected_at": stamp(first),
        "share_percent": share_used_percent(clock.starts_at, clock.due_at, first),
        "outcome": word,
        "why": _why(clock, word, bottle),
        "reason": clock.reason,
        "lateness": lateness(ion)[0] if word in late else "",
        "further": [
            {
                "injected_at": stamp(moment),
                "outcome": closing_word(clock, moment),
                "share_percent": share_used_percent(clock.starts_at, clock.due_at, moment),
            }
            for moment in further
        ],
    }


_NO_CLOCK = Clock("", "", None, None, None, None, None, "")


def _why(clock: Clock, word: str, bottle: Bottle) -> str:
    """Why an ion came to nothing, in a few words; empty where its clock says it all."""
    if word == closing_word(clock, None):
        return WHY_NOT.get(bottle.state, "")
    if word != ClockOutcome.VOID.value:
        return ""
    if clock.void:
        return "a departure makes its holding time void"
    if clock.starts_at is None:
        return "the moment of collection was not stated"
    return "the rulebook sets no limit"


def open_bottles(consignment: Consignment) -> int:
    """How many bottles of ``consignment`` may still be measured."""
    return consignment.bottles.filter(state__in=OPEN).count()
