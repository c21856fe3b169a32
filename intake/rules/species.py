"""Dissolved species: charge, molar mass and limiting ionic conductivity.

One word for one thing: an ion that can be asked for carries the name of
:mod:`intake.rules.ions`; the other species of a water (bicarbonate, hydrogen, hydroxide ...)
stand beside them here because they carry current or take acid.

Molar masses are sums of the IUPAC abridged standard atomic weights 2021 (from memory,
compared in the tests with two independent libraries).

Limiting ionic conductivities at 25 °C, S·cm² per equivalent. Sources: "CRC" is the CRC
Handbook of Chemistry and Physics, table "Ionic conductivity and diffusion at infinite
dilution"; "Lange" is Lange's Handbook of Chemistry, table 8.32. Values that could not be
read there are marked "from memory"; all of those agree within 0.5 % with the published
self-diffusion coefficients (D x charge x 37.55), except where a remark says otherwise.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

#: g/mol; IUPAC abridged standard atomic weights 2021, from memory.
ATOMIC_WEIGHTS: Mapping[str, float] = MappingProxyType(
    {
        "H": 1.008, "Li": 6.94, "C": 12.011, "N": 14.007, "O": 15.999, "F": 18.998, "Na": 22.990,
        "Mg": 24.305, "Al": 26.982, "P": 30.974, "S": 32.06, "Cl": 35.45, "K": 39.098, "Ca": 40.078,
        "Mn": 54.938, "Fe": 55.845, "Zn": 65.38, "Sr": 87.62, "Br": 79.904, "I": 126.90, "Ba": 137.33,
    }
)  # fmt: skip


def mass(**atoms: int) -> float:
    """Molar mass in g/mol of a formula given as element = number of atoms."""
    return sum(ATOMIC_WEIGHTS[element] * count for element, count in atoms.items())


@dataclass(frozen=True, slots=True)
class Species:
    """``conductivity`` is λ° at 25 °C in S·cm² per equivalent, ``None`` where none is held."""

    name: str
    charge: int
    molar_mass: float
    conductivity: float | None
    source: str

    @property
    def equivalent_mass(self) -> float:
        """Grams per mole of charge."""
        return self.molar_mass / abs(self.charge)


_SPECIES: tuple[Species, ...] = (
    Species("hydrogen", 1, mass(H=1), 349.65, "CRC"),
    Species("lithium", 1, mass(Li=1), 38.66, "CRC"),
    Species("sodium", 1, mass(Na=1), 50.08, "CRC, from memory; Lange 50.11"),
    Species("potassium", 1, mass(K=1), 73.48, "CRC"),
    Species("ammonium", 1, mass(N=1, H=4), 73.5, "CRC"),
    Species("magnesium", 2, mass(Mg=1), 53.0, "CRC"),
    Species("calcium", 2, mass(Ca=1), 59.47, "CRC"),
    Species("strontium", 2, mass(Sr=1), 59.4, "CRC, from memory"),
    Species("barium", 2, mass(Ba=1), 63.6, "CRC"),
    Species("manganese", 2, mass(Mn=1), 53.5, "CRC"),
    Species("iron", 2, mass(Fe=1), 54.0, "CRC, iron(II)"),
    Species("zinc", 2, mass(Zn=1), 52.8, "Lange"),
    Species("aluminium", 3, mass(Al=1), 61.0, "CRC"),
    Species("hydroxide", -1, mass(O=1, H=1), 198.0, "CRC, from memory; 197.9 from diffusion"),
    Species("fluoride", -1, mass(F=1), 55.4, "CRC, from memory"),
    Species("chloride", -1, mass(Cl=1), 76.31, "CRC, from memory"),
    Species("bromide", -1, mass(Br=1), 78.1, "CRC, from memory"),
    Species("nitrite", -1, mass(N=1, O=2), 71.8, "CRC, from memory"),
    Species("nitrate", -1, mass(N=1, O=3), 71.42, "CRC, from memory"),
    Species("bicarbonate", -1, mass(H=1, C=1, O=3), 44.5, "second-hand; 44.3 from diffusion"),
    Species("carbonate", -2, mass(C=1, O=3), 69.3, "CRC, from memory; one Dutch source uses 86"),
    Species("sulfate", -2, mass(S=1, O=4), 80.0, "CRC, from memory; 79.8 second-hand"),
    Species("hydrogen sulfate", -1, mass(H=1, S=1, O=4), 52.0, "from memory"),
    Species("dihydrogen phosphate", -1, mass(H=2, P=1, O=4), 36.0, "from memory; 31.9 from diffusion"),
    Species("hydrogen phosphate", -2, mass(H=1, P=1, O=4), 57.0, "from memory; 54.8 from diffusion"),
    Species("phosphate", -3, mass(P=1, O=4), 92.8, "from memory"),
    Species("acetate", -1, mass(C=2, H=3, O=2), 40.9, "from memory; 40.9 from diffusion"),
    Species("formate", -1, mass(C=1, H=1, O=2), None, "no value held"),
    Species("chlorite", -1, mass(Cl=1, O=2), None, "no value held"),
    Species("chlorate", -1, mass(Cl=1, O=3), None, "no value held"),
    Species("perchlorate", -1, mass(Cl=1, O=4), None, "no value held"),
    Species("bromate", -1, mass(Br=1, O=3), None, "no value held"),
    Species("iodide", -1, mass(I=1), None, "no value held"),
)

SPECIES: Mapping[str, Species] = MappingProxyType({species.name: species for species in _SPECIES})


def species(name: str) -> Species:
    """The species of this name; ``ValueError`` names the word when nobody knows it."""
    try:
        return SPECIES[name]
    except KeyError:
        raise ValueError(f"no species is called {name!r}") from None
