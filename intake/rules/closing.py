"""What a closed clock is called in a statement, and how much of its limit was used."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from math import ceil, floor

from intake.rules.holding import outcome
from intake.rules.judgement import Clock, ClockOutcome

NOT_MEASURED = "not measured"
#: Every word a statement may use for what became of an ion, the best first.
WORDS = (
    ClockOutcome.KEPT.value,
    ClockOutcome.LATE.value,
    ClockOutcome.GROSSLY_LATE.value,
    ClockOutcome.VOID.value,
    NOT_MEASURED,
)


def closing_word(clock: Clock, injected_at: datetime | None) -> str:
    """What became of ``clock`` by an injection at ``injected_at``; ``None``: there was none.

    Each value is judged on its own injection (common practice): a repeat outside the limit is
    outside, even if the first injection was inside.
    """
    if injected_at is None:
        return NOT_MEASURED
    return outcome(replace(clock, stopped_at=injected_at), injected_at).value


def share_used_percent(
    starts_at: datetime | None, due_at: datetime | None, injected_at: datetime | None
) -> float | None:
    """Share of the holding time that had passed at the injection, in per cent, one decimal.

    Rounded so that it never contradicts the outcome: late is never said as 100 %, in time never
    as more. ``None`` where one of the moments is unknown or the limit has no length.
    """
    if starts_at is None or due_at is None or injected_at is None or due_at <= starts_at:
        return None
    tenths = (injected_at - starts_at) / (due_at - starts_at) * 1000
    if injected_at > due_at:
        return max(ceil(round(tenths, 6)), 1001) / 10
    return min(floor(round(tenths, 6)), 1000) / 10


def tally(words: Iterable[str]) -> dict[str, int]:
    """How many ions came to which end, in the order of ``WORDS``; ends nobody came to are left out."""
    counted = dict.fromkeys(WORDS, 0)
    for word in words:
        counted[word] += 1
    return {word: count for word, count in counted.items() if count}
