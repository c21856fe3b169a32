"""The grade of the acid: what a bottle of acid itself brings into the sample."""

from __future__ import annotations

import re
from collections.abc import Iterator

from intake.rules.earning import Case
from intake.rules.examples import example
from intake.rules.facts import AcidKind, Line
from intake.rules.findings import Consequence, Rule, after_analysis, at_the_bench, before_sending
from intake.rules.judgement import Finding, Weight

#: Words on acids that were never made for analysis; our own list, no published source.
COARSE = re.compile(r"\b(tech(nical)?|commercial|industrial|household|cleaning|battery)\b", re.IGNORECASE)

COARSE_GRADE = Rule(
    "acid.grade_coarse",
    (Weight.CAUTION,),
    "Acid of a grade that is not made for analysis",
    "Such acid carries sodium, potassium, calcium and ammonium of its own, which then stand in the result.",
    (
        before_sending("Use acid of trace-analysis grade; ask the laboratory for some."),
        at_the_bench("Run a blank of the same acid, if the group can send some of it."),
        after_analysis("State the grade with the value and subtract the acid's blank if there is one."),
    ),
    "common practice; EPA Method 200.7 Rev 4.4 (1994) section 7 asks for acids of high purity (from memory)",
    example(cation={"acid_grade": "technical"}),
    Consequence.RESERVATION,
)
RULES = (COARSE_GRADE,)


def findings(case: Case) -> Iterator[Finding]:
    """What the stated grade of the acid in a bottle for cations may cost."""
    bottle = case.bottle
    if not bottle.acid_grade or bottle.line is not Line.CATION:
        return
    if case.kept.acid not in (AcidKind.NONE, None) and COARSE.search(bottle.acid_grade):
        yield COARSE_GRADE.finding(
            f"The acid is of the grade “{bottle.acid_grade.strip()}”, which is not made for analysis.",
            "acid_grade",
            bottle=bottle.key,
            ions=case.asked,
        )
