"""Mails that people get. Each is written in the transaction of what it tells of and left as a job.

So there is no mail without the change and no change without its mail, and a mail server that is away
loses nothing. Each person is written to in the language they have chosen, whoever did what it tells of.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from itertools import groupby

from django.conf import settings
from django.db import models
from django.template.loader import render_to_string
from django.utils import translation
from django.utils.functional import lazy
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

from intake import jobs
from intake.choices import JobKind, Role
from intake.models import Arrival, Consignment, DateRequest, Question, RecordEntry, Statement, User
from intake.shown import show_list
from intake.telling import tell

#: A mail address and the language of the person behind it.
Reader = tuple[str, str]
#: What a mail tells of; made anew for each language where it holds words.
Facts = Mapping[str, object] | Callable[[], Mapping[str, object]]


def post(to: str, subject: str, text: str, *, at: datetime) -> None:
    """Leave one mail to be handed over to the mail server."""
    jobs.leave(JobKind.MAIL, at=at, content={"to": to, "subject": subject, "text": text})


def language_of(person: User | None) -> str:
    """The language that ``person`` is written to in; English where they have chosen none."""
    chosen = person.language if person is not None else ""
    return chosen if chosen in dict(settings.LANGUAGES) else settings.LANGUAGE_CODE


def readers(people: models.QuerySet[User]) -> list[Reader]:
    """Those of ``people`` who may sign in."""
    return [
        (person.email, language_of(person))
        for person in people.filter(is_active=True).only("email", "language")
    ]


def _by_language(to: Iterable[Reader]) -> Iterator[tuple[str, list[str]]]:
    ordered = sorted(set(to), key=lambda reader: (reader[1], reader[0]))
    for language, of_one in groupby(ordered, key=lambda reader: reader[1]):
        yield language, [address for address, _language in of_one]


def _post(template: str, subject: object, to: Iterable[Reader], facts: Facts, at: datetime) -> None:
    """Write one mail for each language of its readers, and leave it for each of them."""
    for language, addresses in _by_language(to):
        with translation.override(language):
            told = facts() if callable(facts) else facts
            text = render_to_string(f"mail/{template}.txt", {**told, "site": settings.SITE_ADDRESS})
            heading = str(subject)
        for address in addresses:
            post(address, heading, text, at=at)


def _about(what: object, consignment: Consignment) -> object:
    return format_lazy("{what}: {consignment}", what=what, consignment=consignment)


def members(consignment: Consignment) -> list[Reader]:
    """The group's people who may sign in."""
    return readers(consignment.group.members)


def managers() -> list[Reader]:
    return readers(User.objects.filter(role=Role.MANAGER))


def consignment_sent(pk: int, *, at: datetime) -> None:
    """To the group: what was sent and what to do next; to the managers: what is coming."""
    consignment = Consignment.objects.select_related("group", "rulebook").get(pk=pk)
    context = {"consignment": consignment, "bottles": consignment.bottles.count()}
    _post("sent_group", _about(_("Sent"), consignment), members(consignment), context, at)
    _post("sent_lab", _about(_("Announced"), consignment), managers(), context, at)


def date_changed(pk: int, sentence: object, *, at: datetime) -> None:
    """To both sides: what became of the day of analysis; ``sentence``, said lazily, tells who did what."""
    date = DateRequest.objects.select_related("consignment__group").get(pk=pk)
    consignment = date.consignment
    context = {"date": date, "consignment": consignment, "sentence": sentence}
    to = [*members(consignment), *managers()]
    subject = format_lazy(
        _("Day of analysis {state}: {consignment}"),
        state=lazy(date.get_state_display, str)(),
        consignment=consignment,
    )
    _post("date", subject, to, context, at)


def consignment_withdrawn(pk: int, *, at: datetime) -> None:
    consignment = Consignment.objects.select_related("group").get(pk=pk)
    context = {"consignment": consignment}
    _post("withdrawn", _about(_("Withdrawn"), consignment), managers(), context, at)


def consignment_amended(entry_pk: int, *, at: datetime) -> None:
    """To the managers: what was changed after sending, in the words of the record."""
    entry = RecordEntry.objects.select_related("consignment__group").get(pk=entry_pk)
    consignment = entry.consignment

    def facts() -> dict[str, object]:
        return {"consignment": consignment, "told": tell(entry, consignment.zone)}

    _post("amended", _about(_("Changed after sending"), consignment), managers(), facts, at)


def arrival_closed(pk: int, *, at: datetime) -> None:
    """To each group with a part in the arrival: what came, what did not, what is wrong."""
    arrival = Arrival.objects.get(pk=pk)
    for consignment in arrival.consignments.select_related("group"):
        _arrived(arrival, consignment, at)


def _arrived(arrival: Arrival, consignment: Consignment, at: datetime) -> None:
    bottles = list(consignment.bottles.with_scanned(arrival).select_related("sample"))
    expected = [bottle for bottle in bottles if bottle.state == "expected"]
    context = {
        "arrival": arrival,
        "consignment": consignment,
        "came": [bottle for bottle in bottles if bottle.arrival_id == arrival.pk],
        "unchecked": [bottle for bottle in expected if bottle.scanned],
        "missing": [bottle for bottle in bottles if bottle.state == "missing"],
        "to_come": [bottle for bottle in expected if not bottle.scanned],
    }
    _post("arrived", _about(_("Arrived"), consignment), members(consignment), context, at)


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
    subject = _about(_("Your word is needed"), consignment)
    _post("questions_asked", subject, members(consignment), context, at)


def question_reminded(pk: int, *, at: datetime) -> None:
    """To the group: a question is still open and half of its time is over."""
    (question,) = _questions([pk])
    consignment = question.consignment
    context = {"question": question, "consignment": consignment}
    subject = _about(_("Still waiting for your word"), consignment)
    _post("question_reminded", subject, members(consignment), context, at)


def question_fell(pk: int, *, at: datetime) -> None:
    """To the managers: the group has not answered, and the time is nearly over."""
    (question,) = _questions([pk])
    consignment = question.consignment
    context = {
        "question": question,
        "consignment": consignment,
        "members": consignment.group.members.filter(is_active=True),
    }
    _post("question_fell", _about(_("Unanswered, yours now"), consignment), managers(), context, at)


def statement_issued(pk: int, *, at: datetime) -> None:
    """To the group: that the statement is there, what it replaces, and where to read it."""
    statement = Statement.objects.select_related("consignment__group", "replaces").get(pk=pk)
    consignment = statement.consignment

    def facts() -> dict[str, object]:
        tally = show_list(f"{count} {word}" for word, count in statement.content["tally"].items())
        return {"statement": statement, "consignment": consignment, "tally": tally}

    subject = format_lazy(
        _("Statement {statement}: {title}"), statement=str(statement), title=consignment.title
    )
    _post("statement", subject, members(consignment), facts, at)


def check_failed(sentences: Sequence[str], count: int, *, at: datetime) -> None:
    """To the managers: what the nightly check found wrong; ``sentences`` are the first of ``count``."""
    context = {"sentences": sentences, "count": count, "more": count - len(sentences)}
    found = ngettext_lazy(
        "labqueue: the nightly check found {count} fault",
        "labqueue: the nightly check found {count} faults",
        count,
    )
    _post("check_failed", format_lazy(found, count=count), managers(), context, at)
