"""What reception can do with each ion of each bottle, as the findings and the book suggest.

Per ion, so that what fails nitrate need not touch chloride (ISO/IEC 17025:2017 7.4.3: a
disclaimer names the results it concerns). A suggestion: people decide.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from intake.rules.book import Outcome, Rulebook
from intake.rules.catalogue import BY_CODE
from intake.rules.earning import in_order
from intake.rules.facts import BottleFacts
from intake.rules.findings import Consequence
from intake.rules.judgement import Finding, Weight


class Reception(StrEnum):
    """How an ion of a bottle is taken in, from the mildest to the hardest."""

    ACCEPTED = "accepted"
    WITH_RESERVATION = "accepted with a reservation"
    ON_HOLD = "on hold for the submitter's word"
    REFUSED = "refused"

    @property
    def rank(self) -> int:
        return list(Reception).index(self)


#: What a departure from the rulebook means, by the choice the rulebook makes. ISO/IEC 17025
#: 7.4.3 asks the customer; Wisconsin NR 149.46(2)(a) refuses drinking water.
_DEPARTURE = {
    Outcome.ACCEPT: Reception.WITH_RESERVATION,
    Outcome.ACCEPT_WITH_WORD: Reception.ON_HOLD,
    Outcome.REFUSE: Reception.REFUSED,
}

_PLAIN = {
    Consequence.NONE: Reception.ACCEPTED,
    Consequence.RESERVATION: Reception.WITH_RESERVATION,
    Consequence.WORD: Reception.ON_HOLD,
    Consequence.LOST: Reception.REFUSED,
}


@dataclass(frozen=True, slots=True)
class IonOutcome:
    """The outcome suggested for one ion of one bottle; ``codes`` are the findings behind it."""

    bottle: str
    ion: str
    reception: Reception
    codes: tuple[str, ...] = ()


def outcome_of(finding: Finding, book: Rulebook) -> Reception:
    """What one finding means for the ions it touches. A note never changes an outcome."""
    if finding.weight is Weight.NOTE:
        return Reception.ACCEPTED
    consequence = BY_CODE[finding.code].consequence
    if consequence is Consequence.DEPARTURE:
        return _DEPARTURE[book.departure]
    return _PLAIN[consequence]


def outcomes(
    bottles: Sequence[BottleFacts], findings: Iterable[Finding], book: Rulebook
) -> tuple[IonOutcome, ...]:
    """The outcome of every ion asked, bottle by bottle in the order of their keys.

    A finding without ions touches every ion of its bottle; one without a bottle touches the
    bottles of the whole sample.
    """
    judged = [(finding, outcome_of(finding, book)) for finding in findings]
    suggested = []
    for bottle in sorted(bottles, key=lambda bottle: bottle.key):
        own = [(finding, out) for finding, out in judged if finding.bottle in ("", bottle.key)]
        for ion in in_order(bottle.ions - bottle.dropped):
            touching = [
                (finding.code, out) for finding, out in own if not finding.ions or ion in finding.ions
            ]
            hardest = max((out for _, out in touching), key=lambda out: out.rank, default=Reception.ACCEPTED)
            codes = tuple(code for code, out in touching if out is hardest and out is not Reception.ACCEPTED)
            suggested.append(IonOutcome(bottle.key, ion, hardest, codes))
    return tuple(suggested)


def outcome_of_bottle(of_ions: Iterable[IonOutcome]) -> Reception:
    """The outcome of a whole bottle: refused only when every ion is, on hold when any is.

    A bottle of which no ion is asked waits for the submitter's word.
    """
    found = {ion.reception for ion in of_ions}
    if found == {Reception.REFUSED}:
        return Reception.REFUSED
    if Reception.ON_HOLD in found or not found:
        return Reception.ON_HOLD
    return Reception.ACCEPTED if found == {Reception.ACCEPTED} else Reception.WITH_RESERVATION
