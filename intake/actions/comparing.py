"""Which clocks of waiting bottles would move under another version of their rulebook."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from intake.actions.judging import rulebook_of, stored_facts
from intake.models import Bottle, RulebookVersion, Sample, User
from intake.rules.judge import judge
from intake.states import WAITING


@dataclass(frozen=True, slots=True)
class MovedClock:
    """One clock with its due moment under either version; ``None`` where a version sets none."""

    bottle: Bottle
    ion: str
    old_due_at: datetime | None
    new_due_at: datetime | None
    reason: str


def moved_clocks(old: RulebookVersion, new: RulebookVersion, *, seen_by: User) -> list[MovedClock]:
    """Clocks of bottles that wait under ``old`` and would be due at another moment under ``new``."""
    samples = (
        Sample.objects.visible_to(seen_by)
        .filter(consignment__rulebook=old, bottles__state__in=WAITING)
        .select_related("consignment__rulebook", "consignment__group")
        .distinct()
        .order_by("pk")
    )
    before, after = rulebook_of(old), rulebook_of(new)
    moved: list[MovedClock] = []
    for sample, bottles, its_facts, their_facts in stored_facts(samples):
        waiting = {str(bottle.pk): bottle for bottle in bottles if bottle.state in WAITING}
        was = {
            (clock.bottle, clock.ion): clock.due_at for clock in judge(its_facts, their_facts, before).clocks
        }
        for clock in judge(its_facts, their_facts, after).clocks:
            due_at = was[clock.bottle, clock.ion]
            if clock.bottle in waiting and clock.due_at != due_at:
                bottle = waiting[clock.bottle]
                bottle.sample = sample
                moved.append(MovedClock(bottle, clock.ion, due_at, clock.due_at, clock.reason))
    return moved
