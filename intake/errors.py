"""What can be refused, typed. A view turns these into a form error or a page that explains.

Imports nothing of ours, so that every room may raise and catch them.
"""

from __future__ import annotations

from django.core.exceptions import PermissionDenied


class Refused(Exception):
    """Something asked for cannot be done. ``sentence`` is written for the person who asked."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


class MoveNotAllowed(Refused):
    """The thing is in a state from which this move does not exist."""


class SomebodyWasFaster(Refused):
    """The thing changed after it was read. ``sentence`` says what the other person did."""


class AlreadyDone(Refused):
    """The same form or scan was sent twice. Nothing changed the second time.

    ``outcome`` is what the first time answered.
    """

    def __init__(self, sentence: str, outcome: dict[str, object] | None = None) -> None:
        super().__init__(sentence)
        self.outcome = outcome or {}


class EntryProblem(Refused):
    """Data that cannot be taken as it is. ``problems`` maps a field name to a sentence."""

    def __init__(self, sentence: str, problems: dict[str, str] | None = None) -> None:
        super().__init__(sentence)
        self.problems = problems or {}


class NotPermitted(PermissionDenied):
    """The person may see the thing but not do this to it."""
