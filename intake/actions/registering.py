"""Making a consignment and entering its samples."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from datetime import date, datetime
from operator import attrgetter
from zoneinfo import ZoneInfo, available_timezones

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake import numbers, record
from intake.actions.agreeing import follow_bottles
from intake.actions.amending import require_amendable, require_reason, require_whole, tell_of
from intake.actions.confirming import Unconfirmed, confirm, digest_of, new_doubts
from intake.actions.entries import BottleEntry, SampleEntry
from intake.actions.indexing import index_consignments
from intake.actions.judging import judge_consignment
from intake.actions.numbering import free_number, free_numbers, spend_numbers
from intake.actions.steps import claim_version, keep_outcome, take_token
from intake.actions.storing import insert_rows
from intake.errors import EntryProblem
from intake.models import Bottle, Consignment, Group, RulebookVersion, Sample, User
from intake.permissions import require

SAMPLE_FIELDS = tuple(field.name for field in fields(SampleEntry) if field.name != "bottles")
BOTTLE_FIELDS = tuple(field.name for field in fields(BottleEntry) if field.name != "line")
_SAMPLE_VALUES = attrgetter(*SAMPLE_FIELDS)
_BOTTLE_VALUES = attrgetter(*BOTTLE_FIELDS)
BATCH = 200


def _check_zone(zone: str) -> None:
    if zone not in available_timezones():
        raise EntryProblem(
            _("“%(zone)s” is not a time zone we know. Choose one from the list, for example Europe/Vienna.")
            % {"zone": zone},
            {"zone": _("Choose a time zone from the list.")},
        )
    ZoneInfo(zone)


@transaction.atomic
def make_consignment(
    *,
    by: User,
    at: datetime,
    group: Group,
    title: str,
    rulebook: RulebookVersion,
    zone: str,
    purpose: str = "",
    requested_on: date | None = None,
    token: str = "",
) -> Consignment:
    """Make a draft for ``group``. Raises ``EntryProblem`` for a title or zone that cannot be."""
    require(by, "consignment.make", group)
    take_token(token, by=by, verb="consignment.make", at=at)
    _check_zone(zone)
    if not title.strip():
        raise EntryProblem(_("Give the consignment a title."), {"title": _("Give the consignment a title.")})
    if not rulebook.offered:
        raise EntryProblem(
            _("%(rulebook)s is not offered; choose another rulebook.") % {"rulebook": rulebook}
        )
    consignment = Consignment.objects.create(
        number=free_number(Consignment, numbers.CONSIGNMENT),
        group=group,
        title=title.strip(),
        purpose=purpose.strip(),
        rulebook=rulebook,
        zone=zone,
        requested_on=requested_on,
        created_at=at,
        created_by=by,
    )
    index_consignments([consignment.pk])
    record.write(
        by=by,
        at=at,
        verb="consignment.make",
        subject=consignment,
        consignment=consignment,
        after={"title": title, "group": group.name, "rulebook": str(rulebook), "zone": zone},
    )
    keep_outcome(token, number=consignment.number)
    return consignment


HEAD_FIELDS = ("title", "purpose", "rulebook", "zone", "requested_on")


@transaction.atomic
def amend_consignment(
    consignment: Consignment,
    *,
    by: User,
    at: datetime,
    version: int,
    changes: Mapping[str, object],
    reason: str = "",
) -> Consignment:
    """Change title, purpose, rulebook, zone or wanted date, and judge it anew.

    ``version`` is the one the person read; raises ``SomebodyWasFaster`` if it moved on. A
    ``reason`` is due once it was sent; nothing is changed after something of it arrived.
    """
    require(by, "consignment.amend", consignment)
    require_amendable(consignment)
    unknown = set(changes) - set(HEAD_FIELDS)
    if unknown:
        raise ValueError(f"not fields of a consignment's head: {sorted(unknown)}")
    if "zone" in changes:
        _check_zone(str(changes["zone"]))
    before = {name: getattr(consignment, name) for name in changes}
    was, becomes = record.differences(before, changes)
    if not becomes:
        return consignment
    require_reason(consignment, reason)
    claim_version(consignment, version)
    for name, value in becomes.items():
        setattr(consignment, name, value)
    consignment.save(update_fields=list(becomes))
    if "title" in becomes:
        index_consignments([consignment.pk])
    judge_consignment(consignment.pk, at=at)
    entry = record.write(
        by=by,
        at=at,
        verb="consignment.amend",
        subject=consignment,
        consignment=consignment,
        before={name: str(value) if value is not None else None for name, value in was.items()},
        after={name: str(value) if value is not None else None for name, value in becomes.items()},
        reason=reason.strip(),
    )
    tell_of(entry, consignment)
    return consignment


def _refuse_duplicates(entries: Sequence[SampleEntry]) -> None:
    seen: set[str] = set()
    for entry in entries:
        if not entry.own_id.strip():
            raise EntryProblem(_("Every sample needs an id of your own."))
        if entry.own_id in seen:
            raise EntryProblem(
                _("Two samples carry the id “%(own_id)s”. Give each its own.") % {"own_id": entry.own_id}
            )
        seen.add(entry.own_id)


def _values(row: object, names: Sequence[str]) -> dict[str, object]:
    values = {name: getattr(row, name) for name in names}
    if "ions" in values:
        values["ions"] = list(values["ions"])
    return values


class _Changes:
    """What an entering of samples does to the rows that stand there."""

    def __init__(self) -> None:
        self.added: list[str] = []
        self.removed: list[str] = []
        self.before: dict[str, dict[str, object]] = {}
        self.after: dict[str, dict[str, object]] = {}

    def note(self, name: str, was: dict[str, object], becomes: dict[str, object]) -> bool:
        """Keep the values that differ under ``name``; says whether there are any."""
        old, new = record.differences(was, becomes)
        if new:
            self.before[name] = old
            self.after[name] = new
        return bool(new)

    def any(self) -> bool:
        return bool(self.added or self.removed or self.after)


@transaction.atomic
def enter_samples(
    consignment: Consignment,
    entries: Sequence[SampleEntry],
    *,
    by: User,
    at: datetime,
    version: int,
    renamed: Mapping[str, str] | None = None,
    reason: str = "",
    told: str = "",
    token: str = "",
) -> Consignment:
    """Make ``entries`` the samples of a consignment, in this order, and judge it anew.

    A sample keeps its bottles and their numbers as long as its own id stays; ``renamed`` maps
    a new own id to the one it had. Samples and bottles no longer stated are removed. Either
    all of it is saved or nothing. Raises ``EntryProblem`` for ids that are empty or double, and,
    once it was sent, for a change without a ``reason`` or one that leaves a sample without bottle.
    Where readings of a sent consignment look wrong since this change, the person has to know it:
    ``Unconfirmed`` is raised unless ``told`` is its own; the reason then says why they are right.
    """
    require(by, "consignment.amend", consignment)
    take_token(token, by=by, verb="samples.enter", at=at)
    require_amendable(consignment)
    require_reason(consignment, reason)
    _refuse_duplicates(entries)
    require_whole(consignment, entries)
    doubts = new_doubts(consignment, entries, at=at, renamed=renamed)
    if digest_of(doubts) not in ("", told):
        raise Unconfirmed(doubts)
    claim_version(consignment, version)
    changes = _Changes()
    samples = _store_samples(consignment, entries, renamed or {}, changes, at)
    _store_bottles(consignment, entries, samples, changes)
    index_consignments([consignment.pk])
    judge_consignment(consignment.pk, at=at)
    confirmed = confirm(consignment, doubts, reason)
    if changes.any():
        entry = record.write(
            by=by,
            at=at,
            verb="samples.enter",
            subject=consignment,
            consignment=consignment,
            before={"removed": changes.removed, "changed": changes.before},
            after={
                "added": changes.added,
                "changed": changes.after,
                "samples": len(entries),
                **confirmed,
            },
            reason=reason.strip(),
        )
        tell_of(entry, consignment)
    if consignment.is_sent and (changes.added or changes.removed):
        follow_bottles(consignment, by=by, at=at)
    return consignment


def _store_samples(
    consignment: Consignment,
    entries: Sequence[SampleEntry],
    renamed: Mapping[str, str],
    changes: _Changes,
    at: datetime,
) -> dict[str, int]:
    """Add, change and remove sample rows; returns the keys of all that stand now, by own id."""
    standing = {sample.own_id: sample for sample in consignment.samples.all()}
    kept: list[Sample] = []
    fresh: list[tuple[object, ...]] = []
    for position, entry in enumerate(entries, start=1):
        sample = standing.pop(renamed.get(entry.own_id, entry.own_id), None)
        if sample is None:
            changes.added.append(entry.own_id)
            fresh.append((consignment.pk, position, at, *_SAMPLE_VALUES(entry)))
            continue
        values = _values(entry, SAMPLE_FIELDS)
        if changes.note(sample.own_id, _values(sample, SAMPLE_FIELDS), values):
            sample.declared_at = at
            for name, value in values.items():
                setattr(sample, name, value)
        sample.position = position
        kept.append(sample)
    changes.removed += list(standing)
    gone = [sample.pk for sample in standing.values()]
    spend_numbers(Bottle.objects.filter(sample__in=gone).values_list("number", flat=True))
    Bottle.objects.filter(sample__in=gone).delete()
    Sample.objects.filter(pk__in=gone).delete()
    for sample in kept:
        if sample.own_id in renamed:  # make room, so that two samples may swap their ids
            Sample.objects.filter(pk=sample.pk).update(own_id=f"\x1f{sample.pk}")
    Sample.objects.bulk_create(
        kept,
        batch_size=BATCH,
        update_conflicts=True,
        unique_fields=["id"],
        update_fields=[*SAMPLE_FIELDS, "position", "declared_at"],
    )
    insert_rows(Sample, ("consignment_id", "position", "declared_at", *SAMPLE_FIELDS), fresh)
    return dict(consignment.samples.values_list("own_id", "pk"))


def _store_bottles(
    consignment: Consignment,
    entries: Sequence[SampleEntry],
    samples: Mapping[str, int],
    changes: _Changes,
) -> None:
    """Add, change and remove bottle rows of the samples that stand now."""
    standing = {(bottle.sample_id, bottle.line): bottle for bottle in consignment.bottles.all()}
    wanted = sum(
        (samples[entry.own_id], stated.line) not in standing for entry in entries for stated in entry.bottles
    )
    spare = iter(free_numbers(Bottle, numbers.BOTTLE, wanted))
    kept: list[Bottle] = []
    fresh: list[tuple[object, ...]] = []
    for entry in entries:
        sample = samples[entry.own_id]
        for stated in entry.bottles:
            bottle = standing.pop((sample, stated.line), None)
            name = f"{entry.own_id}, {stated.line} bottle"
            if bottle is None:
                number = next(spare)
                changes.added.append(f"{name} {number}")
                fresh.append((number, consignment.pk, sample, stated.line, *_BOTTLE_VALUES(stated)))
                continue
            values = _values(stated, BOTTLE_FIELDS)
            if changes.note(name, _values(bottle, BOTTLE_FIELDS), values):
                for field, value in values.items():
                    setattr(bottle, field, value)
                kept.append(bottle)
    changes.removed += [f"bottle {bottle.number}" for bottle in standing.values()]
    spend_numbers(bottle.number for bottle in standing.values())
    Bottle.objects.filter(pk__in=[bottle.pk for bottle in standing.values()]).delete()
    Bottle.objects.bulk_create(
        kept,
        batch_size=BATCH,
        update_conflicts=True,
        unique_fields=["id"],
        update_fields=list(BOTTLE_FIELDS),
    )
    insert_rows(Bottle, ("number", "consignment_id", "sample_id", "line", *BOTTLE_FIELDS), fresh)
