"""What the run list says of each bottle: its dilution on that unit, the correction for its acid."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from django.utils.translation import gettext as _

from intake.actions.judging import BATCH, stored_facts
from intake.actions.results import dilutions_wanted
from intake.actions.storing import in_parts
from intake.models import AdviceRow, Bottle, Sample
from intake.rules.dilution import HAND_STEP, USUAL_STEPS, Dilution, UnitStrength, dilution_for
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
    """How each bottle is handled on its unit (``units`` by bottle key).

    By the strength rules; a bottle that is to be injected once more as was asked for.
    """
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
    measured = dilutions_wanted(wanted)
    found: dict[int, Handling] = {}
    for part in in_parts(samples, BATCH):
        for _sample, rows, its_facts, their_facts in stored_facts(part):
            for row, facts in zip(rows, their_facts, strict=True):
                if row.pk in wanted:
                    strength = UnitStrength(
                        steps=USUAL_STEPS, largest_automatic=units[row.pk].largest_dilution
                    )
                    (advice,) = advise(its_facts, facts, strength)
                    handling = _handling(dict(advice.figures), factors.get(row.pk, 1.0))
                    if row.next_dilution is not None:
                        handling = _repeated(handling, row.next_dilution, units[row.pk])
                    elif row.pk in measured:
                        handling = _diluted_again(handling, dilution_for(measured[row.pk], strength))
                    found[row.pk] = handling
    return found


def _repeated(handling: Handling, wanted: float, unit: Unit) -> Handling:
    """``handling`` of a repeat: diluted as it was asked for, by hand as far as the unit cannot."""
    by_hand = 1.0
    while wanted / by_hand > unit.largest_dilution:
        by_hand = min(by_hand * HAND_STEP, wanted)
    told = _by_hand(by_hand, wanted / by_hand)
    return replace(handling, dilution=wanted, remark="; ".join(part for part in (_("repeat"), told) if part))


def _handling(figures: Mapping[str, float], volume_factor: float) -> Handling:
    if "suggested_dilution" not in figures:
        return Handling(1.0, volume_factor, _("EC not known: measure it before choosing a dilution"))
    total, by_hand = figures["suggested_dilution"], figures["suggested_by_hand"]
    return Handling(total, volume_factor, _by_hand(by_hand, total / by_hand))


def _diluted_again(handling: Handling, measured: Dilution) -> Handling:
    """``handling`` once a value was found above the calibrated range: what was measured is held to."""
    told = _("above the range before")
    if handling.dilution >= measured.total:
        return replace(handling, remark="; ".join(part for part in (told, handling.remark) if part))
    by_hand = _by_hand(measured.by_hand, measured.automatic)
    return replace(
        handling, dilution=measured.total, remark="; ".join(part for part in (told, by_hand) if part)
    )


def _by_hand(by_hand: float, automatic: float) -> str:
    if by_hand <= 1:
        return ""
    if automatic > 1:
        told = _("first 1:%(by_hand)s by hand, then 1:%(automatic)s")
    else:
        told = _("first 1:%(by_hand)s by hand")
    return told % {"by_hand": say_number(by_hand), "automatic": say_number(automatic)}
