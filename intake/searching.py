"""Finding consignments by words, the newest first, at a cost that does not grow with the laboratory."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db import connection
from django.db.models import Exists, OuterRef, QuerySet

from intake.models import Group, SearchWord, User
from intake.searchwords import asked_words, beginnings, word_of_group

#: Consignments that one search shows.
SHOWN = 200
#: The newest consignments with one word that are looked through for the other words.
LOOKED_THROUGH = 1000


@dataclass(frozen=True, slots=True)
class Found:
    """Keys of the consignments found, the newest first; ``more``: older ones may match as well."""

    keys: tuple[int, ...]
    more: bool


def search(
    consignments: QuerySet, text: str, user: User, groups: Iterable[Group], group: Group | None = None
) -> Found:
    """The newest of ``consignments`` that have a word beginning with each word of ``text``.

    Words are those of number, title and group, and of the samples' ids and sites. ``consignments``
    are such as ``user`` may see, of ``group`` if one is given; ``groups`` are all that ``user`` may know
    of. Two questions, each of which reads a bounded part of an index.
    """
    words = asked_words(text)
    if not words:
        return Found((), more=False)
    named = {word_of_group(one.pk): beginnings([one.name]) for one in groups}
    asked = [[word, *(mark for mark, begins in named.items() if word in begins)] for word in words]
    if group is not None:
        asked.append([word_of_group(group.pk)])
    elif not user.is_staff:
        asked.append(list(named))
    return _found(consignments, asked) if all(asked) else Found((), more=False)


def _found(consignments: QuerySet, asked: list[list[str]]) -> Found:
    """Those with one of each of ``asked``: begin with what reaches back furthest, look the others up."""
    reaches = _reaches([word for alternatives in asked for word in alternatives])
    floors = [max(reaches[word] for word in alternatives) for alternatives in asked]
    floor, rarest = min(zip(floors, asked, strict=True), key=lambda pair: pair[0])
    begins = SearchWord.objects.filter(word__in=rarest, consignment__gte=floor)
    rows = consignments.filter(pk__in=begins.values("consignment"))
    for alternatives in asked:
        if alternatives is not rarest:
            rows = rows.filter(
                Exists(SearchWord.objects.filter(word__in=alternatives, consignment=OuterRef("pk")))
            )
    keys = list(rows.order_by("-pk").values_list("pk", flat=True)[: SHOWN + 1])
    return Found(tuple(keys[:SHOWN]), more=floor > 0 or len(keys) > SHOWN)


def _reaches(words: Sequence[str]) -> dict[str, int]:
    """How far back the newest consignments with each word reach: a key, 0 where that is all there are."""
    table = connection.ops.quote_name(SearchWord._meta.db_table)
    one = (
        f"COALESCE((SELECT consignment_id FROM {table} WHERE word = %s "  # noqa: S608 (a table of ours)
        f"ORDER BY consignment_id DESC LIMIT 1 OFFSET {LOOKED_THROUGH}), 0)"
    )
    known = list(dict.fromkeys(words))
    with connection.cursor() as cursor:
        cursor.execute("SELECT " + ", ".join([one] * len(known)), known)
        return dict(zip(known, cursor.fetchone(), strict=True))
