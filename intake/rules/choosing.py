"""What the submitter can be asked about a bottle on hold, and which answers the rulebook allows.

ISO/IEC 17025:2017 7.4.3: the customer is asked before the work goes on, and a disclaimer names the
results that a departure may affect. Wisconsin NR 149.46(2)(a)1 does not leave the choice to the
customer; a rulebook that refuses departures therefore offers no reservation for one.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from intake.rules.book import Outcome, Rulebook
from intake.rules.catalogue import BY_CODE
from intake.rules.findings import Consequence
from intake.rules.outcomes import Reception, outcome_of
from intake.rules.suggesting import BottleOutcome
from intake.rules.words import say_list

#: The cause of a bottle on hold to which the rules do not object: a person's doubt.
DOUBT = "reception.doubt"
#: After which part of the time in which an answer is useful somebody is reminded, and after which
#: the lab manager takes over (our choice, no source).
REMIND_AFTER, FALLS_AFTER = 0.5, 0.75
#: How long an answer is useful where no clock can be kept any more (our choice, no source).
WITHOUT_CLOCK = timedelta(days=14)


class Choice(StrEnum):
    """What the group can want for the bottles that a question is about."""

    RESERVATION = "go on with a reservation"
    DROP = "give up the ions concerned"
    DISCARD = "discard the bottles"
    RESEND = "discard the bottles, new ones will come"


@dataclass(frozen=True, slots=True)
class Cause:
    """Why one bottle is on hold. ``ions`` are those it touches; empty means all of them."""

    code: str
    what: str
    sentence: str
    ions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Useful:
    """In which time an answer is useful: when to remind, and when the lab manager takes over."""

    remind_at: datetime
    falls_at: datetime


def causes_of(outcome: BottleOutcome, book: Rulebook, doubt: str = "") -> tuple[Cause, ...]:
    """Why a bottle with this ``outcome`` is on hold, each cause once.

    These are the findings that want the submitter's word. Without any, it is what a person
    wrote (``doubt``); without that, whatever else the rules object to.
    """
    asking = [finding for finding in outcome.findings if outcome_of(finding, book) is Reception.ON_HOLD] or (
        [] if doubt else list(outcome.findings)
    )
    if not asking:
        return (Cause(DOUBT, "Reception is in doubt", doubt or "Reception put the bottle on hold."),)
    found: dict[str, Cause] = {}
    for finding in asking:
        former = found.get(finding.code)
        ions = finding.ions if former is None else tuple(dict.fromkeys((*former.ions, *finding.ions)))
        sentence = finding.sentence if former is None else former.sentence
        found[finding.code] = Cause(finding.code, BY_CODE[finding.code].what, sentence, ions)
    return tuple(found.values())


def choices_for(code: str, book: Rulebook, *, some_left: bool) -> tuple[Choice, ...]:
    """The answers allowed to a question about ``code``.

    ``some_left`` says whether a bottle keeps an ion when those concerned are given up.
    """
    rule = BY_CODE.get(code)
    consequence = Consequence.WORD if rule is None else rule.consequence
    departure = consequence in (Consequence.WORD, Consequence.DEPARTURE)
    allowed = []
    if consequence is not Consequence.LOST and not (departure and book.departure is Outcome.REFUSE):
        allowed.append(Choice.RESERVATION)
    if some_left:
        allowed.append(Choice.DROP)
    return (*allowed, Choice.DISCARD, Choice.RESEND)


def useful_time(asked_at: datetime, until: datetime | None) -> Useful:
    """When to remind of a question asked ``asked_at`` whose answer is useful ``until``."""
    span = (until or asked_at + WITHOUT_CLOCK) - asked_at
    return Useful(asked_at + span * REMIND_AFTER, asked_at + span * FALLS_AFTER)


def disclaimer(sentence: str, ions: Collection[str]) -> str:
    """The sentence that goes with the results: which may be affected, and by what."""
    which = say_list(ions) if ions else "all ions of the bottle"
    return f"Results for {which} may be affected. {sentence}"
