"""The only writer of the record.

Entries form chains: one for each consignment and one for the laboratory. Each entry's
digest is SHA-256 over its canonical form and the digest before it, so that an entry altered,
taken out or slipped in later can be told.

No name or mail address of a person stands in an entry, only the mark of one (``private``): what is
personal can be removed on request and the chain still holds.
"""

from __future__ import annotations

import hashlib
import json
import re
import secrets
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

from django.core.serializers.json import DjangoJSONEncoder

from intake.models import ChainHead, Consignment, PersonalText, RecordEntry, User
from intake.stored import stored_words

LAB_CHAIN = "LAB"


def canonical(entry: RecordEntry) -> bytes:
    """The bytes that are digested: a JSON array in a fixed order, without white space."""
    content = [
        entry.chain,
        entry.position,
        entry.at.astimezone(UTC).isoformat(),
        entry.actor_id,
        entry.name_then,
        entry.verb,
        entry.subject,
        entry.before,
        entry.after,
        entry.reason,
        entry.previous,
    ]
    return json.dumps(
        content, sort_keys=True, separators=(",", ":"), ensure_ascii=False, cls=DjangoJSONEncoder
    ).encode()


def digest_of(entry: RecordEntry) -> str:
    return hashlib.sha256(canonical(entry)).hexdigest()


def plain(values: Mapping[str, object]) -> dict[str, object]:
    """``values`` as they will come back from the database, so that a digest can be made again."""
    return json.loads(json.dumps(dict(values), cls=DjangoJSONEncoder))


@stored_words()
def write(
    *,
    by: User,
    at: datetime,
    verb: str,
    subject: object,
    consignment: Consignment | None = None,
    before: Mapping[str, object] | None = None,
    after: Mapping[str, object] | None = None,
    reason: str = "",
) -> RecordEntry:
    """Append one entry. Must be called inside the transaction of the action it tells of.

    ``verb`` is dotted (``consignment.send``); ``subject`` is what it was done to, in words
    people recognise. ``before`` and ``after`` hold the values that changed. Words that come lazily are
    written in English.
    """
    chain = consignment.number if consignment is not None else LAB_CHAIN
    head = _end_of(chain)
    entry = RecordEntry(
        chain=chain,
        position=head.position + 1,
        at=at,
        actor=by,
        verb=verb,
        consignment=consignment,
        subject=str(subject)[:120],
        before=plain(before or {}),
        after=plain(after or {}),
        reason=reason,
        previous=head.digest,
    )
    entry.digest = digest_of(entry)
    entry.save(force_insert=True)
    ChainHead.objects.filter(pk=head.pk).update(position=entry.position, digest=entry.digest)
    return entry


def _end_of(chain: str) -> ChainHead:
    """The end of ``chain``, ours until the transaction ends: two writers come one after the other.

    The row's lock sees to it on PostgreSQL; SQLite has one writer at a time anyway.
    """
    ends = ChainHead.objects.select_for_update()
    head = ends.filter(chain=chain).first()
    if head is None:
        ChainHead.objects.get_or_create(chain=chain)
        head = ends.get(chain=chain)
    return head


#: How a mark looks, wherever in a text it stands.
MARK = re.compile(r"person:[0-9a-f]{32}")
REMOVED = "a former member"


def _mark(salt: str, text: str) -> str:
    return f"person:{hashlib.sha256(f'{salt}{text}'.encode()).hexdigest()[:32]}"


def private(person: User | None, text: str) -> str:
    """The mark by which the record names ``text``, a name or address of ``person`` (or of no account yet)."""
    if not text:
        return ""
    found = PersonalText.objects.filter(person=person, text=text).first()
    if found is None:
        salt = secrets.token_hex(16)
        found = PersonalText.objects.create(person=person, text=text, salt=salt, mark=_mark(salt, text))
    return found.mark


def marks_in(*values: object) -> set[str]:
    """Every mark in ``values``, however deep."""
    return set(MARK.findall(json.dumps(values, cls=DjangoJSONEncoder)))


def readable(value: object) -> object:
    """``value`` of an entry with names and addresses in place of their marks, as far as they are kept.

    One query, and none where there is no mark.
    """
    marks = marks_in(value)
    if not marks:
        return value
    texts = dict(PersonalText.objects.filter(mark__in=marks).values_list("mark", "text"))
    return _with_texts(value, texts)


def _with_texts(value: object, texts: Mapping[str, str]) -> object:
    if isinstance(value, str):
        return MARK.sub(lambda found: texts.get(found[0], REMOVED), value)
    if isinstance(value, list | tuple):
        return [_with_texts(part, texts) for part in value]
    if isinstance(value, dict):
        return {name: _with_texts(part, texts) for name, part in value.items()}
    return value


def differences(
    before: Mapping[str, object], after: Mapping[str, object]
) -> tuple[dict[str, object], dict[str, object]]:
    """Only the values that differ between the two."""
    changed = [name for name in after if before.get(name) != after[name]]
    return {name: before.get(name) for name in changed}, {name: after[name] for name in changed}


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a chain: where, and what."""

    chain: str
    position: int
    sentence: str

    def __str__(self) -> str:
        return f"{self.chain} entry {self.position}: {self.sentence}"


def faults() -> Iterator[Fault]:
    """Walk every chain and name each entry that was altered, taken out or slipped in."""
    heads = {head.chain: head for head in ChainHead.objects.all()}
    chain, position, digest = "", 0, ""
    entries = RecordEntry.objects.select_related(None).order_by("chain", "position")
    for entry in entries.iterator(chunk_size=2000):
        if entry.chain != chain:
            yield from _end_faults(heads.pop(chain, None), chain, position, digest)
            chain, position, digest = entry.chain, 0, ""
        yield from _entry_faults(entry, position, digest)
        position, digest = entry.position, entry.digest
    yield from _end_faults(heads.pop(chain, None), chain, position, digest)
    for head in heads.values():
        yield from _end_faults(head, head.chain, 0, "")
    for kept in PersonalText.objects.order_by("pk"):
        if _mark(kept.salt, kept.text) != kept.mark:
            yield Fault("names", kept.pk, f"the name behind {kept.mark} is not what was written.")


def _entry_faults(entry: RecordEntry, position: int, digest: str) -> Iterator[Fault]:
    if entry.position != position + 1:
        yield Fault(entry.chain, entry.position, f"entries {position + 1} to {entry.position - 1} are gone.")
    elif entry.previous != digest:
        yield Fault(entry.chain, entry.position, "it does not follow from the entry before it.")
    if digest_of(entry) != entry.digest:
        yield Fault(entry.chain, entry.position, "its content is not what was written.")


def _end_faults(head: ChainHead | None, chain: str, position: int, digest: str) -> Iterator[Fault]:
    if not chain:
        return
    if head is None:
        yield Fault(chain, position, "nobody noted that this chain exists.")
    elif head.position > position:
        yield Fault(chain, head.position, f"entries {position + 1} to {head.position} are gone.")
    elif (head.position, head.digest) != (position, digest):
        yield Fault(chain, position, "the end of the chain is not the one that was noted.")
