"""Judging stored samples anew: facts out of the database, through ``judge``, findings back in.

Called by every action that changed a fact, inside its transaction. The work is done in a
fixed number of queries however many samples there are.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import fields
from datetime import datetime
from functools import lru_cache

from django.db.models import Prefetch, QuerySet

from intake.actions.entries import SampleEntry
from intake.actions.steps import take_turn
from intake.actions.storing import in_parts, insert_rows
from intake.models import (
    AdviceRow,
    Arrival,
    BenchCheck,
    Bottle,
    ClockRow,
    Consignment,
    FindingRow,
    Injection,
    RulebookVersion,
    Sample,
    SampleJudgement,
)
from intake.rules import facts
from intake.rules.book import Rulebook
from intake.rules.book_data import book_from_data
from intake.rules.facts_data import facts_digest
from intake.rules.judge import judge
from intake.rules.judgement import Judgement, Weight
from intake.states import WAITING

BATCH = 500


@lru_cache(maxsize=64)
def _parsed(pk: int, digest: str) -> Rulebook:
    return book_from_data(RulebookVersion.objects.values_list("data", flat=True).get(pk=pk))


def rulebook_of(version: RulebookVersion) -> Rulebook:
    """The rulebook that a stored version holds; versions never change, so it is kept parsed."""
    return _parsed(version.pk, version.digest)


def _enum(kind: type, value: str) -> object:
    return kind(value) if value else None


def sample_facts(sample: Sample, zone: str) -> facts.SampleFacts:
    """The facts of a stored sample, stated in ``zone``."""
    return stated_facts(sample, key=str(sample.pk), zone=zone, declared_at=sample.declared_at)


def stated_facts(
    sample: Sample | SampleEntry, *, key: str, zone: str, declared_at: datetime
) -> facts.SampleFacts:
    """The facts of a sample as it is stored, or as somebody is about to state it."""
    return facts.SampleFacts(
        key=key,
        zone=zone,
        declared_at=declared_at,
        name=sample.own_id,
        collection=facts.Collection(sample.collection),
        collected_at=sample.collected_at,
        collection_began_at=sample.collection_began_at,
        precision=facts.Precision(sample.precision),
        ph=sample.ph,
        ec_value=sample.ec_value,
        ec_unit=facts.EcUnit(sample.ec_unit),
        ec_reference=facts.EcReference(sample.ec_reference),
        water_temperature_c=sample.water_temperature_c,
        water_kind=facts.WaterKind(sample.water_kind),
        alkalinity_meq_l=sample.alkalinity_meq_l,
        chlorinated=sample.chlorinated,
    )


def _arrival_facts(arrival: Arrival | None) -> facts.ArrivalFacts | None:
    if arrival is None:
        return None
    return facts.ArrivalFacts(
        received_at=arrival.received_at,
        temperature_c=arrival.temperature_c,
        measured_on=_enum(facts.MeasuredOn, arrival.measured_on),
        cooling=_enum(facts.Cooling, arrival.cooling),
        seal=_enum(facts.Seal, arrival.seal),
    )


_SEEN = tuple(field.name for field in fields(facts.SeenFacts))


def _seen_facts(check: BenchCheck | None) -> facts.SeenFacts | None:
    if check is None:
        return None
    return facts.SeenFacts(**{name: getattr(check, name) for name in _SEEN})


_BOTTLE_OWN = frozenset(
    {
        "key",
        "line",
        "ions",
        "container",
        "filter_membrane",
        "acid_kind",
        "arrival",
        "seen",
        "injections",
        "dropped",
    }
)
_BOTTLE_SHARED = tuple(field.name for field in fields(facts.BottleFacts) if field.name not in _BOTTLE_OWN)


def bottle_facts(
    bottle: Bottle,
    check: BenchCheck | None,
    arrival: Arrival | None,
    injected_at: Iterable[datetime] = (),
) -> facts.BottleFacts:
    """The facts of a stored bottle with what reception saw of it and when it was injected."""
    return facts.BottleFacts(
        key=str(bottle.pk),
        line=facts.Line(bottle.line),
        ions=frozenset(bottle.ions),
        container=_enum(facts.Container, bottle.container),
        filter_membrane=_enum(facts.Membrane, bottle.filter_membrane),
        acid_kind=_enum(facts.AcidKind, bottle.acid_kind),
        arrival=_arrival_facts(arrival),
        seen=_seen_facts(check),
        injections=tuple(facts.Injection(moment) for moment in injected_at),
        dropped=frozenset(bottle.dropped),
        **{name: getattr(bottle, name) for name in _BOTTLE_SHARED},
    )


Row = tuple[object, ...]

FINDING = (
    "sample_id", "bottle_id", "code", "weight", "rank", "sentence", "remedies", "source", "fact", "ions",
)  # fmt: skip
CLOCK = (
    "bottle_id", "ion", "starts_at", "limit_value", "limit_unit", "due_at", "grossly_late_at", "row",
    "reason", "assumed", "stopped_at", "void", "waiting",
)  # fmt: skip
ADVICE = ("bottle_id", "code", "sentence", "source", "figures")
JUDGEMENT = ("sample_id", "rulebook_id", "facts_digest", "judged_at")


def finding_rows(sample: Sample, judgement: Judgement) -> list[Row]:
    """The findings as rows of ``FINDING``."""
    return [
        (
            sample.pk,
            int(finding.bottle) if finding.bottle else None,
            finding.code,
            finding.weight.value,
            finding.weight.rank,
            finding.sentence,
            [[remedy.stage.value, remedy.sentence] for remedy in finding.remedies],
            finding.source,
            finding.fact,
            list(finding.ions),
        )
        for finding in judgement.findings
    ]


def clock_rows(judgement: Judgement, bottles: Iterable[Bottle]) -> list[Row]:
    """The clocks as rows of ``CLOCK``."""
    waits = {str(bottle.pk): bottle.state in WAITING for bottle in bottles}
    return [
        (
            int(clock.bottle),
            clock.ion,
            clock.starts_at,
            clock.limit.value if clock.limit else None,
            clock.limit.unit.value if clock.limit else "",
            clock.due_at,
            clock.grossly_late_at,
            clock.row,
            clock.reason,
            clock.assumed,
            clock.stopped_at,
            clock.void,
            waits[clock.bottle] and clock.due_at is not None and clock.stopped_at is None and not clock.void,
        )
        for clock in judgement.clocks
    ]


def advice_rows(judgement: Judgement) -> list[Row]:
    """The advice as rows of ``ADVICE``."""
    return [
        (int(advice.bottle), advice.code, advice.sentence, advice.source, dict(advice.figures))
        for advice in judgement.advice
    ]


def _weightiest(bottles: list[Bottle], judgement: Judgement) -> Iterator[tuple[Bottle, int]]:
    """Each bottle with the rank of its heaviest finding; a sample's findings count for all."""
    heaviest: dict[str, int] = {}
    for finding in judgement.findings:
        heaviest[finding.bottle] = max(finding.weight.rank, heaviest.get(finding.bottle, -1))
    of_sample = heaviest.get("", -1)
    for bottle in bottles:
        yield bottle, max(of_sample, heaviest.get(str(bottle.pk), -1))


