"""What can be wrong with a dose of acid: the catalogue entries of :mod:`intake.rules.acid`."""

from __future__ import annotations

from intake.rules.acidifying import CARE
from intake.rules.examples import example
from intake.rules.findings import COMMON_PRACTICE, Consequence, Rule, at_the_bench, before_sending
from intake.rules.judgement import Weight

_STRIP = at_the_bench(
    f"Check the pH on a portion poured off, never in the bottle; add acid if it is too high. {CARE}."
)
_PREDICTED = (
    "pH worked out from dose, volume and alkalinity with the Davies equation; agrees with PHREEQC within "
    "0.07 in ordinary waters"
)

DOSE_SHORT = Rule(
    "acid.dose_short",
    (Weight.CAUTION,),
    "Too little acid for the pH wanted",
    "The usual 0.5 mL of 1 mol/L in 50 mL gives pH 2.04 even in pure water, and alkalinity takes its share. "
    "Above pH 2.5 calcium, magnesium and ammonium are not surely kept; rulebooks for metals ask for less "
    "than 2.",
    (before_sending(f"Add the missing acid and state the whole dose. {CARE}."), _STRIP),
    f"{_PREDICTED}; pH below 2: EPA Method 200.7 Rev 4.4 (1994) 8.1 to 8.3; 2.5 is a house choice",
    example(sample={"alkalinity_meq_l": 8, "ec_value": 800}),
    Consequence.NONE,
)

DOSE_USED_UP = Rule(
    "acid.dose_used_up",
    (Weight.CAUTION,),
    "Alkalinity uses up the whole dose",
    "Each meq of alkalinity takes a mmol of acid. This water takes all of it, so the bottle counts as not "
    "acidified, and what carbonate it holds may still precipitate.",
    (before_sending(f"Add the missing acid slowly and state the whole dose. {CARE}."), _STRIP),
    _PREDICTED,
    example(sample={"alkalinity_meq_l": 14, "ec_value": 1400}),
    Consequence.RESERVATION,
)

ALKALINITY_UNKNOWN = Rule(
    "acid.alkalinity_unknown",
    (Weight.NOTE,),
    "The acid may not be enough, the alkalinity decides",
    "From this EC the water may hold more alkalinity than the dose can take. Above 600 µS/cm it is worth "
    "asking.",
    (
        before_sending(
            "State the alkalinity if you know it (mg/L as CaCO3 divided by 50.04 is meq/L), or test the pH "
            "of a portion poured off."
        ),
        _STRIP,
    ),
    f"most alkalinity that EC allows, computed with PHREEQC speciation; {_PREDICTED}",
    example(sample={"ec_value": 900}),
    Consequence.NONE,
)

DOSE_STRONG = Rule(
    "acid.dose_strong",
    (Weight.CAUTION,),
    "Far more acid than wanted",
    "Below pH 1 acid upsets the separation of cations; usually volume or strength were noted wrongly.",
    (
        before_sending("Check volume and strength of the acid: mL, mol/L."),
        at_the_bench(f"Check the pH on a portion poured off and dilute before injecting. {CARE}."),
    ),
    "ISO 14911 warns of strong acid (from memory, check before use); the limit is a house choice",
    example(cation={"acid_ml": 7}),
    Consequence.NONE,
)

GAS = Rule(
    "acid.gas",
    (Weight.CAUTION,),
    "Acid frees much gas in this water",
    "Each meq of alkalinity frees a mmol of carbon dioxide. A bottle closed at once comes under pressure.",
    (
        before_sending(
            f"Add the acid slowly and leave the bottle open for a minute before closing it. {CARE}."
        ),
        at_the_bench(
            "Treat a swollen bottle as a hazard: goggles and gloves, open it slowly, away from people."
        ),
    ),
    f"one mmol of gas for each meq, chemistry; above 10 meq/L: {COMMON_PRACTICE}",
    example(sample={"alkalinity_meq_l": 27, "ec_value": 2300}, cation={"acid_ml": 2}),
    Consequence.NONE,
)

RULES: tuple[Rule, ...] = (DOSE_SHORT, DOSE_USED_UP, ALKALINITY_UNKNOWN, DOSE_STRONG, GAS)
