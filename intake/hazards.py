"""What people who handle or discard a bottle must beware of, as far as anybody declared it.

Usual cautions only (common practice): the rules of the laboratory, local codes and licensed
practice come first, and the sentences say so.
"""

from __future__ import annotations

from django.utils.translation import gettext as _

from intake.models import Bottle, Sample
from intake.rules.facts import AcidKind, Line, WaterKind
from intake.rules.words import say_number

#: Waters that may hold germs, metals or solvents even where nobody said so. Common practice.
DOUBTFUL_WATERS = (WaterKind.WASTE, WaterKind.MINE_DRAINAGE)


def caution() -> str:
    """What is usual with water of which something is declared."""
    return _(
        "Gloves, goggles and coat on; open it away from your face and keep it apart from other bottles. "
        "The rules of your laboratory and local codes come first."
    )


def declared_hazards(sample: Sample) -> list[str]:
    """What the group said of the water, a sentence each; empty where it said nothing."""
    said = []
    if sample.hazards:
        said.append(_("Declared: %(hazards)s.") % {"hazards": sample.hazards.rstrip(".")})
    if sample.water_kind in DOUBTFUL_WATERS:
        said.append(_("Kind of water: %(kind)s.") % {"kind": sample.get_water_kind_display()})
    return said


def hazards_of(bottle: Bottle) -> list[str]:
    """What is or may be in one bottle: what the group said of its water, acid, preservative."""
    said = [*declared_hazards(bottle.sample), *_preserved(bottle)]
    acid = _acid(bottle)
    return [*said, acid] if acid else said


def hazards_at_the_desk(bottle: Bottle) -> list[str]:
    """As ``hazards_of``, without the acid: what belongs into the bottle has its own caution there."""
    return [*declared_hazards(bottle.sample), *_preserved(bottle)]


def _preserved(bottle: Bottle) -> list[str]:
    return [_("Preservative: %(name)s.") % {"name": bottle.additive.rstrip(".")}] if bottle.additive else []


def _acid(bottle: Bottle) -> str:
    if bottle.acid_kind and bottle.acid_kind != AcidKind.NONE:
        strength = "" if bottle.acid_mol_l is None else f" {say_number(bottle.acid_mol_l)} mol/L"
        return _("Acid: %(kind)s.") % {"kind": f"{bottle.get_acid_kind_display()}{strength}"}
    if bottle.acidified:
        return _("Acid of a kind not stated.")
    return _("It may hold acid added here.") if bottle.line == Line.CATION else ""