def stored_facts(
    samples: Iterable[Sample],
) -> list[tuple[Sample, list[Bottle], facts.SampleFacts, list[facts.BottleFacts]]]:
    """Samples with their bottles and the facts of both, in three queries.

    ``samples`` must come with their consignment selected.
    """
    samples = list(samples)
    by_sample: dict[int, list[Bottle]] = defaultdict(list)
    chosen = Bottle.objects.filter(sample__in=[sample.pk for sample in samples])
    for bottle in chosen.select_related("arrival").order_by("pk"):
        by_sample[bottle.sample_id].append(bottle)
    checks = {
        check.bottle_id: check
        for check in BenchCheck.objects.filter(
            bottle__sample__in=[sample.pk for sample in samples], undone_at__isnull=True
        )
    }
    injected: dict[int, list[datetime]] = defaultdict(list)
    shots = Injection.objects.filter(
        bottle__sample__in=[sample.pk for sample in samples], voided_at__isnull=True
    )
    for bottle_pk, moment in shots.order_by("at", "pk").values_list("bottle", "at"):
        injected[bottle_pk].append(moment)
    return [
        (
            sample,
            by_sample[sample.pk],
            sample_facts(sample, sample.consignment.zone),
            [
                bottle_facts(bottle, checks.get(bottle.pk), bottle.arrival, injected[bottle.pk])
                for bottle in by_sample[sample.pk]
            ],
        )
        for sample in samples
    ]


