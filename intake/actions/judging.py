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

from intake.actions.steps import take_turn
from intake.actions.storing import in_parts, insert_rows
from intake.models import (
    AdviceRow,
    Arrival,
    BenchCheck,
    Bottle,
    ClockRow,
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


def _shared(kind: type, row: object, without: frozenset[str]) -> dict[str, object]:
    """Values of ``row`` for the fields of ``kind`` that have the same name; empty text is None."""
    return {field.name: getattr(row, field.name) for field in fields(kind) if field.name not in without}


def _enum(kind: type, value: str) -> object:
    return kind(value) if value else None


def sample_facts(sample: Sample, zone: str) -> facts.SampleFacts:
    """The facts of a stored sample, stated in ``zone``."""
    return facts.SampleFacts(
        key=str(sample.pk),
        zone=zone,
        declared_at=sample.declared_at,
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


def _seen_facts(check: BenchCheck | None) -> facts.SeenFacts | None:
    if check is None:
        return None
    return facts.SeenFacts(**_shared(facts.SeenFacts, check, frozenset()))


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
        **_shared(facts.BottleFacts, bottle, _BOTTLE_OWN),
    )


def finding_rows(sample: Sample, judgement: Judgement) -> list[FindingRow]:
    return [
        FindingRow(
            sample_id=sample.pk,
            bottle_id=int(finding.bottle) if finding.bottle else None,
            code=finding.code,
            weight=finding.weight.value,
            rank=finding.weight.rank,
            sentence=finding.sentence,
            remedies=[[remedy.stage.value, remedy.sentence] for remedy in finding.remedies],
            source=finding.source,
            fact=finding.fact,
            ions=list(finding.ions),
        )
        for finding in judgement.findings
    ]


def clock_rows(judgement: Judgement, states: dict[int, str]) -> list[ClockRow]:
    return [
        ClockRow(
            bottle_id=int(clock.bottle),
            ion=clock.ion,
            starts_at=clock.starts_at,
            limit_value=clock.limit.value if clock.limit else None,
            limit_unit=clock.limit.unit.value if clock.limit else "",
            due_at=clock.due_at,
            grossly_late_at=clock.grossly_late_at,
            row=clock.row,
            reason=clock.reason,
            assumed=clock.assumed,
            stopped_at=clock.stopped_at,
            void=clock.void,
            waiting=(
                states[int(clock.bottle)] in WAITING
                and clock.due_at is not None
                and clock.stopped_at is None
                and not clock.void
            ),
        )
        for clock in judgement.clocks
    ]


def advice_rows(judgement: Judgement) -> list[AdviceRow]:
    return [
        AdviceRow(
            bottle_id=int(advice.bottle),
            code=advice.code,
            sentence=advice.sentence,
            source=advice.source,
            figures=dict(advice.figures),
        )
        for advice in judgement.advice
    ]


def _weightiest(bottles: list[Bottle], judgement: Judgement) -> Iterator[tuple[Bottle, int]]:
    """Each bottle with the rank of its heaviest finding; a sample's findings count for all."""
    of_sample = max((f.weight.rank for f in judgement.findings if not f.bottle), default=-1)
    for bottle in bottles:
        own = [f.weight.rank for f in judgement.findings if f.bottle == str(bottle.pk)]
        yield bottle, max([of_sample, *own])


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
    for start in range(0, len(samples), BATCH):
        _judge_batch(samples[start : start + BATCH], at=at)


def _judge_batch(samples: list[Sample], *, at: datetime) -> None:
    findings: list[FindingRow] = []
    clocks: list[ClockRow] = []
    advice: list[AdviceRow] = []
    judgements: list[SampleJudgement] = []
    weighed: dict[int, list[int]] = defaultdict(list)
    for sample, bottles, its_facts, their_facts in stored_facts(samples):
        version = sample.consignment.rulebook
        judgement = judge(its_facts, their_facts, rulebook_of(version))
        findings += finding_rows(sample, judgement)
        clocks += clock_rows(judgement, {bottle.pk: bottle.state for bottle in bottles})
        advice += advice_rows(judgement)
        for bottle, rank in _weightiest(bottles, judgement):
            if bottle.weightiest != rank:
                weighed[rank].append(bottle.pk)
        judgements.append(
            SampleJudgement(
                sample=sample,
                rulebook=version,
                facts_digest=facts_digest(its_facts, their_facts),
                judged_at=at,
            )
        )
    keys = [sample.pk for sample in samples]
    FindingRow.objects.filter(sample__in=keys).delete()
    ClockRow.objects.filter(bottle__sample__in=keys).delete()
    AdviceRow.objects.filter(bottle__sample__in=keys).delete()
    insert_rows(findings)
    insert_rows(clocks)
    insert_rows(advice)
    SampleJudgement.objects.bulk_create(
        judgements,
        batch_size=BATCH,
        update_conflicts=True,
        unique_fields=["sample"],
        update_fields=["rulebook", "facts_digest", "judged_at"],
    )
    _store_weights(weighed)


def _store_weights(changed: dict[int, list[int]]) -> None:
    """Store the new rank of each bottle in ``changed``, which holds their keys by rank."""
    for rank, keys in changed.items():
        for part in in_parts(keys):
            Bottle.objects.filter(pk__in=part).update(weightiest=rank)


def judge_consignment(consignment_pk: int, *, at: datetime) -> None:
    """Judge every sample of a consignment anew."""
    take_turn([consignment_pk])
    judge_samples(
        Sample.objects.filter(consignment=consignment_pk)
        .select_related("consignment__rulebook")
        .defer("consignment__rulebook__data")
        .order_by("pk"),
        at=at,
    )


def judge_bottles(bottles: Iterable[Bottle], *, at: datetime) -> None:
    """Judge the samples that ``bottles`` were filled from anew."""
    bottles = list(bottles)
    take_turn(bottle.consignment_id for bottle in bottles)
    judge_samples(
        Sample.objects.filter(pk__in={bottle.sample_id for bottle in bottles})
        .select_related("consignment__rulebook")
        .defer("consignment__rulebook__data")
        .order_by("pk"),
        at=at,
    )


def heavy(row: FindingRow) -> bool:
    """Whether a stored finding is a caution or a bar."""
    return row.rank >= Weight.CAUTION.rank
