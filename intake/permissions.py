"""Who may do what. Asked by actions, views and templates alike.

An act is a dotted name. ``visible_to`` decides what a person may know of; this decides what
a person may do to a thing already in sight.
"""

from __future__ import annotations

from collections.abc import Callable

from intake.choices import Role
from intake.errors import NotPermitted
from intake.models import Arrival, Bottle, Consignment, Group, Question, User

Thing = Consignment | Bottle | Arrival | Group | Question | None


def _member(user: User, thing: Thing) -> bool:
    """Whether ``user`` belongs to the group that ``thing`` concerns."""
    if isinstance(thing, Bottle | Question):
        thing = thing.consignment
    group_id = thing.pk if isinstance(thing, Group) else getattr(thing, "group_id", None)
    return group_id is not None and user.membership_set.filter(group_id=group_id).exists()


def _member_or_manager(user: User, thing: Thing) -> bool:
    return user.is_manager or _member(user, thing)


def _laboratory(user: User, thing: Thing) -> bool:
    return user.is_staff or user.role == Role.SYSTEM


def _manager(user: User, thing: Thing) -> bool:
    return user.is_manager or user.role == Role.SYSTEM


ACTS: dict[str, Callable[[User, Thing], bool]] = {
    "consignment.make": _member_or_manager,
    "consignment.amend": _member_or_manager,
    "consignment.send": _member_or_manager,
    "consignment.withdraw": _member_or_manager,
    "date.ask": _member_or_manager,
    "date.answer": _manager,
    "arrival.open": _laboratory,
    "bottle.check": _laboratory,
    "bottle.decide": _laboratory,
    "bottle.store": _laboratory,
    "bottle.discard": _laboratory,
    "place.make": _laboratory,
    "bench.plan": _manager,
    "bench.run": _manager,
    "question.ask": _laboratory,
    "question.answer": _member_or_manager,
    "question.remind": _manager,
    "queue.see": _manager,
    "overview.see": _manager,
    "results.enter": _manager,
    "statement.issue": _manager,
    "reception.see": _laboratory,
    "people.manage": _manager,
    "rulebook.manage": _manager,
}


def can(user: User, act: str, thing: Thing = None) -> bool:
    """Whether ``user`` may do ``act`` (to ``thing``). An unknown act is a programming fault."""
    rule = ACTS[act]
    return user.is_authenticated and user.is_active and rule(user, thing)


def require(user: User, act: str, thing: Thing = None) -> None:
    """Raise ``NotPermitted`` unless ``user`` may do ``act``."""
    if not can(user, act, thing):
        raise NotPermitted(f"{user} may not do {act}.")
