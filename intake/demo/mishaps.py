"""What goes wrong in the field and on the way: each turns a sound sample into a faulty one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from zoneinfo import ZoneInfo

from intake.actions.entries import BottleEntry, SampleEntry
from intake.rules.facts import AcidKind, Container, Line, Precision

Mishap = Callable[[SampleEntry], SampleEntry]


def on_line(line: Line, **changes: object) -> Mishap:
    """Change facts of the bottle for ``line``."""

    def spoil(entry: SampleEntry) -> SampleEntry:
        bottles = tuple(
            replace(bottle, **changes) if bottle.line == line else bottle for bottle in entry.bottles
        )
        return replace(entry, bottles=bottles)

    return spoil


def on_sample(**changes: object) -> Mishap:
    """Change facts of the sample itself."""
    return lambda entry: replace(entry, **changes)


def date_only(zone: str) -> Mishap:
    """The day was noted, the time was not: the start of that local day."""

    def spoil(entry: SampleEntry) -> SampleEntry:
        local = entry.collected_at.astimezone(ZoneInfo(zone))
        midnight = local.replace(hour=0, minute=0, second=0, microsecond=0)
        return replace(entry, collected_at=midnight, precision=Precision.DATE)

    return spoil


def no_time(entry: SampleEntry) -> SampleEntry:
    """Nobody noted when the water was taken."""
    return replace(entry, collected_at=None, precision=Precision.UNKNOWN)


def millisiemens_typed_as_micro(entry: SampleEntry) -> SampleEntry:
    """The meter showed mS/cm; its figure was typed into a field in µS/cm."""
    return replace(entry, ec_value=round((entry.ec_value or 0) / 1000, 3))


def acid_in_the_anion_bottle(entry: SampleEntry) -> SampleEntry:
    """Nitric acid went into the wrong bottle: it adds nitrate and there is none in the other."""
    swapped = tuple(_swap_acid(bottle, entry.bottles) for bottle in entry.bottles)
    return replace(entry, bottles=swapped)


ACID_FIELDS = ("acidified", "acid_kind", "acid_grade", "acid_mol_l", "acid_ml", "acid_at")


def _swap_acid(bottle: BottleEntry, bottles: tuple[BottleEntry, ...]) -> BottleEntry:
    other = next(one for one in bottles if one.line != bottle.line)
    return replace(bottle, **{name: getattr(other, name) for name in ACID_FIELDS})


def composite(hours: float) -> Mishap:
    """Not a mishap: water gathered over a period; its clocks start at the end."""

    def over_period(entry: SampleEntry) -> SampleEntry:
        began = entry.collected_at - timedelta(hours=hours)
        return replace(entry, collection="composite", collection_began_at=began)

    return over_period


no_acid = on_line(
    Line.CATION,
    acidified=False,
    acid_kind=AcidKind.NONE,
    acid_grade="",
    acid_mol_l=None,
    acid_ml=None,
    acid_at=None,
)
half_full = on_line(Line.ANION, to_brim=False, volume_ml=22)
coarse_filter = on_line(Line.ANION, filter_pore_um=1.2)
unfiltered = on_line(Line.ANION, filter_pore_um=0, filter_membrane="", filtered_at=None)
not_chilled = on_line(Line.ANION, chilled=False, chilled_at=None)
in_glass = on_line(Line.ANION, container=Container.GLASS)
sulfuric_acid = on_line(Line.CATION, acid_kind=AcidKind.SULFURIC, acid_grade="")
readings_left_out = on_sample(ph=None, ec_value=None, water_temperature_c=None)
