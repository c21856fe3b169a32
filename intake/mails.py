"""Mails that people get. Sent after the transaction; a mail server that is away loses nothing else."""

from __future__ import annotations

import logging
from collections.abc import Iterable

from django.conf import settings
from django.core.mail import send_mail
from django.template.loader import render_to_string

from intake.choices import Role
from intake.models import Arrival, Bottle, Consignment, DateRequest, Question, RecordEntry, Statement, User
from intake.rules.words import say_list
from intake.telling import tell

logger = logging.getLogger(__name__)


def _send(template: str, subject: str, to: Iterable[str], context: dict[str, object]) -> None:
    addresses = sorted(set(to))
    if not addresses:
        return
    text = render_to_string(f"mail/{template}.txt", {**context, "site": settings.SITE_ADDRESS})
    for address in addresses:
        try:
            send_mail(subject, text, None, [address])
        except OSError:
            logger.exception("a mail of kind %s could not be handed to the mail server", template)


def members(consignment: Consignment) -> list[str]:
    """Addresses of the group's people who may sign in."""
    return list(consignment.group.members.filter(is_active=True).values_list("email", flat=True))


def managers() -> list[str]:
    return list(User.objects.filter(role=Role.MANAGER, is_active=True).values_list("email", flat=True))


def consignment_sent(pk: int) -> None:
    """To the group: what was sent and what to do next; to the managers: what is coming."""
    consignment = Consignment.objects.select_related("group", "rulebook").get(pk=pk)
    context = {"consignment": consignment, "bottles": consignment.bottles.count()}
    _send("sent_group", f"Sent: {consignment}", members(consignment), context)
    _send("sent_lab", f"Announced: {consignment}", managers(), context)


def date_changed(pk: int, sentence: str) -> None:
    """To both sides: what became of the day of analysis; ``sentence`` says who did what."""
    date = DateRequest.objects.select_related("consignment__group").get(pk=pk)
    consignment = date.consignment
    context = {"date": date, "consignment": consignment, "sentence": sentence}
    to = [*members(consignment), *managers()]
    _send("date", f"Day of analysis {date.get_state_display()}: {consignment}", to, context)


def consignment_withdrawn(pk: int) -> None:
    consignment = Consignment.objects.select_related("group").get(pk=pk)
    _send("withdrawn", f"Withdrawn: {consignment}", managers(), {"consignment": consignment})


def consignment_amended(entry_pk: int) -> None:
    """To the managers: what was changed after sending, in the words of the record."""
    entry = RecordEntry.objects.select_related("consignment__group").get(pk=entry_pk)
    consignment = entry.consignment
    context = {"consignment": consignment, "told": tell(entry, consignment.zone)}
    _send("amended", f"Changed after sending: {consignment}", managers(), context)


def arrival_closed(pk: int) -> None:
    """To each group with a part in the arrival: what came, what did not, what is wrong."""
    arrival = Arrival.objects.get(pk=pk)
    for consignment in arrival.consignments.select_related("group"):
        bottles = (
            Bottle.objects.filter(consignment=consignment).with_scanned(arrival).select_related("sample")
        )
        expected = [bottle for bottle in bottles if bottle.state == "expected"]
        context = {
            "arrival": arrival,
            "consignment": consignment,
            "came": [bottle for bottle in bottles if bottle.arrival_id == arrival.pk],
            "unchecked": [bottle for bottle in expected if bottle.scanned],
            "missing": [bottle for bottle in bottles if bottle.state == "missing"],
            "to_come": [bottle for bottle in expected if not bottle.scanned],
        }
        _send("arrived", f"Arrived: {consignment}", members(consignment), context)


def _questions(pks: Iterable[int]) -> list[Question]:
    related = ("consignment__group", "arrival")
    return list(Question.objects.filter(pk__in=list(pks)).select_related(*related).most_urgent_first())


def questions_asked(pks: Iterable[int]) -> None:
    """To the group: all that was asked about one consignment, in one mail."""
    questions = _questions(pks)
    consignment = questions[0].consignment
    context = {"questions": questions, "consignment": consignment, "until": questions[0].useful_until}
    _send("questions_asked", f"Your word is needed: {consignment}", members(consignment), context)


def question_reminded(pk: int) -> None:
    """To the group: a question is still open and half of its time is over."""
    (question,) = _questions([pk])
    context = {"question": question, "consignment": question.consignment}
    subject = f"Still waiting for your word: {question.consignment}"
    _send("question_reminded", subject, members(question.consignment), context)


def question_fell(pk: int) -> None:
    """To the managers: the group has not answered, and the time is nearly over."""
    (question,) = _questions([pk])
    context = {
        "question": question,
        "consignment": question.consignment,
        "members": question.consignment.group.members.filter(is_active=True),
    }
    _send("question_fell", f"Unanswered, yours now: {question.consignment}", managers(), context)


def statement_issued(pk: int) -> None:
    """To the group: that the statement is there, what it replaces, and where to read it."""
    statement = Statement.objects.select_related("consignment__group", "replaces").get(pk=pk)
    consignment = statement.consignment
    tally = say_list(f"{count} {word}" for word, count in statement.content["tally"].items())
    context = {"statement": statement, "consignment": consignment, "tally": tally}
    _send("statement", f"Statement {statement}: {consignment.title}", members(consignment), context)
