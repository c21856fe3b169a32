"""Leaving work for later, handing it out, and noting what became of it.

The row of a job is the truth; the task interface (``django_tasks``) only carries its key to where
it is worked on: this process, or a worker on a queue in the database. So a task that is lost, late or
carried twice does no harm. Who works on a job makes its end part of the transaction in which
it takes effect (``end``), and so it takes effect once.
"""

from __future__ import annotations

import secrets
import threading
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from django.utils.module_loading import import_string

from intake.choices import JobKind, JobState
from intake.errors import SomebodyWasFaster
from intake.models import Consignment, Job, User


@dataclass(frozen=True, slots=True)
class Way:
    """How one kind of job is worked on.

    ``task`` is the dotted name of its task. After ``silence`` without a word from whoever took it up
    it is taken up again, as it is after a failure; the pause doubles from ``pause`` to at most
    ``longest``. After ``most`` attempts a person has to look at it.
    """

    task: str
    silence: timedelta
    pause: timedelta
    longest: timedelta
    most: int


MINUTE = timedelta(minutes=1)
#: The figures are our choice, but for mails: RFC 5321, 4.5.4.1, asks to go on for four to five days;
#: with these pauses 126 attempts take five.
WAYS: dict[str, Way] = {
    JobKind.MAIL: Way("intake.tasks.mails.mail", 5 * MINUTE, MINUTE, 60 * MINUTE, 126),
    JobKind.READ_SHEET: Way("intake.tasks.sheets.read_upload", MINUTE, MINUTE / 6, MINUTE, 5),
    JobKind.SAVE_SHEET: Way("intake.tasks.sheets.save_upload", MINUTE, MINUTE / 6, MINUTE, 5),
    JobKind.QUESTIONS: Way("intake.tasks.regular.questions", 10 * MINUTE, MINUTE, 5 * MINUTE, 2**30),
    JobKind.NIGHTLY: Way("intake.tasks.regular.nightly", 360 * MINUTE, 5 * MINUTE, 60 * MINUTE, 2**30),
    JobKind.TALLIES: Way("intake.tasks.regular.tallies", 60 * MINUTE, 5 * MINUTE, 60 * MINUTE, 2**30),
}
#: These may take long and nobody waits for them.
LONG = (JobKind.NIGHTLY, JobKind.TALLIES)
PROMPT = tuple(kind for kind in WAYS if kind not in LONG)
#: Most jobs that are taken up in one go.
MOST_AT_ONCE = 100

#: Rung when a job was left. Whoever tends jobs in this process waits for it (``intake.tasks.tending``).
bell = threading.Event()
#: Whether somebody in this process waits for the bell; set by them.
tended = threading.Event()


def leave(
    kind: JobKind,
    *,
    at: datetime,
    content: Mapping[str, object] | None = None,
    by: User | None = None,
    consignment: Consignment | None = None,
    key: str = "",
) -> Job:
    """Leave a job that becomes due now. Must be called inside the transaction that needs it.

    The same ``key`` leaves one job, however often it comes; without one it has its own.
    """
    job, made = Job.objects.get_or_create(
        key=key or secrets.token_urlsafe(24),
        defaults={
            "kind": kind,
            "user": by,
            "consignment": consignment,
            "content": dict(content or {}),
            "made_at": at,
            "due_at": at,
        },
    )
    if made:
        transaction.on_commit(lambda: ring(at))
    return job


def ring(at: datetime) -> None:
    """Have what is due taken up: by whoever tends jobs in this process, else here and now."""
    if tended.is_set():
        bell.set()
    else:
        hand_out(at)


def hand_out(at: datetime, kinds: Collection[str] = tuple(WAYS)) -> int:
    """Give each job of ``kinds`` that is due to its task; returns how many were given.

    Of several processes that do this at once, one gets each job.
    """
    due = Job.objects.filter(state=JobState.WAITING, due_at__lte=at, kind__in=kinds)
    found = list(due.order_by("due_at", "pk").values_list("pk", "kind", "attempts")[:MOST_AT_ONCE])
    given = 0
    for pk, kind, attempts in found:
        row = Job.objects.filter(pk=pk, state=JobState.WAITING, attempts=attempts)
        if row.update(attempts=attempts + 1, due_at=at + WAYS[kind].silence):
            import_string(WAYS[kind].task).enqueue(pk, attempts + 1)
            given += 1
    return given


def take_back(at: datetime) -> None:
    """Make due now what was taken up or put off: where one process works on jobs, and it just began."""
    Job.objects.filter(state=JobState.WAITING, attempts__gt=0, due_at__gt=at).update(due_at=at)


def taken_up(pk: int, attempt: int) -> Job | None:
    """The job, if ``attempt`` is still the one that is to work on it."""
    held = Job.objects.select_related("user", "consignment")
    return held.filter(pk=pk, attempts=attempt, state=JobState.WAITING).first()


def tell(job: Job, *, at: datetime, done: int, total: int, sentence: str = "") -> None:
    """How far it has come. Being heard of, it is not taken up by anybody else meanwhile."""
    rows = Job.objects.filter(pk=job.pk, attempts=job.attempts, state=JobState.WAITING)
    rows.update(done=done, total=total, sentence=sentence, due_at=at + WAYS[job.kind].silence)


def end(job: Job, *, at: datetime, **changes: object) -> None:
    """It is done. Belongs into the transaction in which the job takes effect.

    Raises ``SomebodyWasFaster`` if it was done meanwhile, which undoes that transaction.
    """
    _close(job, JobState.DONE, at, **changes)


def fail(job: Job, *, at: datetime, sentence: str) -> None:
    """It cannot be done and is not tried again; ``sentence`` says why, to whoever asked for it."""
    _close(job, JobState.FAILED, at, sentence=sentence)


def _close(job: Job, state: JobState, at: datetime, **changes: object) -> None:
    rows = Job.objects.filter(pk=job.pk, state=JobState.WAITING)
    if rows.update(state=state, ended_at=at, **changes) != 1:
        raise SomebodyWasFaster("This was done already.")


def put_off(job: Job, *, at: datetime, sentence: str) -> None:
    """It did not succeed this time: later again, or not any more after many attempts."""
    way = WAYS[job.kind]
    if job.attempts >= way.most:
        fail(job, at=at, sentence=sentence)
        return
    pause = min(way.pause * 2 ** min(job.attempts - 1, 30), way.longest)
    rows = Job.objects.filter(pk=job.pk, attempts=job.attempts, state=JobState.WAITING)
    rows.update(due_at=at + pause, sentence=sentence)


def keep_regular(at: datetime, firsts: Mapping[str, datetime]) -> None:
    """See to it that each regular job of ``firsts`` is there; a new one is due at its moment."""
    there = set(Job.objects.filter(key__in=firsts).values_list("key", flat=True))
    for kind, first in firsts.items():
        if kind not in there:
            Job.objects.get_or_create(key=kind, defaults={"kind": kind, "made_at": at, "due_at": first})


def again(job: Job, *, due_at: datetime, sentence: str = "") -> None:
    """A regular job is done for this time and due again at ``due_at``."""
    rows = Job.objects.filter(pk=job.pk, attempts=job.attempts)
    rows.update(attempts=0, due_at=due_at, sentence=sentence)
