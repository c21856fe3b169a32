"""The seal of a statement, by which anybody can tell that it is what was released."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping

from intake.models import Statement
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
