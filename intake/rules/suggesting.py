"""What the rules suggest for a bottle as a whole, put together from the outcomes of its ions.

A suggestion: people decide. What is lost for one ion does not take the others with it, and
what waits for the submitter's word holds the bottle (ISO/IEC 17025:2017 7.4.3: the customer is
asked before the work goes on).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from intake.rules.book import Rulebook
from intake.rules.facts import BottleFacts
from intake.rules.judgement import Finding, Judgement
from intake.rules.outcomes import IonOutcome, Reception, outcome_of, outcomes
from intake.rules.words import say_list


@dataclass(frozen=True, slots=True)
class BottleOutcome:
    """What the rules suggest for one bottle.

    ``reception`` is meant for the bottle after ``give_up``, the ions that cannot be measured
    from it, are given up; when that is all of them the bottle is refused instead.
    ``findings`` are those behind it, the heaviest outcome first.
    """

    bottle: str
    reception: Reception
    ions: tuple[IonOutcome, ...] = ()
    give_up: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = field(default_factory=tuple)

    @property
    def clear(self) -> bool:
        """Whether the rules have no objection to any ion of the bottle."""
        return self.reception is Reception.ACCEPTED and not self.give_up

    @property
    def why(self) -> str:
        """The sentences of the findings behind it, as one text; empty when it is clear."""
        return " ".join(dict.fromkeys(finding.sentence for finding in self.findings))

    @property
    def sentence(self) -> str:
        """What is suggested, in one sentence."""
        what = f"The rules suggest: {self.reception.value}"
        if self.give_up:
            what = f"{what}, without {say_list(self.give_up)}"
        return f"{what}."


def suggest(
    judgement: Judgement, bottles: Sequence[BottleFacts], book: Rulebook
) -> tuple[BottleOutcome, ...]:
    """The suggestion for each of ``bottles``, in their order; all of one sample's judgement."""
    of_ions = outcomes(bottles, judgement.findings, book)
    return tuple(
        _of_bottle(
            bottle,
            tuple(ion for ion in of_ions if ion.bottle == bottle.key),
            tuple(finding for finding in judgement.findings if finding.bottle in ("", bottle.key)),
            book,
        )
        for bottle in bottles
    )


def _of_bottle(
    bottle: BottleFacts, ions: tuple[IonOutcome, ...], findings: tuple[Finding, ...], book: Rulebook
) -> BottleOutcome:
    weighed = [(finding, outcome_of(finding, book)) for finding in findings]
    behind = sorted(
        (pair for pair in weighed if pair[1] is not Reception.ACCEPTED), key=lambda pair: -pair[1].rank
    )
    causes = tuple(finding for finding, _ in behind)
    if not ions:
        # Nothing asked or nothing left: only findings on the bottle itself can speak.
        hardest = behind[0][1] if behind else Reception.ACCEPTED
        return BottleOutcome(bottle.key, hardest, findings=causes)
    lost = tuple(ion.ion for ion in ions if ion.reception is Reception.REFUSED)
    left = [ion.reception for ion in ions if ion.reception is not Reception.REFUSED]
    if not left:
        return BottleOutcome(bottle.key, Reception.REFUSED, ions, findings=causes)
    hardest = max(left, key=lambda reception: reception.rank)
    return BottleOutcome(bottle.key, hardest, ions, lost, causes)
