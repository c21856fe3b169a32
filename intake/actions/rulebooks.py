"""Taking shipped rulebooks in, and making the next version of one.

A version is worked on as a draft, row by row; publishing it fixes it for good.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake import record
from intake.actions.steps import claim
from intake.errors import EntryProblem, MoveNotAllowed
from intake.models import RulebookVersion, User
from intake.permissions import require
from intake.rules.book import Rulebook
from intake.rules.book_data import book_digest, book_from_data
from intake.rules.comparing import SETTINGS
from intake.rules.plain import PlainDataError

Data = dict[str, object]


@transaction.atomic
def take_rulebooks(
    books: Iterable[Data], *, by: User, at: datetime, default: str = "house"
) -> list[RulebookVersion]:
    """Store each plain rulebook that is not stored yet, as published; returns the new ones.

    A version already stored with other content is refused: a version never changes.
    """
    require(by, "rulebook.manage")
    new = []
    for data in books:
        book = book_from_data(data)
        digest = book_digest(book)
        stored = RulebookVersion.objects.filter(code=book.code, version=book.version).first()
        if stored is not None:
            if stored.digest != digest:
                raise EntryProblem(
                    _(
                        "Rulebook %(title)s version %(version)s is stored with other rows. A version is "
                        "never changed; give the new rows the next version number."
                    )
                    % {"title": book.title, "version": book.version}
                )
            continue
        first = not RulebookVersion.objects.filter(default=True).exists()
        row = RulebookVersion.objects.create(
            code=book.code,
            version=book.version,
            title=book.title,
            about=book.about,
            data=data,
            digest=digest,
            dated=date.fromisoformat(book.dated) if book.dated else at.date(),
            offered=any(row.limit is not None for row in book.rows),
            default=first and book.code == default,
            created_at=at,
            created_by=by,
            published_at=at,
        )
        record.write(by=by, at=at, verb="rulebook.take", subject=row, after={"digest": digest})
        new.append(row)
    return new


def _data_of(version: RulebookVersion) -> Data:
    return dict(version.data)


def _read(data: Data) -> Rulebook:
    """The book that ``data`` describes; faults become an ``EntryProblem`` at their fields."""
    try:
        return book_from_data(data)
    except PlainDataError as fault:
        problems = {problem.field: problem.message for problem in fault.problems}
        raise EntryProblem(str(fault.problems[0]), problems) from fault


@transaction.atomic
def start_version(
    base: RulebookVersion, *, by: User, at: datetime, code: str = "", title: str = ""
) -> RulebookVersion:
    """A draft copied from ``base``: its next version, or with ``code`` and ``title`` a new book.

    One draft of a book at a time; a second start is refused and names the first.
    """
    require(by, "rulebook.manage")
    code = code.strip() or base.code
    if code != base.code and RulebookVersion.objects.filter(code=code).exists():
        raise EntryProblem(
            _("There is a rulebook with the code %(code)s already.") % {"code": code},
            {"code": _("Choose another code.")},
        )
    versions = RulebookVersion.objects.filter(code=code)
    draft = versions.filter(published_at__isnull=True).first()
    if draft is not None:
        raise MoveNotAllowed(
            _("%(draft)s is being worked on already. Finish or discard it first.") % {"draft": draft}
        )
    last = versions.order_by("-version").values_list("version", flat=True).first() or 0
    data = _data_of(base) | {"code": code, "version": last + 1, "title": title.strip() or base.title}
    book = _read(data)
    draft = RulebookVersion.objects.create(
        code=code,
        version=book.version,
        title=book.title,
        about=book.about,
        data=data,
        digest=book_digest(book),
        dated=at.date(),
        offered=False,
        created_by=by,
        made_from=base,
    )
    record.write(by=by, at=at, verb="rulebook.start", subject=draft, after={"made from": str(base)})
    return draft


def _require_draft(version: RulebookVersion) -> None:
    if version.published_at is not None:
        raise MoveNotAllowed(
            _("%(version)s is published and never changes. Make the next version instead.")
            % {"version": version}
        )


def _store(
    draft: RulebookVersion,
    data: Data,
    *,
    by: User,
    at: datetime,
    before: Mapping[str, object],
    after: Mapping[str, object],
    reason: str,
) -> RulebookVersion:
    """Put new data into a draft if nobody was faster. A reason is due for every change."""
    require(by, "rulebook.manage")
    _require_draft(draft)
    if not reason.strip():
        raise EntryProblem(
            _("Say why the row changes."), {"reason": _("Say why; it stays with the version.")}
        )
    book = _read(data)
    digest = book_digest(book)
    claim(
        RulebookVersion.objects.filter(pk=draft.pk, digest=draft.digest, published_at__isnull=True),
        _("Somebody else changed %(draft)s a moment ago. Look at it again, then make your change.")
        % {"draft": draft},
        data=data,
        digest=digest,
        title=book.title,
        about=book.about,
    )
    draft.refresh_from_db()
    record.write(
        by=by, at=at, verb="rulebook.change", subject=draft, before=before, after=after, reason=reason.strip()
    )
    return draft


def _rows(data: Data) -> list[Data]:
    return [dict(row) for row in data["rows"]]


@transaction.atomic
def change_row(draft: RulebookVersion, row: Data, *, by: User, at: datetime, reason: str) -> RulebookVersion:
    """Replace the row of that number in a draft, or add it where no row has the number."""
    data = _data_of(draft)
    rows = {int(old["number"]): old for old in _rows(data)}
    was = rows.get(int(row["number"]), {})
    rows[int(row["number"])] = row
    data["rows"] = [rows[number] for number in sorted(rows)]
    return _store(draft, data, by=by, at=at, before={"row": was}, after={"row": row}, reason=reason)


@transaction.atomic
def remove_row(
    draft: RulebookVersion, number: int, *, by: User, at: datetime, reason: str
) -> RulebookVersion:
    """Take a row out of a draft. Its number is not given to another row of the same version."""
    data = _data_of(draft)
    left = [row for row in _rows(data) if row["number"] != number]
    gone = [row for row in _rows(data) if row["number"] == number]
    if not gone:
        raise EntryProblem(_("%(draft)s has no row %(number)s.") % {"draft": draft, "number": number})
    data["rows"] = left
    return _store(draft, data, by=by, at=at, before={"row": gone[0]}, after={"row": None}, reason=reason)


@transaction.atomic
def change_settings(
    draft: RulebookVersion, changes: Mapping[str, object], *, by: User, at: datetime, reason: str
) -> RulebookVersion:
    """Change settings, title or the text about a draft."""
    unknown = set(changes) - {*SETTINGS, "title", "about"}
    if unknown:
        raise ValueError(f"not settings of a rulebook: {sorted(unknown)}")
    data = _data_of(draft)
    was, becomes = record.differences({name: data.get(name) for name in changes}, changes)
    return _store(draft, data | becomes, by=by, at=at, before=was, after=becomes, reason=reason)


@transaction.atomic
def publish_version(
    draft: RulebookVersion, *, by: User, at: datetime, dated: date, reason: str, offered: bool = True
) -> RulebookVersion:
    """Fix a draft for good, dated and with the reason for the version."""
    require(by, "rulebook.manage")
    _require_draft(draft)
    if not reason.strip():
        raise EntryProblem(
            _("Say why there is a new version."), {"reason": _("Say why there is a new version.")}
        )
    data = _data_of(draft) | {"dated": dated.isoformat()}
    book = _read(data)
    if offered and not any(row.limit is not None for row in book.rows):
        raise EntryProblem(
            _("No row has a limit yet, so the rulebook cannot be offered."),
            {"offered": _("Set at least one limit, or publish it without offering it.")},
        )
    claim(
        RulebookVersion.objects.filter(pk=draft.pk, digest=draft.digest, published_at__isnull=True),
        _("Somebody else changed %(draft)s a moment ago. Look at it again before you publish it.")
        % {"draft": draft},
        data=data,
        digest=book_digest(book),
        dated=dated,
        reason=reason.strip(),
        offered=offered,
        published_at=at,
    )
    draft.refresh_from_db()
    record.write(
        by=by,
        at=at,
        verb="rulebook.publish",
        subject=draft,
        after={"dated": dated, "digest": draft.digest, "offered": offered},
        reason=reason.strip(),
    )
    return draft


@transaction.atomic
def discard_draft(draft: RulebookVersion, *, by: User, at: datetime) -> None:
    """Give up a draft that was never published; the record keeps that it existed."""
    require(by, "rulebook.manage")
    _require_draft(draft)
    record.write(by=by, at=at, verb="rulebook.discard", subject=draft, before={"data": draft.data})
    RulebookVersion.objects.filter(pk=draft.pk, published_at__isnull=True).delete()


@transaction.atomic
def offer_version(version: RulebookVersion, *, by: User, at: datetime, offered: bool) -> RulebookVersion:
    """Offer a published version for new consignments, or stop offering it."""
    require(by, "rulebook.manage")
    if version.published_at is None:
        raise MoveNotAllowed(_("%(version)s is a draft. Publish it first.") % {"version": version})
    if version.default and not offered:
        raise MoveNotAllowed(
            _("%(version)s is the default. Make another version the default first.") % {"version": version}
        )
    claim(
        RulebookVersion.objects.filter(pk=version.pk, offered=version.offered),
        _("Somebody else changed %(version)s a moment ago.") % {"version": version},
        offered=offered,
    )
    record.write(
        by=by,
        at=at,
        verb="rulebook.offer",
        subject=version,
        before={"offered": version.offered},
        after={"offered": offered},
    )
    version.offered = offered
    return version


@transaction.atomic
def make_default(version: RulebookVersion, *, by: User, at: datetime) -> RulebookVersion:
    """Make a published version the one that new consignments start with; it is offered too."""
    require(by, "rulebook.manage")
    if version.published_at is None:
        raise MoveNotAllowed(_("%(version)s is a draft. Publish it first.") % {"version": version})
    former = RulebookVersion.objects.filter(default=True).first()
    RulebookVersion.objects.filter(default=True).update(default=False)
    RulebookVersion.objects.filter(pk=version.pk).update(default=True, offered=True)
    version.refresh_from_db()
    record.write(
        by=by,
        at=at,
        verb="rulebook.default",
        subject=version,
        before={"default": str(former) if former else None},
        after={"default": str(version)},
    )
    return version
