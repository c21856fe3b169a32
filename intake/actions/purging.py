"""Removing what was kept long enough. Record and statements stay; nothing goes before its time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import datetime

from dateutil.relativedelta import relativedelta
from django.db import models, transaction
from django.db.models import Max, QuerySet
from django.utils.translation import gettext_lazy as _

from intake import record
from intake.actions.indexing import index_consignments
from intake.actions.numbering import spend_numbers
from intake.actions.policy import policy
from intake.actions.steps import claim, take_turn
from intake.errors import EntryProblem, MoveNotAllowed
from intake.models import Consignment, RecordEntry, SearchWord, Statement, User
from intake.permissions import require

#: What was done, and what was certified, is kept for good.
KEPT = (RecordEntry, Statement)
EMPTIED = "removed after it was kept long enough"


def kept_until(consignment: Consignment) -> datetime:
    """The moment from which ``consignment`` may be removed: the years kept after its last entry."""
    entries = RecordEntry.objects.filter(consignment=consignment)
    last = entries.aggregate(last=Max("at"))["last"] or consignment.created_at
    return last + relativedelta(years=policy().keep_years)


def kept_long_enough(at: datetime) -> QuerySet[Consignment]:
    """Consignments whose time is over and that still hold samples or a title, the oldest first."""
    ends = at - relativedelta(years=policy().keep_years)
    return (
        Consignment.objects.filter(purged_at=None, created_at__lte=ends)
        .annotate(last_entry_at=Max("record__at"))
        .filter(last_entry_at__lte=ends)
        .order_by("last_entry_at", "pk")
    )


@transaction.atomic
def purge_consignment(*, consignment: Consignment, by: User, at: datetime, reason: str) -> Counter[str]:
    """Remove the samples of ``consignment`` and all that hangs on them; how many rows of each kind.

    The consignment stays as its number, with its record and its statements; its bottle numbers are
    never given out again. Raises ``MoveNotAllowed`` before its time, naming the moment.
    """
    require(by, "people.manage")
    take_turn([consignment.pk])
    _check(consignment, at, reason)
    claim(
        Consignment.objects.filter(pk=consignment.pk, purged_at=None, version=consignment.version),
        _("Somebody changed this consignment in the meantime. Load the page anew to see it."),
        title=EMPTIED,
        purpose="",
        purged_at=at,
        version=consignment.version + 1,
    )
    spend_numbers(consignment.bottles.values_list("number", flat=True))
    SearchWord.objects.filter(consignment=consignment).delete()
    removed: Counter[str] = Counter()
    _remove_what_hangs_on(Consignment, [consignment.pk], removed)
    index_consignments([consignment.pk])
    record.write(
        by=by,
        at=at,
        verb="consignment.purge",
        subject=f"consignment {consignment.number}",
        consignment=consignment,
        after={"removed": dict(sorted(removed.items()))},
        reason=reason.strip(),
    )
    consignment.refresh_from_db()
    return removed


def _check(consignment: Consignment, at: datetime, reason: str) -> None:
    if consignment.purged_at is not None:
        raise MoveNotAllowed(_("This consignment was removed already; its record and statements stay."))
    until = kept_until(consignment)
    if at < until:
        raise MoveNotAllowed(
            _("Consignment %(number)s is kept until %(until)s UTC. Nothing was removed.")
            % {"number": consignment.number, "until": f"{until:%Y-%m-%d %H:%M}"}
        )
    if consignment.bottles.filter(stored_in__isnull=False, discarded_at=None).exists():
        raise MoveNotAllowed(
            _("Bottles of %(number)s are still put away. Discard them first.")
            % {"number": consignment.number}
        )
    if not reason.strip():
        sentence = _("Say why it is removed, such as: kept as long as the contract asks.")
        raise EntryProblem(sentence, {"reason": sentence})


def _remove_what_hangs_on(model: type[models.Model], keys: Iterable[int], removed: Counter[str]) -> None:
    """Delete every row that refers to the rows ``keys`` of ``model``, those that hang on it first.

    It follows what the models say of each other, so that what a later model adds is not forgotten.
    """
    for relation in model._meta.related_objects:
        child = relation.related_model
        if child in KEPT or relation.many_to_many:
            continue
        rows = models.QuerySet(child).filter(**{f"{relation.field.name}__in": list(keys)})
        hanging = list(rows.values_list("pk", flat=True))
        if hanging:
            _remove_what_hangs_on(child, hanging, removed)
            models.QuerySet(child).filter(pk__in=hanging).delete()
            removed[str(child._meta.verbose_name)] += len(hanging)
