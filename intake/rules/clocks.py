"""The clocks of one bottle, each with its reason in one sentence."""

from __future__ import annotations

from datetime import datetime

from intake.rules.earning import Case
from intake.rules.facts import BottleFacts
from intake.rules.judgement import Clock


def clocks(case: Case, lost: frozenset[str]) -> list[Clock]:
    """A clock for every ion asked, in the order of listing. ``lost`` ions get void ones."""
    bottle, start, book, all_earned = case.bottle, case.start, case.book, case.earned
    key, starts_at, words, injected = bottle.key, start.at, start.words, bool(bottle.injections)
    terms = {id(limit): case.terms.of(limit) for limit in case.limits}
    found = []
    for ion in case.asked:
        stopped = stopped_at(bottle, ion) if injected else None
        earned = all_earned.get(ion)
        if earned is None:
            why = f"{ion}: no row in rulebook {book.name}"
            clock = Clock(
                key, ion, starts_at, None, None, None, None, why, start.assumed, stopped, ion in lost
            )
        else:
            row = earned.row
            limit = row.limit
            term = terms[id(limit)]
            why = f"{earned.told} {words}, {earned.why}" if earned.why else earned.told
            due, gross = term.due_at, term.grossly_late_at
            clock = Clock(
                key, ion, starts_at, limit, due, gross, row.number, why, start.assumed, stopped, ion in lost
            )
        found.append(clock)
    return found


def stopped_at(bottle: BottleFacts, ion: str) -> datetime | None:
    """The first injection that measures ``ion``; the start of analysis stops the clock.

    40 CFR 136.3 Table II footnote 4 (from memory); that the injection counts, not the start
    of the run, is common practice.
    """
    moments = [shot.at for shot in bottle.injections if not shot.ions or ion in shot.ions]
    return min(moments) if moments else None