def judge_samples(samples: Iterable[Sample], *, at: datetime) -> None:
    """Judge ``samples`` anew and store what ``judge`` returned in place of what stood there."""
    samples = list(samples)
    for part in in_parts(samples, BATCH):
        _judge_batch(part, at=at)


def _judge_batch(samples: list[Sample], *, at: datetime) -> None:
    findings: list[Row] = []
    clocks: list[Row] = []
    advice: list[Row] = []
    judgements: list[Row] = []
    filled: list[int] = []
    weighed: dict[int, list[int]] = defaultdict(list)
    for sample, bottles, its_facts, their_facts in stored_facts(samples):
        version = sample.consignment.rulebook
        judgement = judge(its_facts, their_facts, rulebook_of(version))
        filled += [bottle.pk for bottle in bottles]
        findings += finding_rows(sample, judgement)
        clocks += clock_rows(judgement, bottles)
        advice += advice_rows(judgement)
        judgements.append((sample.pk, version.pk, facts_digest(its_facts, their_facts), at))
        for bottle, rank in _weightiest(bottles, judgement):
            if bottle.weightiest != rank:
                weighed[rank].append(bottle.pk)
    keys = [sample.pk for sample in samples]
    FindingRow.objects.filter(sample__in=keys).delete()
    for part in in_parts(filled):
        ClockRow.objects.filter(bottle__in=part).delete()
        AdviceRow.objects.filter(bottle__in=part).delete()
    SampleJudgement.objects.filter(sample__in=keys).delete()
    insert_rows(FindingRow, FINDING, findings)
    insert_rows(ClockRow, CLOCK, clocks)
    insert_rows(AdviceRow, ADVICE, advice)
    insert_rows(SampleJudgement, JUDGEMENT, judgements)
    _store_weights(weighed)


def _store_weights(changed: dict[int, list[int]]) -> None:
    """Store the new rank of each bottle in ``changed``, which holds their keys by rank."""
    for rank, keys in changed.items():
        for part in in_parts(keys):
            Bottle.objects.filter(pk__in=part).update(weightiest=rank)


def _with_rulebook(samples: QuerySet[Sample]) -> QuerySet[Sample]:
    """``samples`` in order; those of one consignment share one object of it and of its rulebook."""
    heads = Consignment.objects.select_related("rulebook").defer("rulebook__data")
    return samples.prefetch_related(Prefetch("consignment", heads)).order_by("pk")


def judge_consignment(consignment_pk: int, *, at: datetime) -> None:
    """Judge every sample of a consignment anew."""
    take_turn([consignment_pk])
    judge_samples(_with_rulebook(Sample.objects.filter(consignment=consignment_pk)), at=at)


def judge_bottles(bottles: Iterable[Bottle], *, at: datetime) -> None:
    """Judge the samples that ``bottles`` were filled from anew."""
    bottles = list(bottles)
    take_turn(bottle.consignment_id for bottle in bottles)
    judge_in_turn(bottles, at=at)


def judge_in_turn(bottles: Iterable[Bottle], *, at: datetime) -> None:
    """As ``judge_bottles``, by an action that has taken its turn at their consignments."""
    chosen = Sample.objects.filter(pk__in={bottle.sample_id for bottle in bottles}).order_by("pk")
    heads = chosen.select_related("consignment__rulebook").defer("consignment__rulebook__data")
    judge_samples(heads, at=at)


def heavy(row: FindingRow) -> bool:
    """Whether a stored finding is a caution or a bar."""
    return row.rank >= Weight.CAUTION.rank
