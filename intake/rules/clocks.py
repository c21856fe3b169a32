"""The clocks of one bottle, each with its reason in one sentence."""

from __future__ import annotations

from datetime import datetime

from intake.rules.book import Conditions, KeepingRow, Limit, Rulebook
from intake.rules.earning import Case, Earned
from intake.rules.facts import BottleFacts
from intake.rules.holding import say_limit
from intake.rules.judgement import Clock
from intake.rules.words import say_list


def clocks(case: Case, lost: frozenset[str]) -> list[Clock]:
    """A clock for every ion asked, in the order of listing. ``lost`` ions get void ones."""
    bottle, start, injected = case.bottle, case.start, bool(case.bottle.injections)
    found = []
    for ion in case.asked:
        earned = case.earned.get(ion)
        row = earned.row if earned else None
        found.append(
            Clock(
                bottle.key,
                ion,
                start.at,
                row.limit if row else None,
                earned.due_at if earned else None,
                earned.grossly_late_at if earned else None,
                row.number if row else None,
                reason(ion, earned, case),
                start.assumed,
                stopped_at(bottle, ion) if injected else None,
                ion in lost,
            )
        )
    return found


def stopped_at(bottle: BottleFacts, ion: str) -> datetime | None:
    """The first injection that measures ``ion``; the start of analysis stops the clock.

    40 CFR 136.3 Table II footnote 4 (from memory); that the injection counts, not the start
    of the run, is common practice.
    """
    moments = [shot.at for shot in bottle.injections if not shot.ions or ion in shot.ions]
    return min(moments) if moments else None


def reason(ion: str, earned: Earned | None, case: Case) -> str:
    """Why the clock is due when it is."""
    book = case.book
    if earned is None:
        return f"{ion}: no row in rulebook {book.name}"
    row = earned.row
    if row.limit is None:
        return f"{ion}: no limit set, rulebook {book.name}, row {row.number}"
    limit, how = book.said.get(id(row)) or _say_row(row, row.limit, book)
    if not earned.met:
        how = f"strictest limit as no row's conditions are met, {_say_place(row, book)}"
    return f"{ion}: {limit} {case.start.words}, {how}"


def _say_row(row: KeepingRow, limit: Limit, book: Rulebook) -> tuple[str, str]:
    """The limit of a row, and its conditions and place; put together once a book."""
    said = (say_limit(limit, book), f"{say_conditions(row.conditions)}, {_say_place(row, book)}")
    book.said[id(row)] = said
    return said


def _say_place(row: KeepingRow, book: Rulebook) -> str:
    return f"rulebook {book.name}, row {row.number}"


def say_conditions(conditions: Conditions) -> str:
    """The conditions of a row in a few words: chilled and filtered."""
    words = []
    if conditions.frozen:
        words.append("frozen")
    elif conditions.max_c is not None:
        words.append("chilled")
    if conditions.filter_pore_max_um is not None or conditions.filtered_within_min is not None:
        words.append("filtered")
    if conditions.acid:
        words.append(f"with {say_list((acid.value for acid in conditions.acid), 'or')} acid")
    elif conditions.acid is not None:
        words.append("without acid")
    if conditions.containers:
        words.append(f"in {say_list((kind.value for kind in conditions.containers), 'or')}")
    if conditions.to_brim:
        words.append("filled to the brim")
    if conditions.chlorinated is not None:
        words.append("chlorinated" if conditions.chlorinated else "not chlorinated")
    if conditions.additive:
        words.append(f"with {conditions.additive}")
    return say_list(words) or "however kept"
