"""The two drawings of the help that are worked out: nitrate from acid, and the EC a pH allows."""

from __future__ import annotations

from dataclasses import dataclass
from math import log10

from intake.rules.dosing import nitrate_added_mg_l
from intake.rules.floor import ec_floor

#: Nitrate of a stream in farmland, mg/L; an example, no limit of anything.
STREAM_NITRATE_MG_L = 5.0
BAR_WIDTH = 330.0

#: Ends of the axes of the picture of pH and EC (µS/cm, drawn in powers of ten).
PH_ENDS = (2.0, 12.0)
EC_ENDS = (1.0, 10_000.0)
PLOT = (46.0, 16.0, 346.0, 196.0)


@dataclass(frozen=True, slots=True)
class NitrateBars:
    """Nitrate of a stream and of the same water after the dose, mg/L, with widths of their bars."""

    before_mg_l: float
    added_mg_l: float
    before_width: float
    after_width: float


def nitrate_bars(volume_ml: float, acid_ml: float, acid_mol_l: float) -> NitrateBars:
    """What the usual dose does to nitrate in a bottle of ``volume_ml``."""
    added = nitrate_added_mg_l(volume_ml, acid_ml, acid_mol_l)
    share = STREAM_NITRATE_MG_L / (STREAM_NITRATE_MG_L + added)
    return NitrateBars(STREAM_NITRATE_MG_L, round(added), round(BAR_WIDTH * share, 1), BAR_WIDTH)


@dataclass(frozen=True, slots=True)
class FloorCurve:
    """The lowest EC that a pH allows: a filled path below it, its line, and the places of ticks."""

    line: str
    below: str
    ph_ticks: tuple[tuple[float, str], ...]
    ec_ticks: tuple[tuple[float, str], ...]
    slip: tuple[float, float]


def _across(ph: float) -> float:
    left, _top, right, _bottom = PLOT
    return round(left + (ph - PH_ENDS[0]) / (PH_ENDS[1] - PH_ENDS[0]) * (right - left), 1)


def _down(ec_us_cm: float) -> float:
    _left, top, _right, bottom = PLOT
    low, high = log10(EC_ENDS[0]), log10(EC_ENDS[1])
    share = (min(max(log10(ec_us_cm), low), high) - low) / (high - low)
    return round(bottom - share * (bottom - top), 1)


def floor_curve() -> FloorCurve:
    """The picture of pH and EC at 25 °C, from the same function that judges readings."""
    steps = [PH_ENDS[0] + index / 10 for index in range(int((PH_ENDS[1] - PH_ENDS[0]) * 10) + 1)]
    points = " ".join(f"{_across(ph)},{_down(ec_floor(ph, 25.0))}" for ph in steps)
    left, _top, right, bottom = PLOT
    return FloorCurve(
        line=points,
        below=f"{left},{bottom} {points} {right},{bottom}",
        ph_ticks=tuple((_across(ph), f"{ph:.0f}") for ph in (2, 4, 6, 8, 10, 12)),
        ec_ticks=tuple((_down(ec), f"{ec:,.0f}") for ec in (1, 10, 100, 1000, 10_000)),
        slip=(_across(3.0), _down(30.0)),
    )
