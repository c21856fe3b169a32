"""The seal of a statement, by which anybody can tell that it is what was released."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping

from intake.models import RecordEntry, Statement
from intake.stating import stamp


def digest_of(content: Mapping[str, object]) -> str:
    """SHA-256 over ``content`` in a fixed order, without white space."""
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()


def seal_of(statement: Statement) -> str:
    """The digest of a statement: its content, its number, who released it, when, and why."""
    return digest_of(
        {
            "number": statement.number,
            "issued_by": statement.issued_by_id,
            "issued_name": statement.issued_name,
            "issued_at": stamp(statement.issued_at),
            "replaces": statement.replaces_id,
            "reason": statement.reason,
            "content": statement.content,
        }
    )


def is_sound(statement: Statement) -> bool:
    """Whether ``statement`` still is what was released; else it is void."""
    return seal_of(statement) == statement.digest


def faults() -> Iterator[str]:
    """Every statement that is not what was released, or whose number was skipped, in a sentence each.

    Reads one after the other, so that memory does not grow with history.
    """
    before: tuple[int, int] = (0, 0)
    walk = Statement.objects.order_by("consignment_id", "sequence").iterator(chunk_size=20)
    for statement in walk:
        if not is_sound(statement):
            yield f"Statement {statement} is void: what is stored is no longer what was released."
        last = before[1] if before[0] == statement.consignment_id else 0
        if statement.sequence != last + 1:
            yield f"Statement {statement} follows number {last} of its consignment; one was taken out."
        before = statement.consignment_id, statement.sequence
    yield from _missing()


def _missing() -> Iterator[str]:
    """Statements that the record tells of and that are not there."""
    told = RecordEntry.objects.filter(verb="statement.issue").values_list("after", flat=True)
    there = dict(Statement.objects.values_list("number", "digest"))
    for after in told.iterator(chunk_size=500):
        digest = there.get(after.get("statement"))
        if digest is None:
            yield f"Statement {after.get('statement')} was issued, the record says, but is not there."
        elif digest != after.get("digest"):
            yield f"Statement {after.get('statement')} bears another seal than the record says."
