"""Labels for bottles: number as code and as text, what it is, and an acid mark without colour."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from io import BytesIO

from django.utils.translation import gettext as _
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from intake.models import Bottle
from intake.numbers import grouped
from intake.papers.formats import LabelFormat
from intake.papers.letters import PLAIN, STRONG, fitted, prepare, width_of
from intake.papers.squares import draw_code
from intake.phrasebook import said
from intake.rules.facts import AcidKind
from intake.rules.words import say_number
from intake.shown import show_date

EDGE_MM = 1.5
#: Smallest letters of the acid mark, in points: about 1 mm high capitals in print. Our choice.
SMALLEST_PT = 4.0


@dataclass(frozen=True, slots=True)
class Label:
    """What one label says. ``acid`` is empty on a bottle that gets none."""

    number: str
    own_id: str
    site: str
    date: str
    line: str
    acid: str


def label_of(bottle: Bottle) -> Label:
    """The label of a bottle whose sample and consignment were read with it."""
    sample, zone = bottle.sample, bottle.consignment.zone
    return Label(
        number=bottle.number,
        own_id=sample.own_id,
        site=sample.site,
        date=show_date(sample.collected_at, zone) if sample.collected_at else _("date: ____________"),
        line=str(bottle.get_line_display()),
        acid=_acid_of(bottle),
    )


def _acid_of(bottle: Bottle) -> str:
    if bottle.acidified is False or bottle.acid_kind in ("", AcidKind.NONE.value):
        return ""
    amount = f" {say_number(bottle.acid_ml)} mL" if bottle.acid_ml else ""
    strength = f" {say_number(bottle.acid_mol_l)} mol/L" if bottle.acid_mol_l else ""
    return _("ACID: %(kind)s%(amount)s%(strength)s") % {
        "kind": _("other acid") if bottle.acid_kind == AcidKind.OTHER else said(bottle.acid_kind),
        "amount": amount,
        "strength": strength,
    }


def labels_pdf(bottles: Iterable[Bottle], form: LabelFormat, first: int = 1) -> bytes:
    """A PDF of labels, beginning at place ``first`` of the sheet (1 is the top left)."""
    page = (form.page_mm[0] * mm, form.page_mm[1] * mm)
    prepare()
    file = BytesIO()
    canvas = Canvas(file, pagesize=page, invariant=True)
    canvas.setTitle("labels")
    place = max(0, min(first - 1, form.per_page - 1))
    for bottle in bottles:
        if place == form.per_page:
            canvas.showPage()
            place = 0
        x, y = form.place_mm(place)
        _draw(canvas, label_of(bottle), x * mm, y * mm, form.label_mm[0] * mm, form.label_mm[1] * mm)
        place += 1
    canvas.save()
    return file.getvalue()


def _draw(canvas: Canvas, label: Label, x: float, y: float, width: float, height: float) -> None:
    edge = EDGE_MM * mm
    side = min(height - 2 * edge, width * 0.36)
    draw_code(canvas, label.number, x + edge, y + height - edge - side, side)
    left, room = x + edge + side + edge, width - side - 3 * edge
    line = (height - 2 * edge) / 6
    rows = (
        (STRONG, 1.25, grouped(label.number)),
        (STRONG, 1.0, label.own_id),
        (PLAIN, 0.85, label.site),
        (PLAIN, 0.85, label.date),
    )
    top = y + height - edge
    canvas.setFillGray(0)
    for place, (font, scale, text) in enumerate(rows, start=1):
        size = min(line * 0.8 * scale, 13)
        canvas.setFont(font, size)
        canvas.drawString(left, top - place * line + line * 0.22, fitted(text, font, size, room))
    _draw_mark(canvas, label, left, y + edge, room, line * 1.7)


def _draw_mark(canvas: Canvas, label: Label, x: float, y: float, width: float, height: float) -> None:
    """Line and acid: white on a black bar with acid, black in a frame without."""
    size = min(height * 0.42, 9)
    if label.acid:
        canvas.rect(x, y, width, height, stroke=0, fill=1)
        canvas.setFillGray(1)
    else:
        canvas.setLineWidth(0.8)
        canvas.rect(x, y, width, height, stroke=1, fill=0)
    room = width - height * 0.3
    canvas.setFont(STRONG, size)
    canvas.drawString(x + height * 0.15, y + height * 0.56, fitted(label.line.upper(), STRONG, size, room))
    text = label.acid or _("no acid")
    # How strong the acid is stands last: rather smaller than cut.
    usual = size * 0.85
    small = min(usual, max(SMALLEST_PT, 0.99 * usual * room / width_of(text, STRONG, usual)))
    canvas.setFont(STRONG, small)
    canvas.drawString(x + height * 0.15, y + height * 0.14, fitted(text, STRONG, small, room))
    canvas.setFillGray(0)
