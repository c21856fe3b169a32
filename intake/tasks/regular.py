"""What time does: reminding of questions, counting for the overview, and the checks of every night."""

from __future__ import annotations

import logging
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from allauth.usersessions.models import UserSession
from django.conf import settings
from django.contrib.sessions.models import Session
from django.db.models import Q
from django.utils import timezone
from django_tasks import task
from django_tasks_db.models import DBTaskResult

from intake import jobs, mails, record
from intake.actions import questioning, rejudging, tallying
from intake.choices import JobKind, JobState
from intake.models import Job, StagedSheet, User
from intake.tallies import span_of
from intake.tasks.working import work

logger = logging.getLogger(__name__)

#: Our choice: a question is useful for hours, and five minutes more are not missed.
EVERY = timedelta(minutes=5)
#: Our choice: what a year's overview says may be an hour old.
COUNTED_EVERY = timedelta(hours=1)
#: When the checks of a night begin, by the laboratory's clock.
NIGHT = time(2, 30)
#: How long it is kept what became of jobs.
KEPT_FOR = timedelta(days=14)
#: At most so many faults are named in the mail of a night.
MOST_NAMED = 20


def first_moments(at: datetime) -> dict[str, datetime]:
    """The regular jobs, each with the moment at which a new one is first due."""
    return {JobKind.QUESTIONS: at, JobKind.TALLIES: at, JobKind.NIGHTLY: next_night(at)}


def next_night(at: datetime) -> datetime:
    """The next moment after ``at`` at which the checks begin."""
    zone = ZoneInfo(settings.TIME_ZONE)
    day = at.astimezone(zone).date()
    tonight = datetime.combine(day, NIGHT, zone).astimezone(UTC)
    return tonight if tonight > at else datetime.combine(day + timedelta(days=1), NIGHT, zone).astimezone(UTC)


@task()
def questions(pk: int, attempt: int) -> None:
    """Ask, remind and hand over: what is due of the questions to the groups."""
    work(pk, attempt, _questions)


def _questions(job: Job) -> None:
    at, system = timezone.now(), User.objects.system()
    questioning.ask_about_boxes_left_open(by=system, at=at)
    questioning.remind(by=system, at=at)
    questioning.hand_over(by=system, at=at)
    jobs.again(job, due_at=at + EVERY)


@task(priority=-50)
def tallies(pk: int, attempt: int) -> None:
    """Count the months that still move, for the overview."""
    work(pk, attempt, _tallies)


def _tallies(job: Job) -> None:
    at = timezone.now()
    for span in tallying.months_due(at, settings.TIME_ZONE):
        tallying.count_months(span, at=at)
    jobs.again(job, due_at=at + COUNTED_EVERY)


@task(priority=-50)
def nightly(pk: int, attempt: int) -> None:
    """Check the record and every judgement, tell the managers what is wrong, and clear away."""
    work(pk, attempt, _nightly)


def _nightly(job: Job) -> None:
    found = [str(fault) for fault in record.faults()]
    found += [str(difference) for difference in rejudging.differences() if difference is not None]
    at = timezone.now()
    for fault in found[:MOST_NAMED]:
        logger.error("nightly check: %s", fault)
    if found:
        mails.check_failed(found[:MOST_NAMED], len(found), at=at)
    tallying.count_months(span_of(at, settings.TIME_ZONE), at=at)
    clear_away(at)
    jobs.again(job, due_at=next_night(at), sentence=f"{len(found)} faults found.")


def clear_away(at: datetime) -> None:
    """What nobody needs any more: ended jobs and sessions, uploads that wait no longer, carried tasks."""
    StagedSheet.objects.filter(expires_at__lte=at).delete()
    ended = Job.objects.exclude(state=JobState.WAITING)
    ended.filter(ended_at__lte=at - KEPT_FOR).delete()
    over = Q(finished_at__lte=at - KEPT_FOR) | Q(finished_at=None, enqueued_at__lte=at - KEPT_FOR)
    DBTaskResult.objects.filter(over).delete()
    Session.objects.filter(expire_date__lte=at).delete()
    UserSession.objects.exclude(session_key__in=Session.objects.values("session_key")).delete()
