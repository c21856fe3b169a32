"""Asking the group about bottles on hold, reminding it, and handing questions to the lab manager.

One question a cause, not one a bottle: forty warm bottles are one question with forty bottles.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Min
from django.utils.translation import gettext_lazy as _

from intake import mails, record
from intake.actions.checking import suggestion_for
from intake.actions.judging import rulebook_of
from intake.actions.steps import claim
from intake.errors import SomebodyWasFaster
from intake.models import AskedBottle, Bottle, ClockRow, Question, User
from intake.permissions import require
from intake.rules.choosing import Cause, Choice, causes_of, choices_for, useful_time
from intake.rules.earning import in_order
from intake.states import BottleState

#: A box that stands open longer than this does not keep the group waiting for its questions (our
#: choice, no source).
OPEN_FOR = timedelta(hours=2)

RELATED = ("sample", "consignment__group", "consignment__rulebook", "arrival")


@dataclass(frozen=True, slots=True)
class _Waiting:
    """A bottle on hold and one cause of it."""

    bottle: Bottle
    cause: Cause

    @property
    def ions(self) -> list[str]:
        left = [ion for ion in self.bottle.ions if ion not in self.bottle.dropped]
        return [ion for ion in left if not self.cause.ions or ion in self.cause.ions]

    @property
    def some_left(self) -> bool:
        return len(self.ions) < len(self.bottle.ions) - len(self.bottle.dropped)


@transaction.atomic
def ask_about(bottles: Iterable[Bottle], *, by: User, at: datetime) -> list[Question]:
    """Ask the groups about those of ``bottles`` that are on hold; returns the new questions.

    A bottle whose cause is asked about already joins that question. The group is told by one
    mail a consignment.
    """
    require(by, "question.ask")
    waiting: dict[tuple[int, int, str], list[_Waiting]] = defaultdict(list)
    for bottle in bottles:
        if bottle.state != BottleState.ON_HOLD or bottle.arrival_id is None:
            continue
        for cause in _causes(bottle):
            waiting[bottle.consignment_id, bottle.arrival_id, cause.code].append(_Waiting(bottle, cause))
    made = [question for rows in waiting.values() if (question := _ask(rows, by=by, at=at)) is not None]
    for consignment in {question.consignment_id for question in made}:
        mine = [question.pk for question in made if question.consignment_id == consignment]
        mails.questions_asked(mine, at=at)
    return made


def _causes(bottle: Bottle) -> tuple[Cause, ...]:
    check = bottle.checks.filter(undone_at__isnull=True).first()
    said = bottle.decision_reason if bottle.decided_by_id else ""
    doubt = said or (check.remark if check else "")
    return causes_of(suggestion_for(bottle), rulebook_of(bottle.consignment.rulebook), doubt)


def _ask(rows: list[_Waiting], *, by: User, at: datetime) -> Question | None:
    """Put ``rows`` into the unanswered question about their cause; the question if it is new."""
    first = rows[0]
    bottle, cause = first.bottle, first.cause
    scope = {"consignment": bottle.consignment, "arrival": bottle.arrival, "code": cause.code}
    question = Question.objects.filter(**scope, answered_at__isnull=True).first()
    new = question is None
    if question is None:
        times = useful_time(at, None)
        question = Question.objects.create(
            **scope,
            what=cause.what,
            sentence=cause.sentence,
            asked_at=at,
            asked_by=by,
            remind_at=times.remind_at,
            falls_at=times.falls_at,
        )
    there = set(question.asked.values_list("bottle_id", flat=True))
    joining = [row for row in rows if row.bottle.pk not in there]
    if not joining:
        return None
    AskedBottle.objects.bulk_create(
        AskedBottle(question=question, bottle=row.bottle, sentence=row.cause.sentence, ions=row.ions)
        for row in joining
    )
    _bring_up_to_date(question, joining, at=at)
    _write_asked(question, joining, by=by, at=at)
    return question if new else None


def _bring_up_to_date(question: Question, joining: list[_Waiting], *, at: datetime) -> None:
    """Ions, choices and times of ``question`` with the bottles that join it."""
    book = rulebook_of(question.consignment.rulebook)
    some_left = Choice.DROP in question.choices or any(row.some_left for row in joining)
    ions = frozenset(question.ions).union(*(row.ions for row in joining))
    question.ions = list(in_order(ions))
    question.choices = [str(choice) for choice in choices_for(question.code, book, some_left=some_left)]
    clocks = ClockRow.objects.keepable(at).filter(bottle__asked__question=question)
    question.useful_until = clocks.aggregate(soonest=Min("due_at"))["soonest"]
    times = useful_time(question.asked_at, question.useful_until)
    question.remind_at, question.falls_at = times.remind_at, times.falls_at
    question.save(update_fields=["ions", "choices", "useful_until", "remind_at", "falls_at"])


def _write_asked(question: Question, joining: list[_Waiting], *, by: User, at: datetime) -> None:
    """The departure and the consultation, as ISO/IEC 17025:2017 7.4.3 wants them recorded."""
    people = question.consignment.group.members.filter(is_active=True)
    record.write(
        by=by,
        at=at,
        verb="question.ask",
        subject=f"question {question}",
        consignment=question.consignment,
        after={
            "found": question.sentence,
            "bottles": [row.bottle.number for row in joining],
            "ions concerned": question.ions,
            "answers allowed": question.choices,
            "useful until": question.useful_until,
            "people asked": [record.private(person, str(person)) for person in people],
        },
    )


def held_bottles() -> Iterable[Bottle]:
    """Bottles on hold with all that asking about them reads."""
    return Bottle.objects.filter(state=BottleState.ON_HOLD).select_related(*RELATED)


@transaction.atomic
def ask_about_boxes_left_open(*, by: User, at: datetime) -> list[Question]:
    """Ask about bottles on hold whose arrival nobody has closed for ``OPEN_FOR``.

    Their clocks run while the box waits to be finished.
    """
    forgotten = held_bottles().filter(
        arrival__closed_at__isnull=True,
        arrival__entered_at__lte=at - OPEN_FOR,
        asked__isnull=True,
    )
    return ask_about(forgotten, by=by, at=at)


def remind(*, by: User, at: datetime) -> list[Question]:
    """Remind the groups, once, of open questions at half of their useful time."""
    require(by, "question.remind")
    due = Question.objects.open().filter(reminded_at__isnull=True, remind_at__lte=at)
    return [question for question in due if _step(question, "reminded_at", "question.remind", by=by, at=at)]


def hand_over(*, by: User, at: datetime) -> list[Question]:
    """Hand open questions that are nearly of no use any more to the lab manager."""
    require(by, "question.remind")
    due = Question.objects.open().filter(fell_at__isnull=True, falls_at__lte=at)
    return [question for question in due if _step(question, "fell_at", "question.fall", by=by, at=at)]


def _step(question: Question, field: str, verb: str, *, by: User, at: datetime) -> bool:
    """Note one step of an unanswered question and tell of it; false if somebody was faster."""
    with suppress(SomebodyWasFaster), transaction.atomic():
        claim(
            Question.objects.filter(pk=question.pk, answered_at__isnull=True, **{field: None}),
            _("The question was answered a moment ago."),
            **{field: at},
        )
        setattr(question, field, at)
        record.write(
            by=by,
            at=at,
            verb=verb,
            subject=f"question {question}",
            consignment=question.consignment,
            after={"useful until": question.useful_until},
        )
        mail = mails.question_reminded if field == "reminded_at" else mails.question_fell
        mail(question.pk, at=at)
        return True
    return False
