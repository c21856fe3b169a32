"""Working on one job: what every task does around its own work."""

from __future__ import annotations

import logging
from collections.abc import Callable

from django.utils import timezone

from intake import jobs
from intake.errors import AlreadyDone, Refused
from intake.models import Job
from intake.stored import stored_words

logger = logging.getLogger(__name__)

LATER = "It did not succeed this time and is tried again by itself."


def work(pk: int, attempt: int, doing: Callable[[Job], None]) -> None:
    """Do the work of a job unless somebody else took it up since, and note what became of it.

    ``doing`` ends the job in the transaction in which it takes effect. What it refuses is told to
    whoever asked, in English, since it is stored; whatever else goes wrong leads to another attempt.
    """
    job = jobs.taken_up(pk, attempt)
    if job is None:
        return
    try:
        with stored_words():
            doing(job)
    except AlreadyDone as problem:
        _end_quietly(job, problem.sentence)
    except Refused as problem:
        if jobs.taken_up(pk, attempt) is not None:
            jobs.fail(job, at=timezone.now(), sentence=problem.sentence)
    except Exception:
        logger.exception("job %s of kind %s did not succeed at attempt %s", job.pk, job.kind, attempt)
        jobs.put_off(job, at=timezone.now(), sentence=LATER)


def _end_quietly(job: Job, sentence: str) -> None:
    """It took effect before, by whoever was not heard of in time."""
    if jobs.taken_up(job.pk, job.attempts) is not None:
        jobs.end(job, at=timezone.now(), sentence=sentence)
