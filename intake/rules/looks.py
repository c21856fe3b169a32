"""What a person at the bench should look at on one bottle, and what may be wrong with it.

A look belongs to one bottle and is meant to be made on that bottle: TNI interpretation request
20120 (read) wants each check tied to each sample and recorded when it is made. Label against
list: EPA SW-846 Chapter Nine (1986) 9.2.2.7. pH of each bottle that needs a stated pH:
Wisconsin NR 149.442(2)(e); on a portion taken out, never with strip or probe in the bottle:
EPA 200.7 draft Rev 5 (2001). Leaking: SW-846 9.2.2.7. The rest is common practice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from intake.rules.book import Rulebook
from intake.rules.facts import AcidKind, BottleFacts
from intake.rules.kept import declared_acid


@dataclass(frozen=True, slots=True)
class Look:
    """One thing to look at. ``in_order`` is what the facts named hold when nothing is wrong."""

    sentence: str
    in_order: Mapping[str, bool]


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that may be wrong. ``seen`` is what is then recorded, by name of the fact.

    ``key`` is the digit that marks it. ``asks`` says what has to be typed before it can be
    recorded: ``"ph"``, ``"remark"`` or nothing.
    """

    key: str
    name: str
    seen: Mapping[str, bool]
    asks: str = ""


#: Digits are our own; 9 is for whatever the others do not say.
FAULTS: tuple[Fault, ...] = (
    Fault("1", "not cold", {"cold": False}),
    Fault("2", "air over the water", {"headspace": True}),
    Fault("3", "leaking", {"leaking": True}),
    Fault("4", "acid missing or pH wrong", {}, asks="ph"),
    Fault("5", "cloudy or a deposit", {"cloudy": True}),
    Fault("6", "label unlike the list", {"label_matches": False}),
    Fault("7", "broken", {"broken": True}),
    Fault("8", "frozen", {"frozen": True}),
    Fault("9", "something else", {}, asks="remark"),
)
THAWED = Fault("8", "thawed", {"frozen": False})


def faults_of(bottle: BottleFacts) -> tuple[Fault, ...]:
    """What may be wrong with ``bottle``; of one declared frozen it is that it thawed."""
    if not bottle.frozen:
        return FAULTS
    return tuple(THAWED if fault.key == THAWED.key else fault for fault in FAULTS)


def wants_strip(bottle: BottleFacts) -> bool:
    """Whether a pH strip belongs to the check: acid was declared, and the water can be poured."""
    return not bottle.frozen and declared_acid(bottle) is not AcidKind.NONE


def looks_of(bottle: BottleFacts, book: Rulebook) -> tuple[Look, ...]:
    """What the rules want seen on ``bottle``, in the order in which a hand does it.

    The pH strip is left out: it gives a figure, see ``wants_strip``.
    """
    looks = [Look("The label agrees with what stands here", {"label_matches": True})]
    looks.append(Look("Whole and dry outside", {"broken": False, "leaking": False}))
    if bottle.frozen:
        looks.append(Look("Still frozen solid", {"frozen": True}))
        return tuple(looks)
    looks.append(Look("Cold to the touch, not frozen", {"cold": True, "frozen": False}))
    if _wants_brim(bottle, book):
        looks.append(Look("Full to the brim, no air over the water", {"headspace": False}))
    if bottle.filter_pore_um != 0:
        looks.append(Look("Clear, no cloud, no deposit", {"cloudy": False}))
    return tuple(looks)


def _wants_brim(bottle: BottleFacts, book: Rulebook) -> bool:
    asked = (row for ion in bottle.ions for row in book.by_ion.get(ion, ()))
    return book.to_brim or any(row.conditions.to_brim for row in asked)


def seen_in_order(bottle: BottleFacts, book: Rulebook) -> dict[str, bool]:
    """What is recorded when a person says that every look at ``bottle`` found it in order."""
    return {fact: value for look in looks_of(bottle, book) for fact, value in look.in_order.items()}


def faults_in(bottle: BottleFacts, seen: Mapping[str, object]) -> tuple[Fault, ...]:
    """The faults that ``seen`` already tells of ``bottle``: such a bottle is not in order."""
    return tuple(
        fault
        for fault in faults_of(bottle)
        if fault.seen and all(seen.get(name) is value for name, value in fault.seen.items())
    )
