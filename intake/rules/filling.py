"""Fill, container, volume and additive: what the bottle is and how it was filled."""

from __future__ import annotations

from collections.abc import Iterator

from intake.rules.earning import Broken, Case
from intake.rules.examples import example
from intake.rules.facts import Container
from intake.rules.findings import (
    COMMON_PRACTICE,
    FROM_THE_FACTS,
    Consequence,
    Rule,
    after_analysis,
    at_the_bench,
    before_sending,
)
from intake.rules.judgement import Finding, Weight
from intake.rules.words import say_list, say_number

BRIM = Rule(
    "brim.headspace",
    (Weight.CAUTION,),
    "Not filled to the brim",
    "Air over the water lets carbon dioxide and ammonia pass and oxygen feed the change of nitrite "
    "and ammonium. One state of the USA asks the opposite for most ions: an inch of air.",
    (
        before_sending("Top the bottle up with the same water, so that no air is left."),
        after_analysis("State the headspace with ammonium and nitrite."),
    ),
    f"{COMMON_PRACTICE}; New Jersey N.J.A.C. 7:18-9.4(a) asks for headspace",
    example(anion={"to_brim": False}),
)
BRIM_UNSTATED = Rule(
    "brim.unstated",
    (Weight.NOTE,),
    "Fill not stated",
    "Whether air stood over the water cannot be told until somebody looks.",
    (before_sending("Say whether the bottle is filled to the brim."),),
    COMMON_PRACTICE,
    example(anion={"to_brim": None}),
    Consequence.NONE,
)
CONTAINER = Rule(
    "container.unfit",
    (Weight.CAUTION,),
    "Container that the rulebook does not allow",
    "Glass binds fluoride and gives off sodium; some plastics bind or give off other ions.",
    (
        before_sending("Fill another bottle of polyethylene or polypropylene."),
        after_analysis("State the container with the value of the ions named."),
    ),
    "the row of the rulebook, for example 40 CFR 136.3 Table II: fluoride in plastic only",
    example(anion={"ions": frozenset({"fluoride"}), "container": Container.GLASS}),
    Consequence.DEPARTURE,
)
CONTAINER_UNSTATED = Rule(
    "container.unstated",
    (Weight.NOTE,),
    "Container not stated",
    "The rulebook allows only some materials for an ion asked of this bottle.",
    (before_sending("State what the bottle is made of."),),
    "the row of the rulebook",
    example(anion={"ions": frozenset({"fluoride"}), "container": None}),
    Consequence.NONE,
)
VOLUME_SHORT = Rule(
    "volume.short",
    (Weight.NOTE, Weight.CAUTION),
    "Less water than the laboratory asks for",
    "Each injection takes its volume with the rinse; dilutions and repeats take more. With little "
    "water a value outside the calibration cannot be repeated.",
    (
        before_sending("Fill a full bottle, or ask for fewer repeats."),
        at_the_bench("Inject at the safe dilution first, so that no repeat is needed."),
    ),
    "house choice (50 mL a line, 5 mL an injection, 2 repeats, all settable), no published source",
    example(anion={"volume_ml": 12}),
)
VOLUME_TOO_SMALL = Rule(
    "volume.too_small",
    (Weight.BAR,),
    "Not enough water for one injection",
    "The needle would draw air, and air in the column spoils the run for everybody.",
    (
        before_sending("Fill a full bottle."),
        at_the_bench("Ask the submitter for more water, or whether a dilution by hand is wanted."),
    ),
    "house choice (5 mL an injection with its rinse, settable), no published source",
    example(anion={"volume_ml": 2}),
    Consequence.LOST,
)
VOLUME_IMPOSSIBLE = Rule(
    "volume.impossible",
    (Weight.BAR,),
    "A volume that cannot be",
    "A bottle holds more than nothing.",
    (before_sending("Correct the volume; it is asked in millilitres."),),
    FROM_THE_FACTS,
    example(anion={"volume_ml": 0}),
    Consequence.WORD,
)
ADDITIVE = Rule(
    "additive.missing",
    (Weight.CAUTION,),
    "An additive the rulebook asks for is missing",
    "Chlorite, chlorate and bromate go on reacting with what is left of the disinfectant.",
    (
        before_sending("Add the additive when you take the water, and say so."),
        at_the_bench("Inject the bottle as soon as it can be done."),
    ),
    "EPA Method 300.1 Rev 1.0 (1997) 8: ethylenediamine 50 mg/L",
    example(anion={"ions": frozenset({"bromate"})}),
    Consequence.DEPARTURE,
)
RULES = (
    BRIM,
    BRIM_UNSTATED,
    CONTAINER,
    CONTAINER_UNSTATED,
    VOLUME_SHORT,
    VOLUME_TOO_SMALL,
    VOLUME_IMPOSSIBLE,
    ADDITIVE,
)

