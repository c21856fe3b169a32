"""Ion load from EC, and the most of one ion that EC allows.

Both are for planning a dilution, never for refusing a sample.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import log
from types import MappingProxyType

from intake.rules.species import SPECIES

#: Conductivities that the free acid and base take out of EC with their usual counter-ion:
#: H+ 349.65 + 75, OH- 198 + 50 (conductivities as in the table of species).
_ACID_PAIR = 424.65
_BASE_PAIR = 248.0

#: The load is shown with this band. Computed against PHREEQC speciation: -12 to +27 %, waters
#: rich in calcium and magnesium sulfate, carbonate or metals -21 to -53 %.
LOAD_BAND = 0.30

#: EC25 at which the safe conductivities below are listed, µS/cm; between them ln EC counts.
SAFE_NODES: tuple[float, ...] = (100.0, 1000.0, 10_000.0, 60_000.0, 120_000.0)

#: Smallest conductivity per meq/L of a water whose charge of one sign is all this ion, with
#: its slowest natural partner, paired as PHREEQC says, 10 % in reserve, rounded down.
#: Computed for this purpose: 269 bounds on 34 waters with EC read 5 % low, none too small;
#: 41 477 on random mixtures, 3 too small (magnesium and calcium at the edge of solubility).
SAFE_CONDUCTIVITY: Mapping[str, tuple[float, float, float, float, float]] = MappingProxyType(
    {
        "chloride": (110.0, 103.0, 85.0, 75.0, 70.0),
        "bromide": (110.0, 103.0, 85.0, 75.0, 60.0),
        "nitrate": (105.0, 100.0, 82.0, 55.0, 42.0),
        "nitrite": (104.0, 92.0, 70.0, 60.0, 60.0),
        "sulfate": (105.0, 70.0, 30.0, 16.0, 16.0),
        "fluoride": (88.0, 80.0, 70.0, 56.0, 56.0),
        "phosphate": (75.0, 53.0, 50.0, 45.0, 45.0),
        "bicarbonate": (82.0, 70.0, 50.0, 25.0, 25.0),
        "sodium": (83.0, 76.0, 59.0, 25.0, 25.0),
        "potassium": (104.0, 100.0, 88.0, 68.0, 52.0),
        "ammonium": (99.0, 95.0, 82.0, 53.0, 40.0),
        "magnesium": (83.0, 70.0, 30.0, 16.0, 16.0),
        "calcium": (87.0, 72.0, 56.0, 56.0, 56.0),
        "lithium": (73.0, 69.0, 52.0, 27.0, 27.0),
    }
)

#: Conductivity per meq/L that free acid and base surely take, in waters whose anions or
#: cations are asked for, and the share of EC that is always left; computed with the table.
_ANION_ACID, _ANION_BASE = 270.0, 170.0
_CATION_ACID, _CATION_BASE = 350.0, 120.0
_ALWAYS_LEFT = 0.02
#: Allowed error of the pH in these bounds.
_PH_TOLERANCE = 0.2

#: pK at 25 °C of the acids whose uncharged form EC cannot see, textbook values, from memory.
_PK_OF_ACID = {"fluoride": 3.17, "nitrite": 3.3, "phosphate": 2.15}
_PK_AMMONIUM = 9.25
_HYDROGEN_SULFATE: float = 10.0**1.988

#: Above this pH the bound for ammonium is of no use.
AMMONIUM_USEFUL_TO_PH = 10.0

#: Without a pH the uncharged share is counted at the far ends of ordinary waters, pH 5 and 9,
#: as activities of the hydrogen ion with the tolerance on top.
_ASSUMED_HIGH: float = 10.0 ** (_PH_TOLERANCE - 5.0)
_ASSUMED_LOW: float = 10.0 ** (-_PH_TOLERANCE - 9.0)
_TOLERANCE_BOTH_WAYS: float = 10.0 ** (-2.0 * _PH_TOLERANCE)

_LOG_NODES = tuple(log(node) for node in SAFE_NODES)
_LOG_STEPS = tuple(after - before for before, after in pairwise(_LOG_NODES))


@dataclass(frozen=True, slots=True)
class Bound:
    """What the bound of one ion needs, worked out once.

    ``molecule`` times the hydrogen ion activity is uncharged over charged of a weak acid;
    ``base`` over it the same of ammonium; ``hides`` marks ions of which a share carries less
    charge than counted: these, and sulfate for hydrogen sulfate.
    """

    ion: str
    safe: tuple[float, ...]
    anion: bool
    equivalent_mass: float
    molecule: float
    base: float
    hides: bool


def _bound(ion: str, safe: tuple[float, ...]) -> Bound:
    # EC sees phosphate as H2PO4-, one charge; its mass is stated as PO4.
    mass = SPECIES[ion].molar_mass if ion == "phosphate" else SPECIES[ion].equivalent_mass
    molecule: float = 10.0 ** _PK_OF_ACID[ion] if ion in _PK_OF_ACID else 0.0
    base: float = 10.0**-_PK_AMMONIUM if ion == "ammonium" else 0.0
    hides = bool(molecule or base) or ion == "sulfate"
    return Bound(ion, safe, SPECIES[ion].charge < 0, mass, molecule, base, hides)


BOUNDS: Mapping[str, Bound] = MappingProxyType(
    {ion: _bound(ion, safe) for ion, safe in SAFE_CONDUCTIVITY.items()}
)


@lru_cache(maxsize=64)
def load_meq_l(ec25: float, ph: float | None) -> float:
    """Sum of cations (equal to the sum of anions) in meq/L, estimated from EC25 and pH.

    The EC/100 rule with the share of free acid or base taken out; see ``LOAD_BAND``.
    """
    hydrogen: float = 10.0 ** (3.0 - ph) if ph is not None and ph < 6.0 else 0.0
    hydroxide: float = 10.0 ** (ph - 11.0) if ph is not None and ph > 9.0 else 0.0
    rest = max(ec25 - _ACID_PAIR * hydrogen - _BASE_PAIR * hydroxide, 0.0)
    if rest < 100.0:
        factor = 0.85
    elif rest <= 10_000.0:
        factor = 1.0
    else:
        factor = 1.1
    return hydrogen + hydroxide + factor * rest / 100.0


def safe_conductivity(ion: str, ec25: float) -> float:
    """Smallest conductivity per meq/L of this ion at EC25; ``ValueError`` if none is held."""
    safe = _held(ion).safe
    segment, share = _place(ec25)
    return safe[segment] + (safe[segment + 1] - safe[segment]) * share


def worst_meq_l(ion: str, ec25: float, ph: float | None) -> float:
    """The most of this ion in meq/L that a water of this EC25 and pH can hold.

    For ammonium of no use above pH 10. ``ValueError`` for an ion without a held bound.
    """
    return Worst(ec25, ph).meq_l(_held(ion))


def worst_mg_l(ion: str, ec25: float, ph: float | None) -> float:
    """The same in mg/L; phosphate as PO4. ``ValueError`` for an ion without a held bound."""
    return Worst(ec25, ph).all_mg_l((_held(ion),))[0][1]


class Worst:
    """The worst cases of one water: what its ions share is worked out once.

    ``ec25`` in µS/cm must be a finite number above zero; ``ph`` may be unknown.
    """

    __slots__ = ("_anion_rest", "_cation_rest", "_high", "_low", "_segment", "_share")

    def __init__(self, ec25: float, ph: float | None) -> None:
        self._segment, self._share = _place(ec25)
        if ph is None:
            self._anion_rest = self._cation_rest = ec25
            self._low, self._high = _ASSUMED_LOW, _ASSUMED_HIGH
            return
        # Activity of the hydrogen ion, were the pH read too high, and were it read too low.
        high: float = 10.0 ** (_PH_TOLERANCE - ph)
        low: float = high * _TOLERANCE_BOTH_WAYS
        hydrogen, hydroxide = 1000.0 * low, 1e-11 / high
        least = _ALWAYS_LEFT * ec25
        self._anion_rest = max(ec25 - _ANION_ACID * hydrogen - _ANION_BASE * hydroxide, least)
        self._cation_rest = max(ec25 - _CATION_ACID * hydrogen - _CATION_BASE * hydroxide, least)
        self._low, self._high = low, high

    def meq_l(self, bound: Bound) -> float:
        """The most of an ion in meq/L."""
        return self.all_mg_l((bound,))[0][1] / bound.equivalent_mass

    def all_mg_l(self, bounds: Iterable[Bound]) -> list[tuple[str, float]]:
        """The most of each ion in mg/L: its charged share by EC, its uncharged share by pH."""
        segment, share = self._segment, self._share
        anion_rest, cation_rest = self._anion_rest, self._cation_rest
        most = []
        for bound in bounds:
            safe = bound.safe
            least = safe[segment]
            least += (safe[segment + 1] - least) * share
            amount = (anion_rest if bound.anion else cation_rest) / least * bound.equivalent_mass
            most.append((bound.ion, amount * self._whole_over_charged(bound) if bound.hides else amount))
        return most

    def _whole_over_charged(self, bound: Bound) -> float:
        if bound.molecule:
            return 1.0 + bound.molecule * self._high
        if bound.base:
            return 1.0 + bound.base / self._low
        hydrogen_sulfate = _HYDROGEN_SULFATE * self._high
        return 2.0 * (1.0 + hydrogen_sulfate) / (2.0 + hydrogen_sulfate)


#: The worst cases of a water, kept while its bottles are judged one after the other.
worst_of = lru_cache(maxsize=64)(Worst)


def _held(ion: str) -> Bound:
    bound = BOUNDS.get(ion)
    if bound is None:
        raise ValueError(f"no worst case is held for {ion!r}")
    return bound


def _place(ec25: float) -> tuple[int, float]:
    """Segment of the table and the share of it at EC25; flat beyond both ends."""
    if not ec25 > SAFE_NODES[0]:
        return 0, 0.0
    if ec25 >= SAFE_NODES[-1]:
        return len(_LOG_STEPS) - 1, 1.0
    segment = 0
    while ec25 > SAFE_NODES[segment + 1]:
        segment += 1
    return segment, (log(ec25) - _LOG_NODES[segment]) / _LOG_STEPS[segment]
