"""Big workbooks: reading an upload, and saving its samples once the person said yes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from django.db import transaction
from django.utils import timezone
from django_tasks import task

from intake import jobs
from intake.actions.registering import enter_samples
from intake.actions.staging import keep_cells
from intake.errors import EntryProblem
from intake.models import Job, StagedSheet
from intake.sheets.apart import read_apart
from intake.sheets.correcting import corrected
from intake.sheets.packed import unpack
from intake.sheets.table import RawRow, read_rows
from intake.tasks.working import work

#: How often the rows done are noted. Each note is a transaction, so not at every row.
TELL_EVERY = 500


@task(priority=50)
def read_upload(pk: int, attempt: int) -> None:
    """Read the workbook of an upload, and keep what stands in it."""
    work(pk, attempt, _read)


def _read(job: Job) -> None:
    staged = _staged(job)

    def told(rows: int) -> None:
        if rows % TELL_EVERY == 0:
            jobs.tell(job, at=timezone.now(), done=rows, total=0)

    consignment = staged.consignment
    cells = read_apart(bytes(staged.content), number=consignment.number, zone=consignment.zone, told=told)
    with transaction.atomic():
        keep_cells(staged, cells)
        jobs.end(job, at=timezone.now())


@task(priority=50)
def save_upload(pk: int, attempt: int) -> None:
    """Save the samples of an upload whose changes the person has seen and wants."""
    work(pk, attempt, _save)


def _save(job: Job) -> None:
    staged = _staged(job)
    consignment = staged.consignment
    sheet = corrected(unpack(staged.cells), staged.corrections)
    reading = read_rows(_counted(job, sheet.rows), consignment.zone, sheet.letters)
    at, total = timezone.now(), len(sheet.rows)
    jobs.tell(job, at=at, done=total, total=total)
    with transaction.atomic():
        enter_samples(
            consignment,
            reading.entries,
            by=staged.user,
            at=at,
            version=job.content["version"],
            reason=job.content["reason"],
            told=job.content.get("told", ""),
            token=job.content["token"],
        )
        jobs.end(job, at=at)


def _staged(job: Job) -> StagedSheet:
    held = StagedSheet.objects.select_related("consignment__group", "consignment__rulebook", "user")
    found = held.filter(key=job.content["staged"], user=job.user).first()
    if found is None:
        raise EntryProblem("The uploaded sheet is not kept any more. Nothing was saved; upload it again.")
    return found


def _counted(job: Job, rows: Sequence[RawRow]) -> Iterator[RawRow]:
    """``rows``, noting from time to time how many went by."""
    for count, row in enumerate(rows):
        if count % TELL_EVERY == 0:
            jobs.tell(job, at=timezone.now(), done=count, total=len(rows))
        yield row
