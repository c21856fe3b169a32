"""The card of a storage place: its number as code and text, and where it stands."""

from __future__ import annotations

from django.utils.translation import gettext as _
from reportlab.lib.units import mm
from reportlab.platypus import Spacer, Table

from intake.models import StoragePlace
from intake.numbers import grouped
from intake.papers.pages import LARGE, TITLE, Code, document, strong, words

CODE_SIDE = 45 * mm


def place_card_pdf(place: StoragePlace) -> bytes:
    """One page with the card of ``place``, to be cut out."""
    about = [
        words(place.name, TITLE),
        strong(grouped(place.number), LARGE),
        words(place.where, LARGE),
        Spacer(0, 2 * mm),
        words(_("Scan this, then every bottle that goes in.")),
    ]
    card = Table([[about, Code(place.number, CODE_SIDE)]], colWidths=(None, CODE_SIDE))
    return document(_("Place %(number)s") % {"number": place.number}, place.where, [card])
