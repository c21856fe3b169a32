"""Making every stored judgement again and comparing: the proof that judgements repeat."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import Model, Prefetch

from intake import record
from intake.actions.judging import (
    ADVICE,
    CLOCK,
    FINDING,
    Row,
    advice_rows,
    clock_rows,
    finding_rows,
    judge_samples,
    rulebook_of,
    stored_facts,
)
from intake.actions.storing import in_parts
from intake.models import AdviceRow, ClockRow, FindingRow, Sample, SampleJudgement, User
from intake.permissions import require
from intake.rules.facts_data import facts_digest
from intake.rules.judge import judge

BATCH = 500


@dataclass(frozen=True, slots=True)
class Difference:
    """One stored judgement that does not come out again."""

    sample: Sample
    what: str

    def __str__(self) -> str:
        return f"{self.sample.consignment.number}, sample {self.sample.own_id}: {self.what}"


def _same(stored: list[Model], names: tuple[str, ...], made: list[Row]) -> bool:
    content = [tuple(getattr(row, name) for name in names) for row in stored]
    return sorted(content, key=repr) == sorted(made, key=repr)


def _stored(pks: list[int]) -> dict[int, Sample]:
    """Samples with everything their judgement stored."""
    samples = Sample.objects.filter(pk__in=pks).select_related("consignment__rulebook")
    return samples.prefetch_related(
        Prefetch("findings", FindingRow.objects.order_by("pk")),
        Prefetch("bottles__clocks", ClockRow.objects.order_by("pk")),
        Prefetch("bottles__advice", AdviceRow.objects.order_by("pk")),
    ).in_bulk(pks)


def differences() -> Iterator[Difference | None]:
    """Judge every stored sample again; yields one item a sample, ``None`` where nothing differs."""
    pks = list(Sample.objects.order_by("pk").values_list("pk", flat=True))
    for part in in_parts(pks, BATCH):
        chosen = _stored(part)
        judgements = SampleJudgement.objects.filter(sample__in=chosen).in_bulk(field_name="sample_id")
        for sample, bottles, its_facts, their_facts in stored_facts(chosen.values()):
            made = judge(its_facts, their_facts, rulebook_of(sample.consignment.rulebook))
            yield _compare(
                sample,
                judgements.get(sample.pk),
                facts_digest(its_facts, their_facts),
                (
                    finding_rows(sample, made),
                    clock_rows(made, bottles),
                    advice_rows(made),
                ),
            )


def _compare(
    sample: Sample,
    judgement: SampleJudgement | None,
    digest: str,
    made: tuple[list[Row], list[Row], list[Row]],
) -> Difference | None:
    if judgement is None:
        return Difference(sample, "it was never judged")
    if judgement.rulebook_id != sample.consignment.rulebook_id:
        return Difference(sample, f"judged by {judgement.rulebook}, now under {sample.consignment.rulebook}")
    if judgement.facts_digest != digest:
        return Difference(sample, "its facts changed without a judgement")
    bottles = sample.bottles.all()
    stored = (
        list(sample.findings.all()),
        [clock for bottle in bottles for clock in bottle.clocks.all()],
        [advice for bottle in bottles for advice in bottle.advice.all()],
    )
    kinds = {"findings": FINDING, "clocks": CLOCK, "advice": ADVICE}
    for (name, fields), old, new in zip(kinds.items(), stored, made, strict=True):
        if not _same(old, fields, new):
            return Difference(sample, f"its {name} come out differently")
    return None


@transaction.atomic
def rejudge(differing: list[Difference], *, by: User, at: datetime) -> None:
    """Store anew the judgements that come out differently, and record which."""
    require(by, "rulebook.manage")
    samples = Sample.objects.filter(pk__in=[difference.sample.pk for difference in differing])
    judge_samples(samples.select_related("consignment__rulebook"), at=at)
    for difference in differing:
        record.write(
            by=by,
            at=at,
            verb="sample.rejudge",
            subject=f"sample {difference.sample.own_id}",
            consignment=difference.sample.consignment,
            reason=difference.what,
        )
