"""Answering a question: the group's word acts at once on every bottle that waited for it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake import record
from intake.actions.checking import suggestion_for
from intake.actions.judging import rulebook_of
from intake.actions.questioning import RELATED, ask_about
from intake.actions.ruling import carry_out, give_up
from intake.actions.steps import claim, take_token
from intake.choices import Decision
from intake.errors import EntryProblem, MoveNotAllowed
from intake.models import Answer, AskedBottle, Bottle, Question, User
from intake.permissions import require
from intake.rules.choosing import Choice, causes_of, disclaimer
from intake.rules.outcomes import Reception
from intake.rules.suggesting import BottleOutcome
from intake.states import BottleState

AWAY = (Choice.DISCARD, Choice.RESEND)


def _chosen(question: Question, choice: str) -> Choice:
    if choice not in question.choices:
        raise EntryProblem(
            _("Choose one of the listed answers; the rulebook allows no other here."),
            {"choice": _("Choose one of the listed answers.")},
        )
    return Choice(choice)


def _require_words(question: Question, by: User, words: str) -> None:
    """Who answers for a group says how the group was asked: the consultation is on record."""
    own = by.membership_set.filter(group=question.consignment.group_id).exists()
    if not own and not words:
        raise EntryProblem(
            _("You answer for the group. Say whom you asked, how, and what was said."),
            {"words": _("Say whom you asked, how, and what was said.")},
        )


def _waiting(question: Question) -> list[AskedBottle]:
    asked = question.asked.filter(bottle__state=BottleState.ON_HOLD)
    return list(asked.select_related(*(f"bottle__{name}" for name in RELATED)))


@transaction.atomic
def answer_question(
    question: Question, *, by: User, at: datetime, choice: str, words: str = "", token: str = ""
) -> Answer:
    """Answer ``question`` and act on its bottles, with the person who answers as the actor.

    A bottle that waits for another answer too stays on hold until that is given, unless it is to
    be discarded. Reception's permission is not asked: the answer decides, within the choices
    that the rulebook allows.
    """
    require(by, "question.answer", question)
    take_token(token, by=by, verb="question.answer", at=at)
    words = words.strip()
    chosen = _chosen(question, choice)
    _require_words(question, by, words)
    claim(
        Question.objects.filter(pk=question.pk, answered_at__isnull=True),
        _("Somebody else has answered this question. The answer stands on its page."),
        answered_at=at,
    )
    question.answered_at = at
    waiting = _waiting(question)
    if not waiting:
        raise MoveNotAllowed(_("No bottle waits for this answer any more; the laboratory has decided."))
    answer = Answer.objects.create(
        question=question,
        choice=chosen,
        words=words,
        disclaimer=disclaimer(question.sentence, question.ions) if chosen is Choice.RESERVATION else "",
        answered_at=at,
        answered_by=by,
    )
    _write(answer, waiting, by=by, at=at)
    for asked in waiting:
        _act(asked, answer, by=by, at=at)
    return answer


def _write(answer: Answer, waiting: Sequence[AskedBottle], *, by: User, at: datetime) -> None:
    record.write(
        by=by,
        at=at,
        verb="question.answer",
        subject=f"question {answer.question}",
        consignment=answer.question.consignment,
        after={
            "answer": answer.choice,
            "bottles": [asked.bottle.number for asked in waiting],
            **({"disclaimer": answer.disclaimer} if answer.disclaimer else {}),
        },
        reason=answer.words,
    )


def _because(sentence: str, answer: Answer) -> str:
    """The reason that goes with a decision: what was found, and the group's word."""
    said = f" “{answer.words}”" if answer.words else ""
    return f"{sentence} The group's word: {answer.choice}.{said}"


def _act(asked: AskedBottle, answer: Answer, *, by: User, at: datetime) -> None:
    bottle, choice = asked.bottle, Choice(answer.choice)
    because = _because(asked.sentence, answer)
    if choice in AWAY:
        carry_out(bottle, by=by, at=at, decision=Decision.REFUSED, reason=because)
        return
    if choice is Choice.DROP:
        give_up(bottle, dict.fromkeys(asked.ions, because), by=by, at=at, reason=because)
    if bottle.asked.filter(question__answered_at__isnull=True).exists():
        return
    _settle(bottle, because, by=by, at=at)


def _settle(bottle: Bottle, because: str, *, by: User, at: datetime) -> None:
    """Decide for a bottle that waits for no further answer, by the rules and by what was answered."""
    suggestion = suggestion_for(bottle)
    if suggestion.give_up:
        give_up(
            bottle, dict.fromkeys(suggestion.give_up, suggestion.why), by=by, at=at, reason=suggestion.why
        )
        suggestion = suggestion_for(bottle)
    nothing_left = bool(bottle.ions) and not set(bottle.ions) - set(bottle.dropped)
    if nothing_left or suggestion.reception is Reception.REFUSED:
        carry_out(bottle, by=by, at=at, decision=Decision.REFUSED, reason=because)
        return
    reserved = AskedBottle.objects.filter(
        bottle=bottle,
        question__arrival=bottle.arrival,
        question__answer__choice=Choice.RESERVATION,
    ).select_related("question__answer")
    if suggestion.reception is Reception.ON_HOLD and (not reserved or _unasked(bottle, suggestion)):
        ask_about([bottle], by=User.objects.system(), at=at)
        return
    reasons = [f"{disclaimer(one.sentence, one.ions)} {_word(one.question.answer)}" for one in reserved]
    if not reasons and suggestion.reception is Reception.WITH_RESERVATION:
        reasons = [suggestion.why]
    if reasons:
        carry_out(bottle, by=by, at=at, decision=Decision.RESERVED, reason=" ".join(reasons))
    else:
        carry_out(bottle, by=by, at=at, decision=Decision.ACCEPTED, reason=because)


def _unasked(bottle: Bottle, suggestion: BottleOutcome) -> bool:
    """Whether something came up since that nobody has asked the group about."""
    asked = set(bottle.asked.values_list("question__code", flat=True))
    book = rulebook_of(bottle.consignment.rulebook)
    return any(cause.code not in asked for cause in causes_of(suggestion, book))


def _word(answer: Answer) -> str:
    return _because("", answer).strip()
