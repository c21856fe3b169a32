"""Handing mails to the mail server, again and again until it takes them."""

from __future__ import annotations

from smtplib import SMTPRecipientsRefused
from urllib.parse import urlsplit

from django.conf import settings
from django.core.mail import EmailMessage
from django.utils import timezone
from django_tasks import task

from intake import jobs
from intake.models import Job
from intake.tasks.working import work

#: From here on the reply is final (RFC 5321, 4.2.1).
FINAL = 500


@task()
def mail(pk: int, attempt: int) -> None:
    """Hand one mail over. Only where it breaks off in between can a mail go out twice; both then
    carry one Message-ID, by which mail programs know them for the same (RFC 5322, 3.6.4)."""
    work(pk, attempt, _hand_over)


def _hand_over(job: Job) -> None:
    content = job.content
    name = f"<{job.key}@{urlsplit(settings.SITE_ADDRESS).hostname}>"
    message = EmailMessage(
        content["subject"], content["text"], None, [content["to"]], headers={"Message-ID": name}
    )
    try:
        message.send()
    except SMTPRecipientsRefused as problem:
        replies = [reply for reply, _words in problem.recipients.values()]
        if any(reply < FINAL for reply in replies):
            raise
        jobs.fail(job, at=timezone.now(), sentence="The mail server does not know this address.")
    else:
        # What was in it is the addressee's alone.
        job.delete()
