"""Keeping an uploaded workbook until the person has seen what it changes."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from datetime import datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake.actions.amending import require_amendable
from intake.choices import JobKind
from intake.errors import EntryProblem
from intake.jobs import leave
from intake.models import Consignment, Job, StagedSheet, User
from intake.permissions import require

#: Texts by column code, by number of the row.
Corrections = Mapping[int, Mapping[str, str]]

#: How long an upload waits for a yes (our choice); it holds a group's data and is not kept longer.
KEPT_FOR = timedelta(hours=2)
#: How long it waits for the job that saves it.
WAITS_FOR_JOB = timedelta(days=1)


@transaction.atomic
def stage_sheet(
    consignment: Consignment,
    *,
    by: User,
    at: datetime,
    content: bytes,
    cells: bytes = b"",
    name: str = "",
) -> StagedSheet:
    """Keep ``content`` for ``by`` alone; what the person staged before for the same goes.

    ``cells`` is what stands in it; where it was not read yet, ``keep_cells`` adds that.
    """
    require(by, "consignment.amend", consignment)
    require_amendable(consignment)
    StagedSheet.objects.filter(expires_at__lte=at).delete()
    StagedSheet.objects.filter(user=by, consignment=consignment).delete()
    return StagedSheet.objects.create(
        key=secrets.token_urlsafe(24),
        user=by,
        consignment=consignment,
        content=content,
        cells=cells,
        name=name[:200],
        staged_at=at,
        expires_at=at + KEPT_FOR,
    )


def keep_cells(staged: StagedSheet, cells: bytes) -> None:
    """Keep what stands in an upload beside it."""
    StagedSheet.objects.filter(pk=staged.pk).update(cells=cells)


@transaction.atomic
def read_later(staged: StagedSheet, *, by: User, at: datetime) -> Job:
    """Leave it to a job to read a big upload."""
    require(by, "consignment.amend", staged.consignment)
    return leave(
        JobKind.READ_SHEET, at=at, by=by, consignment=staged.consignment, content={"staged": staged.key}
    )


@transaction.atomic
def save_later(
    staged: StagedSheet, *, by: User, at: datetime, version: int, reason: str, told: str, token: str
) -> Job:
    """Leave it to a job to save the samples of a big upload, and keep the upload as long as that takes.

    The same ``token`` leaves one job, however often it comes.
    """
    require(by, "consignment.amend", staged.consignment)
    require_amendable(staged.consignment)
    StagedSheet.objects.filter(pk=staged.pk).update(expires_at=at + WAITS_FOR_JOB)
    content = {"staged": staged.key, "version": version, "reason": reason, "told": told, "token": token}
    return leave(JobKind.SAVE_SHEET, at=at, by=by, consignment=staged.consignment, content=content, key=token)


@transaction.atomic
def correct_sheet(staged: StagedSheet, *, by: User, at: datetime, cells: Corrections) -> StagedSheet:
    """Put ``cells`` in place of what stands in the upload; what was put right before stays.

    Nothing of the consignment changes. Raises ``EntryProblem`` when the upload is not kept any more.
    """
    require(by, "consignment.amend", staged.consignment)
    require_amendable(staged.consignment)
    standing = staged_sheet(staged.consignment, by=by, at=at, key=staged.key)
    merged = dict(standing.corrections)
    for number, texts in cells.items():
        merged[str(number)] = {**merged.get(str(number), {}), **texts}
    standing.corrections = merged
    standing.save(update_fields=["corrections"])
    return standing


def staged_sheet(consignment: Consignment, *, by: User, at: datetime, key: str) -> StagedSheet:
    """What ``by`` staged under ``key``. Raises ``EntryProblem`` when it is not kept any more."""
    found = StagedSheet.objects.filter(key=key, user=by, consignment=consignment, expires_at__gt=at).first()
    if found is None:
        raise EntryProblem(_("The uploaded sheet is not kept any more. Nothing was saved; upload it again."))
    return found