#: Ions that air over the water costs: ammonia escapes, nitrite is oxidised, carbon dioxide
#: that escapes lets calcium and magnesium precipitate. Common practice, no published source.
COST_BY_AIR = frozenset({"nitrite", "ammonium", "magnesium", "calcium"})


def findings(case: Case) -> Iterator[Finding]:
    """What is wrong with the container and its content."""
    yield from _brim(case)
    yield from _container(case)
    yield from _volume(case)
    missing = case.costs.get(Broken.ADDITIVE)
    if missing:
        additives = sorted(
            {
                row.conditions.additive
                for ion in missing
                for row in case.book.by_ion[ion]
                if row.conditions.additive
            }
        )
        yield ADDITIVE.finding(
            f"Rulebook {case.book.name}, asks for {say_list(additives, 'or')} in a bottle for "
            f"{say_list(missing)}; none is stated.",
            "additive",
            bottle=case.bottle.key,
            ions=missing,
        )


def _brim(case: Case) -> Iterator[Finding]:
    bottle, book = case.bottle, case.book
    costs = case.costs.get(Broken.BRIM)
    if not book.to_brim and not costs:
        return
    if case.kept.to_brim is None:
        yield BRIM_UNSTATED.finding(
            "Nobody stated whether the bottle is filled to the brim.", "to_brim", bottle=bottle.key
        )
    elif not case.kept.to_brim:
        seen = bottle.seen is not None and bottle.seen.headspace is True
        yield BRIM.finding(
            f"{'Reception saw air over the water' if seen else 'The bottle is not filled to the brim'}; "
            f"rulebook {book.name}, asks for no air.",
            "seen.headspace" if seen else "to_brim",
            bottle=bottle.key,
            ions=costs or tuple(ion for ion in case.asked if ion in COST_BY_AIR),
        )


def _container(case: Case) -> Iterator[Finding]:
    bottle = case.bottle
    unfit = case.costs.get(Broken.CONTAINER)
    if unfit and bottle.container is not None:
        yield CONTAINER.finding(
            f"The bottle is of {bottle.container.value}; rulebook {case.book.name}, does not allow that for "
            f"{say_list(unfit)}.",
            "container",
            bottle=bottle.key,
            ions=unfit,
        )
    elif bottle.container is None:
        picky = tuple(ion for ion, earned in case.earned.items() if earned.row.conditions.containers)
        if picky:
            yield CONTAINER_UNSTATED.finding(
                f"What the bottle is made of is not stated; it matters for {say_list(picky)}.",
                "container",
                bottle=bottle.key,
                ions=picky,
            )


def _volume(case: Case) -> Iterator[Finding]:
    book, bottle, volume = case.book, case.bottle, case.bottle.volume_ml
    if volume is None or volume >= book.line_volume_ml:
        return
    if not volume > 0:
        yield VOLUME_IMPOSSIBLE.finding(
            f"A volume of {say_number(volume)} mL cannot be.", "volume_ml", bottle=bottle.key
        )
        return
    enough = book.injection_volume_ml * (1 + book.repeats)
    asked = f"{say_number(volume)} mL; the laboratory asks for {say_number(book.line_volume_ml)} mL a line"
    if volume < book.injection_volume_ml:
        said = f"{asked}, and one injection takes {say_number(book.injection_volume_ml)} mL."
        yield VOLUME_TOO_SMALL.finding(said, "volume_ml", bottle=bottle.key, ions=case.asked)
    elif volume < enough:
        said = f"{asked}, and one injection with {book.repeats} repeats takes {say_number(enough)} mL."
        yield VOLUME_SHORT.finding(
            said, "volume_ml", bottle=bottle.key, ions=case.asked, weight=Weight.CAUTION
        )
    else:
        said = f"{asked}. It is enough for one injection with {book.repeats} repeats."
        yield VOLUME_SHORT.finding(said, "volume_ml", bottle=bottle.key)
