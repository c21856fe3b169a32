"""The ions of the two lines, their names, formulas and the sets to pick from."""

from __future__ import annotations

from dataclasses import dataclass

from intake.rules.facts import Line


@dataclass(frozen=True, slots=True)
class Ion:
    """``name`` is the word used everywhere; ``formula`` is shown beside it."""

    name: str
    formula: str
    line: Line


IONS: tuple[Ion, ...] = (
    Ion("fluoride", "F⁻", Line.ANION),
    Ion("chlorite", "ClO₂⁻", Line.ANION),
    Ion("bromate", "BrO₃⁻", Line.ANION),
    Ion("acetate", "CH₃COO⁻", Line.ANION),
    Ion("formate", "HCOO⁻", Line.ANION),
    Ion("chloride", "Cl⁻", Line.ANION),
    Ion("nitrite", "NO₂⁻", Line.ANION),
    Ion("chlorate", "ClO₃⁻", Line.ANION),
    Ion("bromide", "Br⁻", Line.ANION),
    Ion("nitrate", "NO₃⁻", Line.ANION),
    Ion("phosphate", "PO₄³⁻", Line.ANION),
    Ion("sulfate", "SO₄²⁻", Line.ANION),
    Ion("iodide", "I⁻", Line.ANION),
    Ion("perchlorate", "ClO₄⁻", Line.ANION),
    Ion("lithium", "Li⁺", Line.CATION),
    Ion("sodium", "Na⁺", Line.CATION),
    Ion("ammonium", "NH₄⁺", Line.CATION),
    Ion("potassium", "K⁺", Line.CATION),
    Ion("magnesium", "Mg²⁺", Line.CATION),
    Ion("calcium", "Ca²⁺", Line.CATION),
)

BY_NAME: dict[str, Ion] = {ion.name: ion for ion in IONS}

#: Sets a submitter picks from; our own grouping of everyday requests.
SETS: dict[str, tuple[str, ...]] = {
    "common anions": ("fluoride", "chloride", "nitrite", "bromide", "nitrate", "phosphate", "sulfate"),
    "nutrients": ("nitrite", "nitrate", "phosphate"),
    "common cations": ("sodium", "ammonium", "potassium", "magnesium", "calcium"),
}


def of_line(line: Line) -> tuple[str, ...]:
    """Names of the ions measured on ``line``, in order of listing."""
    return tuple(ion.name for ion in IONS if ion.line is line)
