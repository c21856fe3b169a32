"""Reading which ions are wanted: the names of sets, names of ions and their formulas."""

from __future__ import annotations

import re
import unicodedata
from difflib import get_close_matches

from intake.rules.facts import Line
from intake.rules.ions import BY_NAME, IONS, SETS, Ion
from intake.rules.words import say_list
from intake.sheets.problems import CellFault
from intake.sheets.texts import plain, quoted

#: Other everyday names and ways to report, which leave no doubt about the ion.
OTHER_NAMES = {
    "sulphate": "sulfate",
    "orthophosphate": "phosphate",
    "o-phosphate": "phosphate",
    "no3-n": "nitrate",
    "no2-n": "nitrite",
    "nh4-n": "ammonium",
    "po4-p": "phosphate",
    "so4-s": "sulfate",
    "ch3coo": "acetate",
}


def _squeezed(text: str) -> str:
    """``text`` without spaces, raised and lowered digits made plain."""
    return re.sub(r"[\s^()\[\]]", "", plain(unicodedata.normalize("NFKC", text)))


def _spellings(ion: Ion) -> set[str]:
    """Every way the formula of ``ion`` is typed: without its charge, ``2-``, ``-2``, ``--``."""
    parts = re.fullmatch(r"(.+?)([⁰¹²³⁴⁵⁶⁷⁸⁹]?)([⁺⁻])", ion.formula)
    if parts is None:
        raise ValueError(f"{ion.name} has a formula without a charge: {ion.formula}")
    bare, size = _squeezed(parts[1]), _squeezed(parts[2]) or "1"
    sign = "+" if parts[3] == "⁺" else "-"
    number = "" if size == "1" else size
    return {bare, bare + number + sign, bare + sign + number, bare + sign * int(size)}


IONS_BY_SPELLING: dict[str, str] = {
    **{spelling: ion.name for ion in IONS for spelling in _spellings(ion)},
    **{_squeezed(ion.name): ion.name for ion in IONS},
    **{_squeezed(other): name for other, name in OTHER_NAMES.items()},
}
SETS_BY_SPELLING: dict[str, tuple[str, ...]] = {_squeezed(name): ions for name, ions in SETS.items()}


def ions_of(text: str, line: Line) -> tuple[str, ...]:
    """The ions named in ``text``, once each, in order of listing; all must be measured on ``line``."""
    wanted: set[str] = set()
    for word in re.split(r"[,;/\n|]| and ", text):
        if word.strip():
            wanted.update(_ions_of_word(word.strip(), line))
    if not wanted:
        raise CellFault(f"{quoted(text)} names no ion. Name ions with commas between them.")
    return tuple(ion.name for ion in IONS if ion.name in wanted)


def _ions_of_word(word: str, line: Line) -> tuple[str, ...]:
    spelling = _squeezed(word)
    names = SETS_BY_SPELLING.get(spelling)
    if names is None:
        name = IONS_BY_SPELLING.get(spelling)
        if name is None:
            raise CellFault(_unknown(word, line))
        names = (name,)
    strangers = [name for name in names if BY_NAME[name].line is not line]
    if strangers:
        other = BY_NAME[strangers[0]].line
        raise CellFault(
            f"{quoted(word)} is measured in the {other} bottle. "
            f"Move it to the column of the {other} bottle's ions."
        )
    return names


def _unknown(word: str, line: Line) -> str:
    choices = [name for name, ions in SETS.items() if all(BY_NAME[ion].line is line for ion in ions)] + [
        ion.name for ion in IONS if ion.line is line
    ]
    near = get_close_matches(plain(word), choices, n=2, cutoff=0.7)
    if near:
        return f"No ion is called {quoted(word)}. Did you mean {say_list(near, 'or')}?"
    return (
        f"No ion is called {quoted(word)}. Put commas between ions; "
        f"the {line} bottle takes {say_list(choices, 'or')}."
    )


def ions_text(ions: tuple[str, ...]) -> str:
    """``ions`` as the sheet says them: the name of a set where they are one, else their names."""
    for name, members in SETS.items():
        if len(members) == len(ions) and set(members) == set(ions):
            return name
    return ", ".join(ions)
