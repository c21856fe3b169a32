"""From worst cases to a dilution: the unit's ladder, its calibration tops, known matrices."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise
from math import isfinite
from types import MappingProxyType

from intake.rules.bounds import AMMONIUM_USEFUL_TO_PH, BOUNDS, Bound, load_meq_l, worst_of
from intake.rules.facts import Line, WaterKind
from intake.rules.species import SPECIES

#: Steps of a usual autodilution; common practice.
USUAL_STEPS: tuple[float, ...] = (1, 2, 5, 10, 20, 50, 100, 200)

#: Highest calibration points in mg/L that a usual unit is set to; a house choice near the
#: ranges EPA 300.0 (anions) and ASTM D6919 (cations, extended by dilution) tested. The minor
#: ions stay without: their worst case is about eleven times too high to plan by, and a lab
#: that wants them to count states a top for them.
USUAL_TOPS: Mapping[str, float] = MappingProxyType(
    {
        "chloride": 100.0,
        "nitrate": 100.0,
        "sulfate": 100.0,
        "sodium": 100.0,
        "calcium": 100.0,
        "potassium": 50.0,
        "magnesium": 50.0,
        "ammonium": 40.0,
    }
)

#: One step of a dilution by hand, common practice.
HAND_STEP = 10.0


@dataclass(frozen=True, slots=True)
class UnitStrength:
    """What one unit can take: dilutions, calibration tops, its largest automatic dilution.

    ``steps`` rise and begin with 1. ``largest_automatic`` ``None``: the whole ladder. Raises
    ``ValueError`` for a ladder that does not rise, a top that is not above zero.
    """

    steps: tuple[float, ...] = USUAL_STEPS
    tops_mg_l: Mapping[str, float] = field(default_factory=lambda: USUAL_TOPS)
    largest_automatic: float | None = None

    def __post_init__(self) -> None:
        rising = all(low < high for low, high in pairwise(self.steps))
        if not self.steps or self.steps[0] != 1 or not rising:
            raise ValueError("the steps of a dilution ladder begin with 1 and rise")
        if not all(isfinite(top) and top > 0 for top in self.tops_mg_l.values()):
            raise ValueError("a calibration top is a number of mg/L above zero")
        if self.largest_automatic is not None and not self.largest_automatic >= 1:
            raise ValueError("the largest automatic dilution is at least 1")

    @property
    def automatic(self) -> tuple[float, ...]:
        """The steps the unit does by itself."""
        if self.largest_automatic is None:
            return self.steps
        return tuple(step for step in self.steps if step <= self.largest_automatic)


USUAL_UNIT = UnitStrength()


@dataclass(slots=True)
class Dilution:
    """A dilution in two parts: by hand first (1: none), then by the unit."""

    by_hand: float
    automatic: float

    @property
    def total(self) -> float:
        return self.by_hand * self.automatic


def dilution_step(need: float, steps: Iterable[float] = USUAL_STEPS) -> float | None:
    """Smallest step of the ladder that is at least ``need`` (concentration over top).

    Exactly at the top needs no further step. ``None`` beyond the ladder.
    """
    for step in steps:
        if need <= step:
            return step
    return None


def dilution_for(need: float, unit: UnitStrength = USUAL_UNIT) -> Dilution:
    """The dilution that brings ``need`` times the top down to the top.

    Beyond what the unit does by itself, as many 1:10 by hand first as it takes. ``need`` is a
    finite number, else ``ValueError``.
    """
    if not isfinite(need):
        raise ValueError("a dilution needs a finite number")
    by_hand, steps = 1.0, unit.automatic
    automatic = dilution_step(need, steps)
    while automatic is None:
        by_hand *= HAND_STEP
        automatic = dilution_step(need / by_hand, steps)
    return Dilution(by_hand, automatic)


@dataclass(frozen=True, slots=True)
class Matrix:
    """A declared kind of water whose main ions are known per µS/cm of EC25, in mg/L.

    ``usual_ec`` stands in where no EC was measured; ``from_ec`` is the EC25 from which on the
    kind is this matrix at all.
    """

    name: str
    mg_l_per_us_cm: Mapping[str, float]
    usual_ec: float | None
    from_ec: float = 0.0

    def load_meq_l(self, ec25: float) -> float:
        """Sum of its cations or anions in meq/L at this EC25, whichever of the two is larger."""
        sums = {True: 0.0, False: 0.0}
        for ion, factor in self.mg_l_per_us_cm.items():
            sums[SPECIES[ion].charge > 0] += factor / SPECIES[ion].equivalent_mass
        return max(sums.values()) * ec25


#: Seawater: chloride 0.29 to 0.375 mg/L per µS/cm from salinity 2 to 35 (computed with TEOS-10);
#: the other ions follow chloride as in the reference composition of seawater (from memory).
_SEA_CHLORIDE = 0.375
_SEA_MG_PER_MG_CHLORIDE = {
    "chloride": 1.0, "sulfate": 0.1402, "bromide": 0.00348, "fluoride": 0.0000672,
    "sodium": 0.5572, "magnesium": 0.0664, "calcium": 0.0213, "potassium": 0.0206,
}  # fmt: skip
#: Saturated sodium chloride: 251 300 µS/cm (read, meter manual) at 5.4 mol/L (from memory), so
#: 46 µS/cm per meq/L, the least any sodium chloride brine has.
_BRINE_EC, _BRINE_PER_MEQ = 251_300.0, 46.0
#: 1 mol/L potassium chloride: 111 300 µS/cm (read, meter manual); weaker ones conduct more per mole.
_EXTRACT_EC, _EXTRACT_PER_MEQ = 111_300.0, 111.3
#: Extracts from this EC25 on are taken for salt extracts, a house choice: 0.2 mol/L potassium
#: chloride has 24 800 µS/cm, 0.01 mol/L calcium chloride 2500.
_EXTRACT_FROM_EC = 20_000.0

MATRICES: Mapping[WaterKind, Matrix] = MappingProxyType(
    {
        WaterKind.SEA: Matrix(
            "seawater",
            {ion: _SEA_CHLORIDE * share for ion, share in _SEA_MG_PER_MG_CHLORIDE.items()},
            53_071.0,  # salinity 35 at 25 °C, TEOS-10
        ),
        WaterKind.BRINE: Matrix(
            "sodium chloride brine",
            {ion: SPECIES[ion].molar_mass / _BRINE_PER_MEQ for ion in ("chloride", "sodium")},
            _BRINE_EC,
        ),
        WaterKind.SOIL_EXTRACT: Matrix(
            "1 mol/L potassium chloride extract",
            {ion: SPECIES[ion].molar_mass / _EXTRACT_PER_MEQ for ion in ("chloride", "potassium")},
            None,
            _EXTRACT_FROM_EC,
        ),
    }
)

#: Ions that fill the column of a line whether anybody asked for them or not.
_MAIN_IONS: Mapping[Line, frozenset[str]] = MappingProxyType(
    {
        Line.ANION: frozenset({"chloride", "nitrate", "sulfate"}),
        Line.CATION: frozenset({"sodium", "magnesium", "calcium"}),
    }
)


@dataclass(slots=True)
class Strength:
    """What a bottle's ions can come to, mg/L by ion, and what that asks of a unit.

    ``need`` is the largest concentration over its top, ``driver`` the ion it comes from and
    ``driver_mg_l`` that concentration. ``ec25`` in µS/cm is what was reckoned with,
    ``load_meq_l`` the estimated sum of cations. ``matrix`` names a declared matrix, whose
    figures are known and not halved.
    """

    most_mg_l: list[tuple[str, float]]
    driver: str
    driver_mg_l: float
    need: float
    ec25: float
    load_meq_l: float
    matrix: str = ""

    def suggested(self, unit: UnitStrength = USUAL_UNIT) -> Dilution:
        """Half of the worst case: too small once in 68 computed runs, often exactly right."""
        return dilution_for(self.need if self.matrix else self.need / 2.0, unit)

    def column_safe(self, unit: UnitStrength = USUAL_UNIT) -> Dilution:
        """The full worst case: never too small in 68 computed runs, median four times too large."""
        return dilution_for(self.need, unit)


def matrix_of(kind: WaterKind, ec25: float | None) -> tuple[Matrix, float] | None:
    """The matrix a declared kind stands for and the EC25 to scale it with, if it is one."""
    matrix = MATRICES.get(kind)
    if matrix is None:
        return None
    strength = matrix.usual_ec if ec25 is None else ec25
    if strength is None or strength < matrix.from_ec:
        return None
    return matrix, strength


def strength_of(
    ions: frozenset[str],
    line: Line,
    ec25: float | None,
    ph: float | None,
    kind: WaterKind = WaterKind.UNKNOWN,
    unit: UnitStrength = USUAL_UNIT,
) -> Strength | None:
    """The worst case of a bottle, or ``None`` when neither EC nor the kind of water tells.

    The asked ions that have a top decide; where none has, the main ions of the line do,
    since the column meets them all the same.
    """
    declared = matrix_of(kind, ec25)
    if declared is not None:
        return _of_matrix(ions, line, *declared, unit)
    if ec25 is None:
        return None
    worst = worst_of(ec25, ph)
    asked = _bounds_of(ions)
    if ph is not None and ph > AMMONIUM_USEFUL_TO_PH:
        asked = tuple(bound for bound in asked if bound.ion != "ammonium")
    most = worst.all_mg_l(asked)
    driver, amount, need = _largest(most, unit)
    if not driver:
        driver, amount, need = _largest(worst.all_mg_l(_bounds_of(_MAIN_IONS[line])), unit)
    return Strength(most, driver, amount, need, ec25, load_meq_l(ec25, ph))


@lru_cache(maxsize=512)
def _bounds_of(ions: frozenset[str]) -> tuple[Bound, ...]:
    """The bounds of these ions by name; ions without one are left out."""
    return tuple(BOUNDS[ion] for ion in sorted(ions) if ion in BOUNDS)


def _of_matrix(ions: frozenset[str], line: Line, matrix: Matrix, ec25: float, unit: UnitStrength) -> Strength:
    of_line = [
        (ion, factor * ec25)
        for ion, factor in matrix.mg_l_per_us_cm.items()
        if (SPECIES[ion].charge < 0) is (line is Line.ANION)
    ]
    most = [(ion, amount) for ion, amount in of_line if ion in ions]
    driver, amount, need = _largest(most, unit)
    if not driver:
        driver, amount, need = _largest(of_line, unit)
    return Strength(most, driver, amount, need, ec25, matrix.load_meq_l(ec25), matrix.name)


def _largest(amounts: Iterable[tuple[str, float]], unit: UnitStrength) -> tuple[str, float, float]:
    """The ion that asks for the largest dilution, its concentration, and that over its top."""
    driver, most, need = "", 0.0, 0.0
    tops = unit.tops_mg_l
    for ion, amount in amounts:
        top = tops.get(ion)
        if top is not None and amount > need * top:
            driver, most, need = ion, amount, amount / top
    return driver, most, need
