"""Can the ions asked of a bottle be measured on its line, and is there a limit for them?"""

from __future__ import annotations

from collections.abc import Iterator

from intake.rules.earning import Case, in_order
from intake.rules.examples import example
from intake.rules.facts import Line
from intake.rules.findings import Consequence, Rule, after_analysis, at_the_bench, before_sending
from intake.rules.ions import BY_NAME, of_line
from intake.rules.judgement import Finding, Weight
from intake.rules.words import say_list

UNKNOWN = Rule(
    "ion.unknown",
    (Weight.BAR,),
    "An ion nobody measures",
    "The two lines of an ion chromatograph measure the ions listed; anything else is another analysis.",
    (before_sending("Pick the ions from the list of the line."),),
    "the list of ions of the two lines",
    example(anion={"ions": frozenset({"chloride", "unobtainium"})}),
    Consequence.LOST,
)
OTHER_LINE = Rule(
    "ion.other_line",
    (Weight.BAR,),
    "An ion of the other line",
    "Anions and cations are measured on different lines from different bottles, because only the "
    "bottle for cations may be acidified.",
    (
        before_sending("Ask for the ion in a bottle of its own line, or fill such a bottle."),
        at_the_bench("Ask the submitter whether another bottle of the sample may be used."),
    ),
    "the list of ions of the two lines",
    example(anion={"ions": frozenset({"chloride", "sodium"})}),
    Consequence.LOST,
)
NONE_ASKED = Rule(
    "ion.none_asked",
    (Weight.CAUTION,),
    "No ion asked",
    "A bottle of which nothing is asked has no clock and no place in a run.",
    (
        before_sending("Pick the ions you want from this bottle, or take the bottle off the list."),
        at_the_bench("Ask the submitter what is wanted from the bottle."),
    ),
    "follows from the facts themselves",
    example(anion={"ions": frozenset()}),
    Consequence.WORD,
)
NO_LIMIT = Rule(
    "ion.no_limit",
    (Weight.CAUTION,),
    "No holding time known for an ion",
    "The rulebook names no time for the ion, so nobody can say whether it was measured in time. "
    "Acetate and formate are eaten by bacteria within days.",
    (
        before_sending("Bring the bottle as soon as you can, cold and filtered."),
        at_the_bench("The lab manager sets a limit in the next version of the rulebook."),
        after_analysis("State the age of the sample with the value."),
    ),
    "no limit for the ion in the documents the rulebook cites",
    example(anion={"ions": frozenset({"chloride", "acetate"})}),
)
RULES = (UNKNOWN, OTHER_LINE, NONE_ASKED, NO_LIMIT)


def findings(case: Case) -> Iterator[Finding]:
    """What is wrong with the ions asked of a bottle."""
    bottle = case.bottle
    if not case.asked:
        yield NONE_ASKED.finding("No ion is asked of this bottle.", "ions", bottle=bottle.key)
        return
    if len(case.earned) < len(case.asked):
        yield from _misplaced(case)
    unlimited = [ion for ion, earned in case.earned.items() if earned.row.limit is None]
    if len(case.earned) < len(case.asked):
        unlimited += [ion for ion in case.asked if ion not in case.earned and _fits(ion, bottle.line)]
    if unlimited:
        ions = in_order(frozenset(unlimited))
        yield NO_LIMIT.finding(
            f"Rulebook {case.book.name}, sets no holding time for {say_list(ions)}; "
            "the laboratory has to set one.",
            "ions",
            bottle=bottle.key,
            ions=ions,
        )


def _fits(ion: str, line: Line) -> bool:
    """Whether ``ion`` is measured on ``line``."""
    return ion in BY_NAME and BY_NAME[ion].line is line


def _misplaced(case: Case) -> Iterator[Finding]:
    bottle = case.bottle
    unknown = tuple(ion for ion in case.asked if ion not in BY_NAME)
    if unknown:
        yield UNKNOWN.finding(
            f"No line measures {say_list(unknown, 'or')}. The {bottle.line.value} line measures "
            f"{say_list(of_line(bottle.line))}.",
            "ions",
            bottle=bottle.key,
            ions=unknown,
        )
    other = tuple(ion for ion in case.asked if ion in BY_NAME and BY_NAME[ion].line is not bottle.line)
    if other:
        yield OTHER_LINE.finding(
            f"This bottle is for the {bottle.line.value} line, which cannot measure {say_list(other, 'or')}.",
            "ions",
            bottle=bottle.key,
            ions=other,
        )
