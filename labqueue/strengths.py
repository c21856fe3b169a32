"""What the run list says of each bottle: its dilution on that unit, the correction for its acid."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from intake.actions.judging import BATCH, stored_facts
from intake.models import AdviceRow, Bottle, Sample
from intake.rules.dilution import USUAL_STEPS, UnitStrength
from intake.rules.strength import advise
from intake.rules.words import say_number
from labqueue.models import Unit


@dataclass(frozen=True, slots=True)
class Handling:
    """``dilution`` 5 means five times the volume; ``volume_factor`` corrects for acid added."""

    dilution: float = 1.0
    volume_factor: float = 1.0
    remark: str = ""


def handling_of(bottles: Iterable[Bottle], units: Mapping[int, Unit]) -> dict[int, Handling]:
    """How each bottle is handled on its unit (``units`` by bottle key), by the strength rules."""
    wanted = {bottle.pk for bottle in bottles}
    samples = list(
        Sample.objects.filter(bottles__in=wanted).select_related("consignment").distinct().order_by("pk")
    )
    factors = {
        bottle: figures.get("volume_factor", 1.0)
        for bottle, figures in AdviceRow.objects.filter(
            bottle__in=wanted, code="acid.volume_factor"
        ).values_list("bottle_id", "figures")
    }
    found: dict[int, Handling] = {}
    for start in range(0, len(samples), BATCH):
        for _sample, rows, its_facts, their_facts in stored_facts(samples[start : start + BATCH]):
            for row, facts in zip(rows, their_facts, strict=True):
                if row.pk in wanted:
                    strength = UnitStrength(
                        steps=USUAL_STEPS, largest_automatic=units[row.pk].largest_dilution
                    )
                    (advice,) = advise(its_facts, facts, strength)
                    found[row.pk] = _handling(dict(advice.figures), factors.get(row.pk, 1.0))
    return found


def _handling(figures: Mapping[str, float], volume_factor: float) -> Handling:
    if "suggested_dilution" not in figures:
        return Handling(1.0, volume_factor, "EC not known: measure it before choosing a dilution")
    total, by_hand = figures["suggested_dilution"], figures["suggested_by_hand"]
    remark = ""
    if by_hand > 1:
        remark = f"first 1:{say_number(by_hand)} by hand, then 1:{say_number(total / by_hand)}"
    return Handling(total, volume_factor, remark)
