"""The one entry: facts and a rulebook in, findings, clocks and advice out."""

from __future__ import annotations

from collections.abc import Sequence
from operator import attrgetter

from intake.rules import (
    acid,
    acidifying,
    asking,
    collecting,
    contradictions,
    cooling,
    filling,
    filtering,
    grading,
    readings,
    receiving,
    strength,
    timing,
)
from intake.rules.book import Rulebook
from intake.rules.catalogue import LOST
from intake.rules.clocks import clocks
from intake.rules.earning import Terms, open_case
from intake.rules.facts import BottleFacts, SampleFacts
from intake.rules.holding import clock_start
from intake.rules.judgement import Advice, Clock, Finding, Judgement
from intake.rules.reached import water_of

_OF_ONE_BOTTLE = (
    asking.findings,
    filtering.findings,
    filling.findings,
    cooling.findings,
    acidifying.findings,
    grading.findings,
    contradictions.findings,
)
#: These read nothing but what came after sending.
_AFTER_SENDING = (receiving.findings, timing.findings)


def judge(sample: SampleFacts, bottles: Sequence[BottleFacts], book: Rulebook) -> Judgement:
    """Everything the rules have to say of ``sample`` and its ``bottles`` under ``book``.

    The same facts always give the same judgement, whatever the order of the bottles; no
    clock on any wall is read. Raises ``ValueError`` when two bottles share a key or the
    zone of the sample does not exist.
    """
    ordered = sorted(bottles, key=_by_key)
    keys = [bottle.key for bottle in ordered]
    if len(set(keys)) < len(keys):
        raise ValueError(f"Two bottles of sample {sample.key} share a key: {keys}")
    start = clock_start(sample)
    terms = Terms(start.at, sample.zone, book)
    cases = [open_case(sample, bottle, book, start, terms) for bottle in ordered]
    findings: list[Finding] = list(collecting.findings(sample, start, cases))
    findings += readings.findings(sample)
    due: list[Clock] = []
    advice: list[Advice] = []
    water = water_of(sample)
    for case in cases:
        of_bottle: list[Finding] = []
        for said in _OF_ONE_BOTTLE:
            of_bottle.extend(said(case))
        bottle = case.bottle
        if bottle.arrival is not None or bottle.seen is not None or bottle.injections:
            for said in _AFTER_SENDING:
                of_bottle.extend(said(case))
        findings += of_bottle
        of_acid, about_acid = acid.assess(sample, case.bottle, book, water)
        findings += of_acid
        advice += strength.advise(sample, case.bottle)
        advice += about_acid
        due += clocks(case, _lost(of_bottle) if of_bottle else _NOTHING)
    findings.sort(key=_by_weight)
    return Judgement(tuple(findings), tuple(due), tuple(advice))


_NOTHING: frozenset[str] = frozenset()
_by_key = attrgetter("key")


def _lost(findings: list[Finding]) -> frozenset[str]:
    """The ions that cannot be measured from the bottle of these findings."""
    return frozenset(ion for finding in findings if finding.code in LOST for ion in finding.ions)


def _by_weight(finding: Finding) -> tuple[str, int, str, str]:
    """Sample first, then bottle by bottle; within each the heaviest first."""
    return (finding.bottle, -finding.weight.rank, finding.code, finding.fact)
