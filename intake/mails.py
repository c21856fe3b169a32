"""Mails that people get. Each is written in the transaction of what it tells of and left as a job.

So there is no mail without the change and no change without its mail, and a mail server that is away
loses nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from django.conf import settings
from django.template.loader import render_to_string

from intake import jobs
from intake.choices import JobKind, Role
from intake.models import Arrival, Consignment, DateRequest, Question, RecordEntry, Statement, User
from intake.shown import show_list
from intake.telling import tell


def post(to: str, subject: str, text: str, *, at: datetime) -> None:
    """Leave one mail to be handed over to the mail server."""
    jobs.leave(JobKind.MAIL, at=at, content={"to": to, "subject": subject, "text": text})


def _post(template: str, subject: str, to: Iterable[str], context: dict[str, object], at: datetime) -> None:
    addresses = sorted(set(to))
    if not addresses:
        return
    text = render_to_string(f"mail/{template}.txt", {**context, "site": settings.SITE_ADDRESS})
    for address in addresses:
        post(address, subject, text, at=at)


def members(consignment: Consignment) -> list[str]:
    """Addresses of the group's people who may sign in."""
    return list(consignment.group.members.filter(is_active=True).values_list("email", flat=True))


def managers() -> list[str]:
    return list(User.objects.filter(role=Role.MANAGER, is_active=True).values_list("email", flat=True))


def consignment_sent(pk: int, *, at: datetime) -> None:
    """To the group: what was sent and what to do next; to the managers: what is coming."""
    consignment = Consignment.objects.select_related("group", "rulebook").get(pk=pk)
    context = {"consignment": consignment, "bottles": consignment.bottles.count()}
    _post("sent_group", f"Sent: {consignment}", members(consignment), context, at)
    _post("sent_lab", f"Announced: {consignment}", managers(), context, at)


def date_changed(pk: int, sentence: str, *, at: datetime) -> None:
    """To both sides: what became of the day of analysis; ``sentence`` says who did what."""
    date = DateRequest.objects.select_related("consignment__group").get(pk=pk)
    consignment = date.consignment
    context = {"date": date, "consignment": consignment, "sentence": sentence}
    to = [*members(consignment), *managers()]
    _post("date", f"Day of analysis {date.get_state_display()}: {consignment}", to, context, at)


def consignment_withdrawn(pk: int, *, at: datetime) -> None:
    consignment = Consignment.objects.select_related("group").get(pk=pk)
    _post("withdrawn", f"Withdrawn: {consignment}", managers(), {"consignment": consignment}, at)


def consignment_amended(entry_pk: int, *, at: datetime) -> None:
    """To the managers: what was changed after sending, in the words of the record."""
    entry = RecordEntry.objects.select_related("consignment__group").get(pk=entry_pk)
    consignment = entry.consignment
    context = {"consignment": consignment, "told": tell(entry, consignment.zone)}
    _post("amended", f"Changed after sending: {consignment}", managers(), context, at)


def arrival_closed(pk: int, *, at: datetime) -> None:
    """To each group with a part in the arrival: what came, what did not, what is wrong."""
    arrival = Arrival.objects.get(pk=pk)
    for consignment in arrival.consignments.select_related("group"):
        _arrived(arrival, consignment, at)


def _arrived(arrival: Arrival, consignment: Consignment, at: datetime) -> None:
    bottles = consignment.bottles.with_scanned(arrival).select_related("sample")
    expected = [bottle for bottle in bottles if bottle.state == "expected"]
    context = {
        "arrival": arrival,
        "consignment": consignment,
        "came": [bottle for bottle in bottles if bottle.arrival_id == arrival.pk],
        "unchecked": [bottle for bottle in expected if bottle.scanned],
        "missing": [bottle for bottle in bottles if bottle.state == "missing"],
        "to_come": [bottle for bottle in expected if not bottle.scanned],
    }
    _post("arrived", f"Arrived: {consignment}", members(consignment), context, at)


def group_named(pk: int, *, at: datetime) -> None:
    """To a group whose bottles came before anybody knew whose they were: what came, what is asked."""
    consignment = Consignment.objects.select_related("group").get(pk=pk)
    for arrival in consignment.arrivals.filter(closed_at__isnull=False):
        _arrived(arrival, consignment, at)
    asked = list(consignment.questions.open().values_list("pk", flat=True))
    if asked:
        questions_asked(asked, at=at)


def _questions(pks: Iterable[int]) -> list[Question]:
    related = ("consignment__group", "arrival")
    return list(Question.objects.filter(pk__in=list(pks)).select_related(*related).most_urgent_first())


def questions_asked(pks: Iterable[int], *, at: datetime) -> None:
    """To the group: all that was asked about one consignment, in one mail."""
    questions = _questions(pks)
    consignment = questions[0].consignment
    context = {"questions": questions, "consignment": consignment, "until": questions[0].useful_until}
    _post("questions_asked", f"Your word is needed: {consignment}", members(consignment), context, at)


def question_reminded(pk: int, *, at: datetime) -> None:
    """To the group: a question is still open and half of its time is over."""
    (question,) = _questions([pk])
    context = {"question": question, "consignment": question.consignment}
    subject = f"Still waiting for your word: {question.consignment}"
    _post("question_reminded", subject, members(question.consignment), context, at)


def question_fell(pk: int, *, at: datetime) -> None:
    """To the managers: the group has not answered, and the time is nearly over."""
    (question,) = _questions([pk])
    context = {
        "question": question,
        "consignment": question.consignment,
        "members": question.consignment.group.members.filter(is_active=True),
    }
    _post("question_fell", f"Unanswered, yours now: {question.consignment}", managers(), context, at)


def statement_issued(pk: int, *, at: datetime) -> None:
    """To the group: that the statement is there, what it replaces, and where to read it."""
    statement = Statement.objects.select_related("consignment__group", "replaces").get(pk=pk)
    consignment = statement.consignment
    tally = show_list(f"{count} {word}" for word, count in statement.content["tally"].items())
    context = {"statement": statement, "consignment": consignment, "tally": tally}
    _post("statement", f"Statement {statement}: {consignment.title}", members(consignment), context, at)


def check_failed(sentences: Sequence[str], count: int, *, at: datetime) -> None:
    """To the managers: what the nightly check found wrong; ``sentences`` are the first of ``count``."""
    context = {"sentences": sentences, "count": count, "more": count - len(sentences)}
    _post("check_failed", f"labqueue: the nightly check found {count} faults", managers(), context, at)
