"""How far a dose of acid brings the pH down, what it changes, and how much is missing.

Whether acid may be in a bottle at all is a matter of keeping; here it is reckoned with.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from intake.rules.acid_rules import (
    ALKALINITY_UNKNOWN,
    DOSE_SHORT,
    DOSE_STRONG,
    DOSE_USED_UP,
    GAS,
    RULES,
)
from intake.rules.acidifying import CARE
from intake.rules.book import Rulebook
from intake.rules.dosing import ALKALINITY_ENDS_AT_PH, gas_ml, nitrate_added_mg_l, volume_factor
from intake.rules.facts import AcidKind, BottleFacts, Line, SampleFacts
from intake.rules.judgement import Advice, Finding
from intake.rules.kept import strip_ph
from intake.rules.reached import Dose, Reach, Water, dose_of, need_ml, reach, volume_of, water_of
from intake.rules.words import say_number, say_span

__all__ = ["RULES", "advise", "assess", "findings", "wanted_ph"]

#: Expected pH up to 2.0 is good, up to here marginal, above it acid is missing. House choice.
ACCEPTABLE_PH = 2.5
#: What rulebooks for metals ask for: EPA Method 200.7, 40 CFR 136 Table II (from memory).
METALS_PH = 2.0
#: Below this the dose was surely noted wrongly. House choice.
STRONGEST_PH = 1.0
#: Alkalinity is asked for above this EC25, µS/cm. House choice: there the most alkalinity that
#: EC allows is about what the usual dose can take.
ASK_ALKALINITY_ABOVE_EC = 600.0
#: Above this alkalinity, meq/L, gas is worth a warning. Common practice.
GAS_ABOVE_MEQ_L = 10.0

_SOURCE = "Davies equation and second step of sulfuric acid, compared with PHREEQC"


@dataclass(slots=True)
class _Case:
    """One bottle for cations with a usable volume, and what it should have.

    ``wanted`` is the pH the book wants it below; ``limit`` the same, or the house's own where
    the book wants none. ``poured`` says the dose and what it went into, ``acid`` the strength
    of the book's acid.
    """

    key: str
    book: Rulebook
    volume: float
    dose: Dose | None
    water: Water
    wanted: float | None
    limit: float
    poured: str
    acid: str


def wanted_ph(bottle: BottleFacts, book: Rulebook) -> float | None:
    """The pH a book wants in this bottle: its target, else the strictest of the rows asked."""
    if book.acid_ph_target is not None:
        return book.acid_ph_target
    strictest = None
    for ion in bottle.ions:
        for row in book.by_ion.get(ion, ()):
            limit = row.conditions.acid_ph_max
            if limit is not None and (strictest is None or limit < strictest):
                strictest = limit
    return strictest


def findings(sample: SampleFacts, bottle: BottleFacts, book: Rulebook) -> tuple[Finding, ...]:
    """What the dose in a bottle for cations falls short of, before a strip has shown it."""
    return assess(sample, bottle, book)[0]


def advise(sample: SampleFacts, bottle: BottleFacts, book: Rulebook) -> tuple[Advice, ...]:
    """What acid asks of the bench: volume factor, pH to expect, acid to add, nitrate added."""
    return assess(sample, bottle, book)[1]


def assess(
    sample: SampleFacts, bottle: BottleFacts, book: Rulebook, water: Water | None = None
) -> tuple[tuple[Finding, ...], tuple[Advice, ...]]:
    """Findings and advice on the acid of one bottle together, since they share their sums.

    ``water`` is ``water_of(sample)`` where a caller with several bottles has it already.
    """
    volume = volume_of(bottle)
    if volume is None:
        return (), ()
    dose = dose_of(bottle)
    if bottle.line is Line.ANION:
        if dose is None or bottle.acid_kind is not AcidKind.NITRIC:
            return (), ()
        return (), (_nitrate_advice(bottle.key, volume, dose),)
    wanted = wanted_ph(bottle, book)
    case = _Case(
        bottle.key,
        book,
        volume,
        dose,
        water or water_of(sample),
        wanted,
        ACCEPTABLE_PH if wanted is None else wanted,
        "" if dose is None else f"{_say_dose(dose)} in {say_number(volume)} mL",
        f"{say_number(book.acid_dose_mol_l)} mol/L",
    )
    strip = strip_ph(bottle)[1]
    found: list[Finding] = []
    advice: list[Advice] = []
    if dose is not None:
        _judge_dose(case, dose, strip, found, advice)
    elif _acid_is_asked(bottle, book) and not _acid_is_stated(bottle):
        advice.append(_missing_dose_advice(case))
    if strip is not None and strip >= case.limit and (dose is not None or _acid_is_asked(bottle, book)):
        advice.extend(_addition_advice(case, strip, bottle))
    return tuple(found), tuple(advice)


def _judge_dose(
    case: _Case, dose: Dose, strip: float | None, found: list[Finding], advice: list[Advice]
) -> None:
    """What a stated dose does; the pH it reaches only where no strip has shown it."""
    advice.append(_factor_advice(case, dose))
    if strip is None:
        reached = reach(case.water, case.volume, dose)
        finding = _reached_finding(case, reached)
        if finding is not None:
            found.append(finding)
        advice.append(_expected_advice(case, reached))
    alkalinity = case.water.most_alkalinity
    if case.water.known and alkalinity > GAS_ABOVE_MEQ_L:
        found.append(
            GAS.finding(
                f"With an alkalinity of {say_number(alkalinity)} meq/L acid can free up to "
                f"{gas_ml(case.volume, alkalinity):.0f} mL of carbon dioxide in this bottle.",
                "alkalinity_meq_l",
                bottle=case.key,
            )
        )


def _reached_finding(case: _Case, reached: Reach) -> Finding | None:
    """The one finding about the pH that the dose reaches."""
    lowest, highest, water = reached.lowest_ph, reached.highest_ph, case.water
    if lowest is None:
        alkalinity = say_number(water.most_alkalinity)
        used_up = f"{case.poured} is used up by an alkalinity of {alkalinity} meq/L."
        return DOSE_USED_UP.finding(
            f"{used_up}{_would_take(case)}",
            "acid_ml",
            bottle=case.key,
        )
    if lowest >= case.limit:
        at_best = "" if water.known else "at best "
        short = f"{case.poured} gives {at_best}pH {lowest:.2f}; wanted is less than {say_number(case.limit)}."
        return DOSE_SHORT.finding(
            f"{short}{_would_take(case)}",
            "acid_ml",
            bottle=case.key,
        )
    if lowest < STRONGEST_PH:
        return DOSE_STRONG.finding(
            f"{case.poured} gives a pH of about {lowest:.1f}; about {say_number(case.limit)} is wanted.",
            "acid_ml",
            bottle=case.key,
        )
    enough = highest is not None and highest < case.limit
    if enough or water.ec25 is None or water.ec25 <= ASK_ALKALINITY_ABOVE_EC:
        return None
    worst = "uses the dose up" if highest is None else f"leaves pH {highest:.2f}"
    return ALKALINITY_UNKNOWN.finding(
        f"{case.poured} gives pH {lowest:.2f} without alkalinity; the most this EC allows, "
        f"{say_number(water.most_alkalinity, 2)} meq/L, {worst}.",
        "alkalinity_meq_l",
        bottle=case.key,
    )


def _would_take(case: _Case) -> str:
    need = need_ml(case.water, case.volume, case.limit, case.book.acid_dose_mol_l)
    if need is None:
        return ""
    return f" pH {say_number(case.limit)} takes up to {say_number(need, 2)} mL of {case.acid} in all."


def _factor_advice(case: _Case, dose: Dose) -> Advice:
    factor = volume_factor(case.volume, dose.ml)
    return Advice(
        "acid.volume_factor",
        case.key,
        f"Multiply every cation result by {factor:.3f}: {case.poured} of sample.",
        "(V + v) / V",
        (("volume_factor", factor),),
    )


def _expected_advice(case: _Case, reached: Reach) -> Advice:
    lowest, highest = reached.lowest_ph, reached.highest_ph
    figures = []
    if lowest is None:
        expected = "the alkalinity uses the dose up"
    elif highest is None:
        expected = f"expect pH {lowest:.2f} or more, the alkalinity may use the dose up"
        figures = [("expected_ph_lowest", lowest)]
    else:
        figures = [("expected_ph_lowest", lowest), ("expected_ph_highest", highest)]
        span = f"{lowest:.2f}" if highest - lowest < 0.01 else f"{lowest:.2f} to {highest:.2f}"
        expected = f"expect pH {span}"
    if highest is None or highest > METALS_PH:
        need = need_ml(case.water, case.volume, METALS_PH, case.book.acid_dose_mol_l)
        if need is not None:
            figures.append(("dose_ml_for_ph_2", need))
            expected = (
                f"{expected}; rulebooks for metals that want less than pH 2 would ask for up to "
                f"{say_number(need, 2)} mL of {case.acid}"
            )
    return Advice("acid.expected_ph", case.key, f"{case.poured}: {expected}.", _SOURCE, tuple(figures))


def _missing_dose_advice(case: _Case) -> Advice:
    """What to add to a bottle that should have acid and has none."""
    target = METALS_PH if case.wanted is None else case.wanted
    need = need_ml(case.water, case.volume, target, case.book.acid_dose_mol_l)
    usual = f"The usual dose is {say_number(case.book.acid_dose_ml)} mL of {case.acid} nitric acid"
    if need is None:
        sentence = f"{usual}, too weak for pH {say_number(target)}: use stronger acid. {CARE}."
        return Advice("acid.dose", case.key, sentence, _SOURCE, (("target_ph", target),))
    sentence = (
        f"{usual}; to be sure of pH {say_number(target)} in {say_number(case.volume)} mL take "
        f"{say_number(need, 2)} mL. {CARE}."
    )
    return Advice("acid.dose", case.key, sentence, _SOURCE, (("target_ph", target), ("dose_ml", need)))


def _addition_advice(case: _Case, strip: float, bottle: BottleFacts) -> Iterator[Advice]:
    """How much to add when the strip is above the limit, how long to wait, and what follows from it."""
    dose = case.dose
    whole = case.volume + (0.0 if dose is None else dose.ml)
    if strip <= ALKALINITY_ENDS_AT_PH:
        left: float = -(10.0 ** (3.0 - strip))
    else:
        taken = 0.0 if dose is None else 1000.0 * dose.ml * dose.mol_l / case.volume
        left = max(case.water.most_alkalinity - taken, 0.0)
    need = need_ml(case.water, whole, case.limit, case.book.acid_dose_mol_l, left)
    if need is None:
        return
    factor = volume_factor(case.volume, (0.0 if dose is None else dose.ml) + need)
    yield Advice(
        "acid.add",
        case.key,
        f"The strip shows up to pH {say_number(strip)}, wanted is less than {say_number(case.limit)}: "
        f"add up to {say_number(need, 2)} mL of {case.acid} nitric acid in small steps, mix, check a portion "
        f"poured off. Let it stand {say_number(case.book.acid_standing_h)} h and check again. "
        f"{_clocks_with_acid(bottle, case)} "
        f"With all of it every cation result is multiplied by {factor:.3f}; write down what you really add. "
        f"{CARE}.",
        f"{_SOURCE}; standing: EPA Method 200.7 Rev 4.4 (1994) 8.1 to 8.3, 40 CFR 136 Table II footnote 19",
        (("add_ml", need), ("wait_h", case.book.acid_standing_h), ("volume_factor_after", factor)),
    )


def _clocks_with_acid(bottle: BottleFacts, case: _Case) -> str:
    """What acid given now does to the clocks: none starts anew, but a longer limit may be earned."""
    asked = (row for ion in bottle.ions for row in case.book.by_ion.get(ion, ()))
    with_acid = [row.conditions for row in asked if AcidKind.NITRIC in (row.conditions.acid or ())]
    windows = [keeping.acid_within_min for keeping in with_acid if keeping.acid_within_min is not None]
    said = f"No clock starts anew: rulebook {case.book.name}, counts from collection"
    if windows:
        return f"{said}, and reckons with acid only if it is in within {say_span(min(windows))} of that."
    return f"{said}, and sets no time by which acid has to be in."


def _nitrate_advice(key: str, volume: float, dose: Dose) -> Advice:
    added = nitrate_added_mg_l(volume, dose.ml, dose.mol_l)
    return Advice(
        "acid.nitrate_added",
        key,
        f"{_say_dose(dose)} puts {say_number(added)} mg/L of nitrate into this bottle for anions.",
        "molar mass of nitrate",
        (("nitrate_added_mg_l", added),),
    )


def _acid_is_stated(bottle: BottleFacts) -> bool:
    return bottle.acidified is True or bottle.acid_kind not in (None, AcidKind.NONE)


def _acid_is_asked(bottle: BottleFacts, book: Rulebook) -> bool:
    """Whether some row of the book wants nitric acid for an ion of this bottle."""
    ways = book.ways
    return any(ion in ways and AcidKind.NITRIC in ways[ion].acids for ion in bottle.ions)


def _say_dose(dose: Dose) -> str:
    return f"{say_number(dose.ml)} mL of {say_number(dose.mol_l)} mol/L acid"
