"""Is the moment of collection stated, and can it be true?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from intake.rules.earning import Case, in_order
from intake.rules.examples import COLLECTED, example
from intake.rules.facts import Collection, Precision, SampleFacts
from intake.rules.findings import (
    COMMON_PRACTICE,
    FROM_THE_FACTS,
    Consequence,
    Rule,
    after_analysis,
    at_the_bench,
    before_sending,
)
from intake.rules.holding import Start
from intake.rules.judgement import Finding, Weight
from intake.rules.words import say_date, say_moment, say_span

#: Longest period of one composite before we ask. House choice.
LONG_COMPOSITE = timedelta(days=31)

MISSING = Rule(
    "collection.missing",
    (Weight.CAUTION,),
    "Moment of collection not stated",
    "Every holding time counts from collection. Without it nobody can show that a value was "
    "measured in time, and the queue cannot know what runs out first.",
    (
        before_sending("State the date and the time of collection, with the time zone."),
        at_the_bench("Ask the submitter before the bottle is placed in a run."),
        after_analysis("State with the value that its holding time could not be shown."),
    ),
    "TNI V1M2 5.8.6(a), quoted in TNI interpretation request 20120; ISO/IEC 17025:2017 7.3.3(b)",
    example(sample={"collected_at": None, "precision": Precision.UNKNOWN}),
    Consequence.WORD,
)
DATE_ONLY = Rule(
    "collection.date_only",
    (Weight.CAUTION,),
    "Date of collection without a time",
    "The clock then has to start at the beginning of that day, so up to 24 hours are lost.",
    (
        before_sending("Add the time of collection; the hour is enough to win most of it back."),
        at_the_bench("Ask the submitter for the time when a clock is about to run out."),
    ),
    f"{COMMON_PRACTICE}; counted from the earliest moment the date allows",
    example(sample={"precision": Precision.DATE}),
)
HOUR_ONLY = Rule(
    "collection.hour_only",
    (Weight.NOTE,),
    "Hour of collection without minutes",
    "The clock starts at the beginning of that hour.",
    (before_sending("Add the minutes if you know them."),),
    f"{COMMON_PRACTICE}; counted to the precision that was recorded",
    example(sample={"precision": Precision.HOUR}),
    Consequence.NONE,
)
FUTURE = Rule(
    "collection.future",
    (Weight.BAR,),
    "Collected in the future",
    "Water cannot have been collected after the moment at which that was stated; a wrong date, "
    "time or time zone would give every ion too long a holding time.",
    (
        before_sending("Correct the date, the time or the time zone of the collection."),
        at_the_bench("Ask the submitter for the true moment and amend it."),
    ),
    FROM_THE_FACTS,
    example(sample={"collected_at": COLLECTED + timedelta(days=2)}),
    Consequence.WORD,
)
OLD = Rule(
    "collection.implausibly_old",
    (Weight.CAUTION,),
    "Collected implausibly long ago",
    "Most often a year was mistyped. Water that old has outlived every limit.",
    (
        before_sending("Check the year of the collection."),
        at_the_bench("Ask the submitter whether the year is right."),
    ),
    "house choice (10 years), no published source",
    example(sample={"collected_at": COLLECTED.replace(year=1926)}),
    Consequence.WORD,
)
REVERSED = Rule(
    "collection.composite_reversed",
    (Weight.BAR,),
    "Composite ends before it begins",
    "The holding time of a composite counts from the end of its period, so the two moments must be in order.",
    (
        before_sending("Correct the begin or the end of the composite."),
        at_the_bench("Ask the submitter for both moments."),
    ),
    "40 CFR 136.3 Table II footnote 4 (from memory, check before use) for the start at the end",
    example(
        sample={
            "collection": Collection.COMPOSITE,
            "collection_began_at": COLLECTED + timedelta(hours=1),
        }
    ),
    Consequence.WORD,
)
LONG = Rule(
    "collection.composite_long",
    (Weight.CAUTION,),
    "Composite collected over a very long time",
    "The first portions waited in the sampler for as long as the period lasted; nitrite, ammonium "
    "and phosphate change there before any clock starts.",
    (
        before_sending("Check both moments; say whether the sampler kept the water cold."),
        after_analysis("State the length of the period with the value."),
    ),
    "house choice (31 days), no published source",
    example(
        sample={
            "collection": Collection.COMPOSITE,
            "collection_began_at": COLLECTED - timedelta(days=40),
        }
    ),
)
UNLABELLED = Rule(
    "label.no_name",
    (Weight.CAUTION,),
    "Sample without a name of its own",
    "A label shows the sample id and the date; without an id two bottles can be confused.",
    (
        before_sending("Give the sample the id that stands on its bottles."),
        at_the_bench("Ask the submitter which sample the bottle belongs to."),
    ),
    "ISO/IEC 17025:2017 7.4.2; EPA RCRA Ground-Water Monitoring guide (1992) 7.6.1",
    example(sample={"name": ""}),
)
RULES = (MISSING, DATE_ONLY, HOUR_ONLY, FUTURE, OLD, REVERSED, LONG, UNLABELLED)


def findings(sample: SampleFacts, start: Start, cases: Sequence[Case]) -> Iterator[Finding]:
    """What is wrong with when and what was collected. ``cases`` are the bottles of the sample."""
    if not sample.name.strip():
        yield UNLABELLED.finding(
            "The sample has no id of its own, so its bottles cannot be told apart by their labels.", "name"
        )
    if sample.collected_at is None or start.at is None:
        asked = _asked(cases)
        yield MISSING.finding(
            f"The moment of collection is not stated; {'no clock' if asked else 'nothing'} can be started.",
            "collected_at",
            ions=asked,
        )
        return
    if start.assumed:
        yield from _precision(sample, start.at, cases)
    if not start.trusted and start.at > sample.declared_at:
        moment, stated = (
            say_moment(sample.collected_at, sample.zone),
            say_moment(sample.declared_at, sample.zone),
        )
        yield FUTURE.finding(
            f"Collected {moment}, but that was stated on {stated}: a collection cannot lie in the future.",
            "collected_at",
        )
    elif not start.trusted:
        yield OLD.finding(
            f"Collected {say_date(sample.collected_at, sample.zone)}, more than 10 years before this was "
            "stated. Is the year right?",
            "collected_at",
            ions=_asked(cases),
        )
    if sample.collection is Collection.COMPOSITE:
        yield from _period(sample, start)


def _asked(cases: Sequence[Case]) -> tuple[str, ...]:
    """The ions of all bottles."""
    return in_order(frozenset().union(*(case.asked for case in cases)))


def _precision(sample: SampleFacts, at: datetime, cases: Sequence[Case]) -> Iterator[Finding]:
    if sample.precision is Precision.DATE:
        yield DATE_ONLY.finding(
            "Only the date of collection is stated, so the clocks start at "
            f"{say_moment(at, sample.zone)}, up to 24 hours before the true moment.",
            "precision",
            ions=_asked(cases),
        )
    else:
        yield HOUR_ONLY.finding(
            f"Only the hour of collection is stated, so the clocks start at {say_moment(at, sample.zone)}.",
            "precision",
        )


def _period(sample: SampleFacts, start: Start) -> Iterator[Finding]:
    began, ended = sample.collection_began_at, sample.collected_at
    if began is None or ended is None or start.at is None:
        return
    if began > ended and began > start.at + timedelta(minutes=start.slack_min):
        yield REVERSED.finding(
            f"The composite ends {say_moment(ended, sample.zone)}, before it begins "
            f"({say_moment(began, sample.zone)}).",
            "collection_began_at",
        )
    elif ended - began > LONG_COMPOSITE:
        yield LONG.finding(
            f"The composite was collected over {say_span((ended - began) / timedelta(minutes=1))}.",
            "collection_began_at",
        )
