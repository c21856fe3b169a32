"""Acid where it must not be, acid missing where it helps, and acid nobody can reckon with.

How far a dose brings the pH down is worked out in ``acid.py``; here only whether it is there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

from intake.rules.earning import Broken, Case
from intake.rules.examples import BOOK, COLLECTED, example
from intake.rules.facts import AcidKind, BottleFacts, Line
from intake.rules.findings import (
    Consequence,
    Rule,
    after_analysis,
    at_the_bench,
    before_sending,
)
from intake.rules.judgement import Finding, Weight
from intake.rules.kept import strip_ph
from intake.rules.words import say_list, say_number, say_span

#: Acid burns. Usual care at a bench; local rules and licensed practice come first.
CARE = "Wear gloves and goggles, add acid to water, follow the rules of your laboratory"

IN_ANION_BOTTLE = Rule(
    "acid.in_anion_bottle",
    (Weight.BAR,),
    "Acid in a bottle for anions",
    "Nitric acid adds far more nitrate than the water holds, sulfuric adds sulfate, hydrochloric adds "
    "chloride; every acid destroys nitrite, and the load drowns the other ions on the column.",
    (
        before_sending("Fill a new bottle for anions from the same water, without acid."),
        at_the_bench("Ask whether an unacidified bottle of the sample exists."),
    ),
    "EPA Method 300.0 Rev 2.1 (1993) 8.2: acid leaves only the sum of nitrate and nitrite; the rest is "
    "common knowledge of chemistry",
    example(anion={"acidified": True, "acid_kind": AcidKind.NITRIC, "acid_mol_l": 1, "acid_ml": 0.5}),
    Consequence.LOST,
)
ABSENT = Rule(
    "acid.absent",
    (Weight.CAUTION,),
    "Bottle for cations without acid",
    "Calcium and magnesium may precipitate as carbonate, and bacteria use up ammonium. With acid the "
    "water keeps longer.",
    (
        before_sending(f"Add the dose of nitric acid the laboratory names. {CARE}."),
        at_the_bench(
            "Acidify if the rulebook allows it, let it stand as it asks, check the pH of a portion."
        ),
        after_analysis("Look for a deposit before reporting calcium and magnesium."),
    ),
    "EPA Method 200.7 Rev 4.4 (1994) 8.1 to 8.3; that calcium and magnesium precipitate is common practice",
    example(cation={"acidified": False, "acid_kind": AcidKind.NONE, "acid_ml": None, "acid_at": None}),
)
MISSING = Rule(
    "acid.missing",
    (Weight.CAUTION,),
    "The rulebook knows these ions only with acid",
    "Without acid calcium and magnesium may precipitate and bacteria use up ammonium; the rulebook has no "
    "time for such a bottle, so the strictest one counts.",
    (
        before_sending(f"Add the dose of nitric acid the laboratory names. {CARE}."),
        at_the_bench(
            "Acidify if the rulebook allows it, let it stand as it asks, check the pH of a portion."
        ),
        after_analysis("State with the value that the water was not acidified."),
    ),
    "the row of the rulebook, for example EPA Method 200.7 Rev 4.4 (1994) 8.1 to 8.3",
    replace(
        example(
            cation={
                "ions": frozenset({"sodium"}),
                "acidified": False,
                "acid_kind": AcidKind.NONE,
                "acid_ml": None,
                "acid_at": None,
            }
        ),
        book=replace(BOOK, rows=tuple(row for row in BOOK.rows if row.number != 9)),
    ),
    Consequence.DEPARTURE,
)
OTHER_KIND = Rule(
    "acid.other_kind",
    (Weight.CAUTION,),
    "Another acid than the rulebook's",
    "Sulfuric acid can precipitate calcium, hydrochloric acid loads the line with chloride; the limits "
    "of the rulebook were set for the acid it names.",
    (
        before_sending("Use the acid the laboratory names for bottles for cations."),
        at_the_bench("Look for a deposit of calcium sulfate; ask which acid was used if it is not stated."),
        after_analysis("State the acid with the value."),
    ),
    "the row of the rulebook; the deposit is common knowledge of chemistry",
    example(cation={"acid_kind": AcidKind.SULFURIC}),
    Consequence.DEPARTURE,
)
NOT_WANTED = Rule(
    "acid.not_wanted",
    (Weight.CAUTION,),
    "Acid in a bottle the rulebook keeps without",
    "The limits of the rulebook were set for water without acid.",
    (
        before_sending("Fill a bottle without acid for these ions, or ask for another rulebook."),
        after_analysis("State with the value that the water was acidified."),
    ),
    "the row of the rulebook, for example UK ECN protocol WH: no acid except for aluminium and iron",
    replace(
        example(cation={"ions": frozenset({"potassium"})}),
        book=replace(BOOK, rows=(replace(BOOK.by_ion["sodium"][1], ion="potassium"),)),
    ),
    Consequence.DEPARTURE,
)
DOSE_UNSTATED = Rule(
    "acid.dose_unstated",
    (Weight.NOTE,),
    "Acid without strength or volume",
    "Acid thins the sample and sets its pH; without both figures neither can be worked out.",
    (
        before_sending("State how many millilitres of acid of how many mol/L you added."),
        at_the_bench("Check the pH on a portion poured off, never in the bottle."),
    ),
    "EPA Method 200.7 draft Rev 5 (2001) for the portion; the correction follows from the volumes",
    example(cation={"acid_ml": None}),
)
LATE = Rule(
    "acid.late",
    (Weight.CAUTION,),
    "Acid given later than the rulebook allows",
    "Acid keeps what is still there; what precipitated or was eaten before stays lost.",
    (
        before_sending("Acidify next time in the field, straight after filtering."),
        after_analysis("State with the value when the acid was added."),
    ),
    "the row of the rulebook, for example EPA Method 200.7 Rev 4.4 (1994) 8.1 to 8.3",
    example(cation={"acid_at": COLLECTED + timedelta(hours=5)}),
    Consequence.DEPARTURE,
)
NOT_REACHED = Rule(
    "acid.ph_not_reached",
    (Weight.CAUTION,),
    "The strip shows too little acid",
    "The rulebook counts the bottle as acidified only below the pH it names.",
    (
        at_the_bench(
            f"Add acid if the rulebook allows it, let it stand the hours it asks, check again. {CARE}."
        ),
        after_analysis("State the pH found with the value."),
    ),
    "the row of the rulebook; to stand: EPA Method 200.7 Rev 4.4 (1994) 8.1 to 8.3 (16 h), 40 CFR 136.3 "
    "Table II footnote 19 (24 h)",
    example(seen={"ph_low": 2.5, "ph_high": 3.0}),
    Consequence.DEPARTURE,
)
NOT_SEEN = Rule(
    "acid.not_seen",
    (Weight.CAUTION,),
    "Acid declared, but the strip shows none",
    "Either the acid went into another bottle or the water was alkaline enough to use it up. What was "
    "seen outweighs what was declared.",
    (
        at_the_bench("Check the bottle for anions of the same sample: the acid may be in there."),
        after_analysis("Report the value without the correction for the volume of acid."),
    ),
    "house choice (above pH 4), no published source",
    example(seen={"ph_low": 6.5, "ph_high": 7.0}),
    Consequence.WORD,
)
RULES = (IN_ANION_BOTTLE, ABSENT, MISSING, OTHER_KIND, NOT_WANTED, DOSE_UNSTATED, LATE, NOT_REACHED, NOT_SEEN)

#: What each acid costs a bottle for cations. Common knowledge of chemistry.
COST_BY_ACID = {AcidKind.SULFURIC: ("calcium",)}


def findings(case: Case) -> Iterator[Finding]:
    """What is wrong with the acid in the bottle, or with its absence."""
    if case.bottle.line is Line.ANION:
        yield from _anion(case)
    else:
        yield from _cation(case)
    if case.kept.acid not in (AcidKind.NONE, None):
        yield from _dose(case)


def _anion(case: Case) -> Iterator[Finding]:
    acid = case.kept.acid
    if acid is None or acid is AcidKind.NONE:
        return
    ways = case.book.ways
    ions = tuple([ion for ion in case.asked if ion not in ways or acid not in ways[ion].acids])
    if not ions:
        return
    bottle = case.bottle
    said = f"This bottle for anions was acidified{_named(acid)}"
    if case.kept.acid_fact == "seen.ph_high":
        high = strip_ph(bottle)[1]
        said = f"The strip shows pH {say_number(high or 0)} in a bottle for anions, so acid is in it"
    adds = {
        AcidKind.NITRIC: "adds nitrate and ",
        AcidKind.SULFURIC: "adds sulfate and ",
        AcidKind.HYDROCHLORIC: "adds chloride and ",
    }.get(acid, "")
    yield IN_ANION_BOTTLE.finding(
        f"{said}, which {adds}destroys what is to be measured: {say_list(ions)}.",
        case.kept.acid_fact,
        bottle=bottle.key,
        ions=ions,
    )


def _named(acid: AcidKind) -> str:
    return "" if acid in (AcidKind.OTHER, AcidKind.NONE) else f" with {acid.value} acid"


def _wanted(case: Case) -> dict[str, tuple[AcidKind, ...]]:
    """For each ion, the acids that some row of the book wants for it, if any does."""
    ways = case.book.ways
    return {ion: ways[ion].acids for ion in case.earned if ways[ion].acids}


def _cation(case: Case) -> Iterator[Finding]:
    bottle, kept, acid = case.bottle, case.kept, case.kept.acid
    if kept.acid_fact == "seen.ph_low":
        yield NOT_SEEN.finding(
            f"Acid is declared, but the strip shows pH {_strip(bottle)}.",
            "seen.ph_low",
            bottle=bottle.key,
            ions=tuple(_wanted(case)) or case.asked,
        )
    elif acid is AcidKind.NONE and kept.acid_fact != "alkalinity_meq_l":
        ions = tuple(ion for ion in _wanted(case) if _acid_would_help(case, ion))
        if ions:
            rule = MISSING if set(ions) & set(case.costs.get(Broken.ACID, ())) else ABSENT
            yield rule.finding(_absent(case, ions, rule), "acidified", bottle=bottle.key, ions=ions)
    elif acid not in (AcidKind.NONE, None):
        yield from _kind(case, acid)
    weak = case.costs.get(Broken.ACID_PH)
    if weak:
        limits = sorted(
            row.conditions.acid_ph_max
            for row in case.book.by_ion[weak[0]]
            if row.conditions.acid_ph_max is not None
        )
        yield NOT_REACHED.finding(
            f"The strip shows up to pH {say_number(kept.ph_high or 0)}; rulebook {case.book.name}, asks for "
            f"less than {say_number(limits[0])} for {say_list(weak)}.",
            "seen.ph_high",
            bottle=bottle.key,
            ions=weak,
        )


def _strip(bottle: BottleFacts) -> str:
    ends = [say_number(end) for end in strip_ph(bottle) if end is not None]
    return " to ".join(dict.fromkeys(ends))


def _acid_would_help(case: Case, ion: str) -> bool:
    """Whether with acid ``ion`` may wait longer than as it is."""
    earned, lengths = case.earned[ion], case.terms
    return not earned.met or any(
        lengths.of(row.limit).length > lengths.of(earned.row.limit).length
        for row in case.book.ways[ion].rows
        if row.conditions.acid
    )


def _absent(case: Case, ions: tuple[str, ...], rule: Rule) -> str:
    said = "This bottle for cations holds no acid"
    if case.bottle.acidified is None and case.bottle.acid_kind is None:
        said = "No acid is stated for this bottle for cations"
    precipitating = [ion for ion in ions if ion in ("magnesium", "calcium")]
    if precipitating:
        said = f"{said}; {say_list(precipitating)} may precipitate"
    if rule is MISSING:
        return f"{said}. Rulebook {case.book.name}, sets times for {say_list(ions)} only with acid."
    return f"{said}. With acid rulebook {case.book.name}, lets {say_list(ions)} wait longer."


def _kind(case: Case, acid: AcidKind) -> Iterator[Finding]:
    allowed = (earned.row.conditions.acid for earned in case.earned.values())
    if acid not in COST_BY_ACID and all(acids and acid in acids for acids in allowed):
        return
    bottle, wanted = case.bottle, _wanted(case)
    refused = tuple(ion for ion in case.costs.get(Broken.ACID, ()) if ion not in wanted)
    if refused:
        yield NOT_WANTED.finding(
            f"Acidified{_named(acid)}; rulebook {case.book.name}, keeps {say_list(refused)} without acid.",
            "acid_kind",
            bottle=bottle.key,
            ions=refused,
        )
    spoilt = COST_BY_ACID.get(acid, ())
    ions = tuple(ion for ion in case.asked if ion in spoilt or acid not in wanted.get(ion, (acid,)))
    if ions:
        said = (
            "Acidified, but with which acid is not stated" if not _named(acid) else f"Acidified{_named(acid)}"
        )
        acids = sorted({kind.value for kinds in wanted.values() for kind in kinds})
        asks = f"asks for {say_list(acids, 'or')} acid" if acids else "names no acid"
        yield OTHER_KIND.finding(
            f"{said}; rulebook {case.book.name}, {asks}. It may cost {say_list(ions)}.",
            "acid_kind",
            bottle=bottle.key,
            ions=ions,
        )


def _dose(case: Case) -> Iterator[Finding]:
    bottle, seen = case.bottle, case.bottle.seen
    if case.kept.acid_fact == "seen.acid_added_ml" and seen is not None:
        missing = ["strength"] if seen.acid_added_mol_l is None else []
        fact = "seen.acid_added_mol_l"
    elif case.kept.acid_fact == "acid_kind":
        missing = [] if bottle.acid_mol_l is not None else ["strength"]
        missing += [] if bottle.acid_ml is not None else ["volume"]
        fact = "acid_mol_l" if bottle.acid_mol_l is None else "acid_ml"
    else:
        return
    if missing and bottle.line is Line.CATION:
        yield DOSE_UNSTATED.finding(
            f"Acid was added, but its {say_list(missing)} {'are' if len(missing) > 1 else 'is'} not stated.",
            fact,
            bottle=bottle.key,
        )
    late = case.costs.get(Broken.ACID_TIME)
    if late:
        minutes = case.start.minutes_until(case.kept.acid_at) or 0.0
        yield LATE.finding(
            f"The acid was added {say_span(minutes)} after collection, later than rulebook "
            f"{case.book.name}, allows for {say_list(late)}.",
            "acid_at" if fact != "seen.acid_added_mol_l" else "seen.acid_added_at",
            bottle=bottle.key,
            ions=late,
        )
