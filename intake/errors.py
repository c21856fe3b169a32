"""What can be refused, typed. A view turns these into a form error or a page that explains.

Imports nothing of ours, so that every room may raise and catch them.
"""

from __future__ import annotations

from collections.abc import Mapping

from django.core.exceptions import PermissionDenied


class Refused(Exception):
    """Something asked for cannot be done. ``sentence`` is written for the person who asked.

    It is said in the language that holds where this is raised.
    """

    def __init__(self, sentence: object) -> None:
        self.sentence = str(sentence)
        super().__init__(self.sentence)


class MoveNotAllowed(Refused):
    """The thing is in a state from which this move does not exist."""


class SomebodyWasFaster(Refused):
    """The thing changed after it was read. ``sentence`` says what the other person did."""


class AlreadyDone(Refused):
    """The same form or scan was sent twice. Nothing changed the second time.

    ``outcome`` is what the first time answered.
    """

    def __init__(self, sentence: object, outcome: dict[str, object] | None = None) -> None:
        super().__init__(sentence)
        self.outcome = outcome or {}


class EntryProblem(Refused):
    """Data that cannot be taken as it is. ``problems`` maps a field name to a sentence."""

    def __init__(self, sentence: object, problems: Mapping[str, object] | None = None) -> None:
        super().__init__(sentence)
        self.problems = {field: str(problem) for field, problem in (problems or {}).items()}


class NotPermitted(PermissionDenied):
    """The person may see the thing but not do this to it."""
