"""Jobs: taken up by one, again after silence or a failure, and taking effect once."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from smtplib import SMTPRecipientsRefused

import pytest
from django.core import mail
from django.db import transaction
from django.utils import timezone

from intake import jobs, mails
from intake.choices import JobKind, JobState
from intake.errors import AlreadyDone, Refused, SomebodyWasFaster
from intake.models import Job
from intake.tasks import regular
from intake.tasks.tending import tend
from intake.tasks.working import LATER, work

pytestmark = pytest.mark.django_db
AT = datetime(2026, 3, 4, 9, 0, tzinfo=UTC)
WAY = jobs.WAYS[JobKind.MAIL]


@pytest.fixture
def carried(monkeypatch):
    """What is handed out, as (key, attempt), instead of being worked on."""
    found = []

    class Carrier:
        @staticmethod
        def enqueue(pk, attempt):
            found.append((pk, attempt))

    monkeypatch.setattr("intake.jobs.import_string", lambda name: Carrier)
    return found


def letter(to="a@lab.example"):
    mails.post(to, "Subject", "Text", at=AT)
    return Job.objects.order_by("-pk").first()


def test_a_job_goes_with_the_transaction_that_leaves_it(carried, django_capture_on_commit_callbacks):
    with pytest.raises(ValueError), transaction.atomic():
        letter()
        raise ValueError
    assert not Job.objects.exists()
    with django_capture_on_commit_callbacks(execute=True):
        job = letter()
        assert not carried
    assert carried == [(job.pk, 1)]


def test_one_of_several_gets_a_job(carried):
    job = letter()
    assert jobs.hand_out(AT) == 1
    assert jobs.hand_out(AT) == 0
    assert carried == [(job.pk, 1)]


def test_who_read_the_list_before_somebody_else_took_the_job_gets_nothing(carried, monkeypatch):
    letter()
    update = jobs.Job.objects.all().__class__.update

    def beaten(self, **changes):
        update(Job.objects.all(), attempts=1, due_at=AT + WAY.silence)
        return update(self, **changes)

    monkeypatch.setattr(jobs.Job.objects.all().__class__, "update", beaten)
    assert jobs.hand_out(AT) == 0
    assert not carried


def test_a_job_of_somebody_who_fell_silent_is_taken_up_again(carried):
    job = letter()
    jobs.hand_out(AT)
    assert jobs.hand_out(AT + WAY.silence - timedelta(microseconds=1)) == 0
    assert jobs.hand_out(AT + WAY.silence) == 1
    assert carried == [(job.pk, 1), (job.pk, 2)]
    assert jobs.taken_up(job.pk, 1) is None
    assert jobs.taken_up(job.pk, 2) == job


def test_being_heard_of_keeps_it(carried):
    job = letter()
    jobs.hand_out(AT)
    job = jobs.taken_up(job.pk, 1)
    jobs.tell(job, at=AT + WAY.silence / 2, done=1, total=2)
    assert jobs.hand_out(AT + WAY.silence) == 0
    assert jobs.hand_out(AT + WAY.silence * 1.5) == 1


def test_pauses_double_up_to_the_longest_and_the_last_attempt_is_the_last(carried):
    job = letter()
    pauses = []
    for attempt in range(1, WAY.most + 1):
        Job.objects.update(attempts=attempt)
        jobs.put_off(jobs.taken_up(job.pk, attempt), at=AT, sentence="away")
        job.refresh_from_db()
        pauses.append(job.due_at - AT)
    assert pauses[:7] == [timedelta(minutes=2**power) for power in range(6)] + [WAY.longest]
    assert job.state == JobState.FAILED
    # RFC 5321, 4.5.4.1: a sender goes on for at least four to five days.
    assert sum(pauses[:-1], timedelta()) >= timedelta(days=5)


def test_ending_twice_undoes_the_second_effect(carried):
    job = letter()
    jobs.end(job, at=AT)
    with pytest.raises(SomebodyWasFaster):
        jobs.end(job, at=AT)


@pytest.mark.parametrize(
    ("raised", "state", "sentence"),
    [
        (Refused("That cannot be."), JobState.FAILED, "That cannot be."),
        (AlreadyDone("Done already."), JobState.DONE, "Done already."),
        (OSError("gone"), JobState.WAITING, LATER),
    ],
)
def test_what_becomes_of_it(raised, state, sentence):
    job = letter()
    Job.objects.update(attempts=1)

    def doing(_job):
        raise raised

    work(job.pk, 1, doing)
    job.refresh_from_db()
    assert (job.state, job.sentence) == (state, sentence)


def test_an_attempt_that_was_given_up_does_nothing():
    job = letter()
    Job.objects.update(attempts=2)
    work(job.pk, 1, pytest.fail)


def test_a_mail_leaves_once_and_nothing_of_it_stays():
    job = letter()
    name = job.key
    assert tend(AT) == 3
    (sent,) = mail.outbox
    assert (sent.to, sent.subject, sent.body) == (["a@lab.example"], "Subject", "Text")
    assert name in sent.extra_headers["Message-ID"]
    assert not Job.objects.filter(kind=JobKind.MAIL).exists()


def test_a_mail_server_that_is_away_gets_the_mail_when_it_is_back(monkeypatch):
    def away(self):
        raise ConnectionRefusedError("nobody listens")

    with monkeypatch.context() as patch:
        patch.setattr("intake.tasks.mails.EmailMessage.send", away)
        job = letter()
        jobs.hand_out(AT)
    assert not mail.outbox
    job.refresh_from_db()
    assert job.due_at > timezone.now()
    assert jobs.hand_out(job.due_at) == 1
    assert [sent.to for sent in mail.outbox] == [["a@lab.example"]]


@pytest.mark.parametrize(("reply", "state"), [(550, JobState.FAILED), (450, JobState.WAITING)])
def test_an_address_that_is_not_known_is_not_tried_for_days(monkeypatch, reply, state):
    def refused(self):
        raise SMTPRecipientsRefused({"a@lab.example": (reply, b"no")})

    monkeypatch.setattr("intake.tasks.mails.EmailMessage.send", refused)
    job = letter()
    jobs.hand_out(AT)
    job.refresh_from_db()
    assert job.state == state


def test_regular_jobs_come_again(system):
    at = timezone.now()
    tend(at)
    job = Job.objects.get(key=JobKind.QUESTIONS)
    assert job.state == JobState.WAITING
    assert at + timedelta(minutes=4) < job.due_at <= timezone.now() + regular.EVERY
    tend(at)
    assert Job.objects.filter(key=JobKind.QUESTIONS).count() == 1


@pytest.mark.parametrize(
    ("at", "night"),
    [
        (datetime(2026, 3, 4, 1, 0, tzinfo=UTC), datetime(2026, 3, 4, 1, 30, tzinfo=UTC)),
        (datetime(2026, 3, 4, 1, 30, tzinfo=UTC), datetime(2026, 3, 5, 1, 30, tzinfo=UTC)),
        # 02:30 does not exist on 29 March 2026 in Vienna; it is then what the clock before the change says.
        (datetime(2026, 3, 28, 12, 0, tzinfo=UTC), datetime(2026, 3, 29, 1, 30, tzinfo=UTC)),
    ],
)
def test_the_night_begins_by_the_clock_of_the_laboratory(settings, at, night):
    settings.TIME_ZONE = "Europe/Vienna"
    assert regular.next_night(at) == night
