"""Taking shipped rulebooks into the database."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from django.db import transaction

from intake import record
from intake.errors import EntryProblem
from intake.models import RulebookVersion, User
from intake.permissions import require
from intake.rules.book_data import book_digest, book_from_data


@transaction.atomic
def take_rulebooks(
    books: Iterable[dict[str, object]], *, by: User, at: datetime, default: str = "house"
) -> list[RulebookVersion]:
    """Store each plain rulebook that is not stored yet; returns the ones that are new.

    A version already stored with other content is refused: a used version never changes.
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
                    f"Rulebook {book.title} version {book.version} is stored with other rows. "
                    "A version is never changed; give the new rows the next version number."
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
        )
        record.write(by=by, at=at, verb="rulebook.take", subject=row, after={"digest": digest})
        new.append(row)
    return new
