"""What was declared of a bottle beside what reception saw of it."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from intake.models import BenchCheck, Bottle
from intake.phrasebook import said
from intake.rules.facts import AcidKind
from intake.rules.words import say_number


@dataclass(frozen=True, slots=True)
class Compared:
    """One property of a bottle. ``differs`` says that what was seen contradicts the declaration."""

    name: str
    declared: str
    seen: str
    differs: bool = False


def _said(value: bool | None, no: str, yes: str) -> str:
    return "" if value is None else (yes if value else no)


def _both(name: str, declared: bool | None, seen: bool | None, no: str, yes: str) -> Compared:
    return Compared(
        name,
        _said(declared, no, yes),
        _said(seen, no, yes),
        declared is not None and seen is not None and declared is not seen,
    )


def _figure(value: float | None, unit: str) -> str:
    return "" if value is None else f"{say_number(value)}\N{NO-BREAK SPACE}{unit}"


def _acid_named(kind: str) -> str:
    if kind in ("", AcidKind.OTHER):
        return _("other acid") if kind else _("unknown acid")
    return _("%(kind)s acid") % {"kind": said(kind)}


def acid_declared(bottle: Bottle) -> str:
    """The acid as the submitter stated it, in words."""
    if bottle.acidified is None and not bottle.acid_kind:
        return ""
    if bottle.acidified is False or bottle.acid_kind == "none":
        return _("no acid")
    strength = _figure(bottle.acid_mol_l, "mol/L")
    parts = [_figure(bottle.acid_ml, "mL"), strength, _acid_named(bottle.acid_kind)]
    return " ".join(part for part in parts if part)


def filter_declared(bottle: Bottle) -> str:
    """The filter as the submitter stated it, in words."""
    if bottle.filter_pore_um is None:
        return ""
    if bottle.filter_pore_um == 0:
        return _("not filtered")
    return f"{_figure(bottle.filter_pore_um, 'µm')} {bottle.get_filter_membrane_display()}".strip()


def _strip(check: BenchCheck | None) -> str:
    if check is None or check.ph_low is None:
        return ""
    if check.ph_high is None or check.ph_high == check.ph_low:
        return f"pH {say_number(check.ph_low)}"
    return f"pH {say_number(check.ph_low)} {_('to')} {say_number(check.ph_high)}"


def _added(check: BenchCheck | None) -> str:
    if check is None or check.acid_added_ml is None:
        return ""
    strength = _figure(check.acid_added_mol_l, "mol/L")
    return f"{_figure(check.acid_added_ml, 'mL')} {strength} {_('added here')}".replace("  ", " ")


def compared(bottle: Bottle, check: BenchCheck | None) -> list[Compared]:
    """Property by property; empty text means that nobody stated or looked at it."""
    seen = check or BenchCheck()
    warm = _both(_("Cold"), bottle.chilled, seen.cold, _("not cold"), _("cold"))
    measured = _figure(seen.temperature_c, "°C")
    return [
        Compared(warm.name, warm.declared, ", ".join(filter(None, (warm.seen, measured))), warm.differs),
        _both(_("Frozen"), bottle.frozen, seen.frozen, _("liquid"), _("frozen")),
        _both(
            _("Fill"),
            bottle.to_brim,
            None if seen.headspace is None else not seen.headspace,
            _("air over the water"),
            _("to the brim"),
        ),
        Compared(_("Acid"), acid_declared(bottle), ", ".join(filter(None, (_strip(check), _added(check))))),
        Compared(_("Filter"), filter_declared(bottle), _said(seen.cloudy, _("clear"), _("cloudy"))),
        Compared(_("Bottle"), bottle.get_container_display(), _condition(seen)),
        Compared(
            _("Label"),
            bottle.sample.own_id,
            _said(seen.label_matches, _("unlike the list"), _("agrees")),
            seen.label_matches is False,
        ),
        Compared(_("Volume"), _figure(bottle.volume_ml, "mL"), ""),
    ]


def _condition(seen: BenchCheck) -> str:
    parts = (_said(seen.broken, _("whole"), _("broken")), _said(seen.leaking, _("dry"), _("leaking")))
    return ", ".join(part for part in parts if part)
