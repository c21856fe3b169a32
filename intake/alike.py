"""The findings of a whole consignment, each cause once, with the samples that share it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from intake.models import Consignment, FindingRow, Sample
from intake.phrasebook import said
from intake.rules.catalogue import BY_CODE
from intake.rules.judgement import Weight

#: Samples named, and sentences told, before the rest is only counted.
MOST_NAMED, MOST_SENTENCES = 8, 4


@dataclass(slots=True)
class Alike:
    """What one rule says, with one weight, of one sample or of many.

    ``samples`` are own ids in order; ``sentences`` maps what it says to the samples it says it of,
    at most :data:`MOST_SENTENCES`; ``reasons`` is why the group says that the readings are right.
    ``row`` is the first of the findings, for remedies and source.
    """

    row: FindingRow
    samples: list[str] = field(default_factory=list)
    sentences: dict[str, list[str]] = field(default_factory=dict)
    ions: list[str] = field(default_factory=list)
    reasons: list[str] = field(default_factory=list)

    @property
    def anchor(self) -> str:
        """Where the page shows it; no two causes share it."""
        return f"finding-{self.row.weight}-{self.row.code.replace('.', '-')}"

    @property
    def title(self) -> str:
        return title_of(self.row.code)

    @property
    def weight(self) -> str:
        return self.row.weight

    @property
    def count(self) -> int:
        return len(self.samples)

    def told(self) -> list[tuple[str, str]]:
        """Each sentence, and in which samples."""
        return [(said(sentence), named(samples)) for sentence, samples in self.sentences.items()]

    @property
    def untold(self) -> int:
        """Samples whose own sentence is not among those told."""
        return self.count - len({name for names in self.sentences.values() for name in names})


def title_of(code: str) -> str:
    """The few words that head a rule; its code for one that is no longer in the catalogue."""
    rule = BY_CODE.get(code)
    return code if rule is None else said(rule.what)


def named(samples: Iterable[str]) -> str:
    """``12 samples: A, B, C and 9 more``."""
    names = list(samples)
    left = len(names) - MOST_NAMED
    shown = ", ".join(names[:MOST_NAMED])
    told = shown if left <= 0 else _("%(shown)s and %(left)s more") % {"shown": shown, "left": left}
    return ngettext("Sample %(told)s", "%(count)s samples: %(told)s", len(names)) % {
        "count": len(names),
        "told": told,
    }


@dataclass(frozen=True, slots=True)
class AllFindings:
    """``pressing`` are bars and cautions, ``notes`` the rest; the heaviest and most frequent first."""

    pressing: tuple[Alike, ...]
    notes: tuple[Alike, ...]


def findings_of(consignment: Consignment) -> AllFindings:
    """Everything the rules say of ``consignment``: one query, and one for the remedies."""
    rows = (
        FindingRow.objects.filter(sample__consignment=consignment)
        .order_by("-rank", "sample__position", "pk")
        .values_list("pk", "code", "weight", "sentence", "ions", "sample__own_id", "sample__confirmed")
    )
    first: dict[tuple[str, str], int] = {}
    found: dict[tuple[str, str], Alike] = {}
    for pk, code, weight, sentence, ions, own_id, confirmed in rows.iterator(chunk_size=2000):
        key = (code, weight)
        if key not in found:
            first[key] = pk
            found[key] = Alike(FindingRow(code=code, weight=weight))
        _add(found[key], sentence, ions, own_id)
        _add_reason(found[key], confirmed)
    stored = FindingRow.objects.in_bulk(list(first.values()))
    for key, alike in found.items():
        alike.row = stored.get(first[key], alike.row)
    ordered = sorted(found.values(), key=lambda alike: (-Weight(alike.weight).rank, -alike.count))
    return AllFindings(
        tuple(alike for alike in ordered if alike.weight != Weight.NOTE),
        tuple(alike for alike in ordered if alike.weight == Weight.NOTE),
    )


def _add(alike: Alike, sentence: str, ions: Iterable[str], own_id: str) -> None:
    if not alike.samples or alike.samples[-1] != own_id:
        alike.samples.append(own_id)
    alike.ions.extend(ion for ion in ions if ion not in alike.ions)
    samples = alike.sentences.get(sentence)
    if samples is None and len(alike.sentences) < MOST_SENTENCES:
        samples = alike.sentences[sentence] = []
    if samples is not None and (not samples or samples[-1] != own_id):
        samples.append(own_id)


def _add_reason(alike: Alike, confirmed: Mapping[str, str]) -> None:
    reason = "" if alike.weight == Weight.NOTE else confirmed.get(alike.row.code, "")
    if reason and reason not in alike.reasons:
        alike.reasons.append(reason)


def reasons_of(sample: Sample, rows: Iterable[FindingRow]) -> list[str]:
    """Why the group says that the readings of ``sample`` that ``rows`` doubt are right, each once."""
    codes = [row.code for row in rows if row.weight != Weight.NOTE and row.code in sample.confirmed]
    return list(dict.fromkeys(sample.confirmed[code] for code in codes))


@dataclass(frozen=True, slots=True)
class Mark:
    """A finding where it was found: its weight, a few words, and where the page says it in full."""

    weight: str
    title: str
    anchor: str


def marks(rows: Iterable[FindingRow]) -> list[Mark]:
    """Bars and cautions among ``rows``, the heaviest first, each cause once; notes are not marked."""
    pressing = sorted(
        (row for row in rows if row.weight != Weight.NOTE), key=lambda row: -Weight(row.weight).rank
    )
    unlike = {(row.code, row.weight): row for row in pressing}
    return [Mark(row.weight, title_of(row.code), Alike(row).anchor) for row in unlike.values()]
