"""What the bench should know of a bottle's strength before the first injection."""

from __future__ import annotations

from functools import lru_cache

from intake.rules.bounds import LOAD_BAND
from intake.rules.dilution import USUAL_UNIT, Dilution, Strength, UnitStrength, strength_of
from intake.rules.facts import BottleFacts, SampleFacts
from intake.rules.judgement import Advice
from intake.rules.measured import usable_ec25, usable_ph
from intake.rules.species import SPECIES
from intake.rules.words import say_number

#: From this load on, meq/L, a sample may carry over into weaker ones; house choice. It is
#: about that of water with 10 000 µS/cm.
CARRY_OVER_MEQ_L = 100.0

#: What the figure of an ion is called.
_WORST = {ion: f"worst_{ion}_mg_l" for ion in SPECIES}

_SOURCE = "bounds from EC computed with PHREEQC speciation; half of the bound is the usual suggestion"
_MATRIX_SOURCE = "composition of the declared kind of water, scaled with EC"


def advise(sample: SampleFacts, bottle: BottleFacts, unit: UnitStrength = USUAL_UNIT) -> tuple[Advice, ...]:
    """Dilution and place in the run for one bottle.

    Figures: ``load_meq_l`` with ``load_low_meq_l`` and ``load_high_meq_l``;
    ``suggested_dilution`` and ``column_safe_dilution`` as whole factors with their part
    ``..._by_hand``; ``worst_<ion>_mg_l`` of each asked ion; ``injected_meq_l``, by which a run
    goes from weak to strong.
    """
    ec, ph = usable_ec25(sample), usable_ph(sample)
    ions = bottle.ions - bottle.dropped if bottle.dropped else bottle.ions
    strength = strength_of(ions, bottle.line, ec, ph, sample.water_kind, unit)
    if strength is None:
        return (
            Advice(
                "strength.unknown",
                bottle.key,
                "No usable EC is stated: measure the EC of a portion poured off before choosing a dilution.",
                _SOURCE,
            ),
        )
    suggested, safe = strength.suggested(unit), strength.column_safe(unit)
    load, factor = strength.load_meq_l, suggested.total
    sentences = [_say_load(strength.ec25, load, strength.matrix), _say_dilutions(strength, suggested, safe)]
    if load >= CARRY_OVER_MEQ_L:
        sentences.append("Run it after weaker samples, with a blank behind it.")
    figures = [
        ("load_meq_l", load),
        ("load_low_meq_l", load * (1.0 - LOAD_BAND)),
        ("load_high_meq_l", load * (1.0 + LOAD_BAND)),
        ("suggested_dilution", factor),
        ("suggested_by_hand", suggested.by_hand),
        ("column_safe_dilution", safe.total),
        ("column_safe_by_hand", safe.by_hand),
        ("injected_meq_l", load / factor),
    ]
    figures += [(_WORST[ion], amount) for ion, amount in strength.most_mg_l]
    source = _MATRIX_SOURCE if strength.matrix else _SOURCE
    return (Advice("strength.dilution", bottle.key, " ".join(sentences), source, tuple(figures)),)


@lru_cache(maxsize=64)
def _say_load(ec25: float, load: float, matrix: str) -> str:
    what = f"Declared as {matrix}" if matrix else f"EC {say_number(ec25)} µS/cm"
    return f"{what}: about {say_number(load, 2)} meq/L of ions, give or take 30 %."


def _say_dilutions(strength: Strength, suggested: Dilution, safe: Dilution) -> str:
    said = f"Suggested: {_say(suggested.by_hand, suggested.automatic)}"
    if not strength.driver:
        return f"{said}."
    most = f"{strength.driver} of {say_number(strength.driver_mg_l, 3)} mg/L"
    if strength.matrix:
        return f"{said}, for {most}."
    if safe.total == suggested.total:
        return f"{said}; that covers even the worst case, {most}."
    return f"{said}; {_say(safe.by_hand, safe.automatic)} covers even the worst case, {most}."


@lru_cache(maxsize=256)
def _say(by_hand: float, automatic: float) -> str:
    if by_hand == automatic == 1:
        return "no dilution"
    if by_hand == 1:
        return f"1:{say_number(automatic)}"
    rest = "" if automatic == 1 else f" and then 1:{say_number(automatic)} on the unit"
    return f"dilute by hand 1:{say_number(by_hand)} first{rest}"
