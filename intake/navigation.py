"""What stands in the head of every page, by role."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import NoReverseMatch, reverse
from django.utils.translation import gettext_lazy as _

from intake.choices import Role

CONSIGNMENTS = ("intake:consignments", _("Consignments"))
RECEPTION = ("intake:reception", _("Reception"))
QUEUE = ("labqueue:queue", _("Queue"))
BENCH = ("labqueue:bench", _("Bench"))
QUESTIONS = ("intake:questions", _("Questions"))
RULEBOOKS = ("intake:rulebooks", _("Rulebooks"))
PEOPLE = ("intake:people", _("People"))
OVERVIEW = ("labqueue:overview", _("Overview"))

BY_ROLE: dict[str, tuple[tuple[str, object], ...]] = {
    Role.SUBMITTER: (CONSIGNMENTS, QUESTIONS, RULEBOOKS),
    Role.RECEPTION: (RECEPTION, CONSIGNMENTS, QUESTIONS),
    Role.MANAGER: (QUEUE, BENCH, RECEPTION, CONSIGNMENTS, QUESTIONS, RULEBOOKS, PEOPLE, OVERVIEW),
}


@dataclass(frozen=True, slots=True)
class Door:
    """One way to go: its words, its address and whether the person stands in it."""

    words: object
    address: str
    here: bool
    exactly: bool


def address_of(name: str, *args: object) -> str:
    """The address called ``name``, empty where this site does not have it."""
    try:
        return reverse(name, args=args)
    except NoReverseMatch:
        return ""


def doors(role: str, path: str) -> list[Door]:
    """The doors of ``role``; ``path`` tells which of them the person went through."""
    found = [(words, address_of(name)) for name, words in BY_ROLE.get(role, ())]
    return [
        Door(words, address, path.startswith(address), path == address) for words, address in found if address
    ]
