"""How the reason of a clock is said: the limit, the conditions and the place of a row."""

from __future__ import annotations

from intake.rules.book import Conditions, KeepingRow, Rulebook
from intake.rules.holding import say_limit
from intake.rules.words import say_list


def say_row(row: KeepingRow, met: bool, book: Rulebook) -> tuple[str, str]:
    """What is said before and after the words for the start; only before, where nothing is due."""
    place = f"rulebook {book.name}, row {row.number}"
    if row.limit is None:
        return f"{row.ion}: no limit set, {place}", ""
    how = say_conditions(row.conditions) if met else "strictest limit as no row's conditions are met"
    return f"{row.ion}: {say_limit(row.limit, book)}", f"{how}, {place}"


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
