"""Readings that look wrong: corrected, or confirmed with a reason, before the laboratory has them.

Critical values that people type get a second look: EU GMP Annex 11 (2011), section 6.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext_lazy as _

from intake.actions.entries import SampleEntry
from intake.actions.judging import stated_facts
from intake.errors import EntryProblem
from intake.models import Consignment, Sample
from intake.phrasebook import said
from intake.rules import readings
from intake.rules.judgement import Weight
from intake.rules.reading_rules import OUT_OF_RANGE

SAY_WHY_RIGHT = _("Some readings look wrong. Correct them, or say why they are right.")
SAVE_AGAIN = _(
    "Since this change readings look wrong: %(readings)s Correct them, or say in the reason why they are "
    "right, and save again."
)
#: Readings named in a refusal; the others stand on the page.
MOST_NAMED = 5
BATCH = 200


@dataclass(frozen=True, slots=True)
class Doubt:
    """A reading of a sample that is out of its range or its window, or does not go with another.

    ``row`` is the place of the sample in its consignment, from 1; ``fact`` names the reading.
    """

    row: int
    own_id: str
    code: str
    weight: Weight
    sentence: str
    fact: str


class Unconfirmed(EntryProblem):
    """Readings look wrong since a change. ``told`` goes along when it is asked for again, knowingly."""

    def __init__(self, doubts: Sequence[Doubt]) -> None:
        named = " ".join(f"{doubt.own_id}: {said(doubt.sentence)}" for doubt in doubts[:MOST_NAMED])
        sentence = SAVE_AGAIN % {"readings": named}
        super().__init__(sentence, {"reason": sentence})
        self.told = digest_of(doubts)


def doubts_of(consignment: Consignment, *, at: datetime) -> list[Doubt]:
    """What is to be corrected or confirmed in the samples as they stand."""
    return _doubts(consignment.samples.order_by("position", "pk"), consignment.zone, at)


def new_doubts(
    consignment: Consignment,
    entries: Iterable[SampleEntry],
    *,
    at: datetime,
    renamed: Mapping[str, str] | None = None,
) -> list[Doubt]:
    """What would be doubted if ``entries`` were its samples and is not doubted now.

    The same rule about another value is another doubt. ``renamed`` maps a new own id to the former.
    Nothing for a draft: that is looked at before it is sent.
    """
    if not consignment.is_sent:
        return []
    former = renamed or {}
    known = {(doubt.own_id, doubt.code, doubt.sentence) for doubt in doubts_of(consignment, at=at)}
    return [
        doubt
        for doubt in _doubts(entries, consignment.zone, at)
        if (former.get(doubt.own_id, doubt.own_id), doubt.code, doubt.sentence) not in known
    ]


def _doubts(samples: Iterable[Sample | SampleEntry], zone: str, at: datetime) -> list[Doubt]:
    return [
        Doubt(row, sample.own_id, finding.code, finding.weight, finding.sentence, finding.fact)
        for row, sample in enumerate(samples, start=1)
        for finding in readings.findings(stated_facts(sample, key=sample.own_id, zone=zone, declared_at=at))
        if finding.code in OUT_OF_RANGE and finding.weight is not Weight.NOTE
    ]


def digest_of(doubts: Iterable[Doubt]) -> str:
    """Says that these doubts, and no others, were told to a person; empty where there are none."""
    told = sorted((doubt.own_id, doubt.code, doubt.sentence) for doubt in doubts)
    return hashlib.sha256(json.dumps(told).encode()).hexdigest() if told else ""


def require_confirmed(doubts: Sequence[Doubt], reason: str) -> None:
    """Raise ``EntryProblem`` where readings look wrong and no ``reason`` says why they are right."""
    if doubts and not reason.strip():
        raise EntryProblem(SAY_WHY_RIGHT, {"reason": SAY_WHY_RIGHT})


def confirm(consignment: Consignment, doubts: Sequence[Doubt], reason: str) -> dict[str, list[str]]:
    """Keep ``reason`` with the samples of ``doubts``; what the record is to tell of it, if there are any."""
    if not doubts:
        return {}
    codes: dict[str, list[str]] = {}
    samples: dict[str, list[str]] = {}
    for doubt in doubts:
        codes.setdefault(doubt.own_id, []).append(doubt.code)
        samples.setdefault(doubt.code, []).append(doubt.own_id)
    chosen = [sample for sample in consignment.samples.all() if sample.own_id in codes]
    for sample in chosen:
        sample.confirmed = {**sample.confirmed, **dict.fromkeys(codes[sample.own_id], reason.strip())}
    Sample.objects.bulk_update(chosen, ["confirmed"], batch_size=BATCH)
    return {"readings confirmed": [f"{code}: {', '.join(names)}" for code, names in samples.items()]}
