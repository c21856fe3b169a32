"""What the tables of cases need: the house rulebook and a quick way to say what differs."""

from __future__ import annotations

from datetime import datetime, timedelta

from intake.rules.examples import ANION, CATION, COLLECTED, SAMPLE, example
from intake.rules.facts import AcidKind, BottleFacts
from intake.rules.judge import judge
from intake.rules.judgement import Judgement
from intake.shipped import shipped_book

HOUSE = shipped_book("house")

NO_ACID = {
    "acidified": False,
    "acid_kind": AcidKind.NONE,
    "acid_ml": None,
    "acid_mol_l": None,
    "acid_at": None,
}
NITRIC = {"acidified": True, "acid_kind": AcidKind.NITRIC, "acid_ml": 0.5, "acid_mol_l": 1}

__all__ = ["ANION", "CATION", "HOUSE", "NITRIC", "NO_ACID", "SAMPLE", "after", "judged", "raised", "rows"]


def after(hours: float = 0, minutes: float = 0, days: float = 0) -> datetime:
    """A moment that long after the collection of the well-kept sample."""
    return COLLECTED + timedelta(days=days, hours=hours, minutes=minutes)


def judged(book: object = None, **changes: dict) -> Judgement:
    """The well-kept sample with ``changes``, judged by ``book`` (the house rulebook)."""
    case = example(**changes)
    return judge(case.sample, case.bottles, book or HOUSE)


def raised(judgement: Judgement, *, chemistry: bool = False) -> dict[str, tuple[str, ...]]:
    """The codes of the findings with the ions they name; chemistry's only when asked."""
    mine = ("reading.", "strength.", "dose.")
    return {
        finding.code: finding.ions
        for finding in judgement.findings
        if chemistry or not finding.code.startswith(mine)
    }


def rows(judgement: Judgement, bottle: BottleFacts | str) -> dict[str, int | None]:
    """The row each ion of one bottle earned."""
    key = bottle if isinstance(bottle, str) else bottle.key
    return {clock.ion: clock.row for clock in judgement.clocks if clock.bottle == key}
