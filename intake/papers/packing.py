"""The packing list: goes into the box; one scan of it opens the arrival."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer, Table

from intake.models import Bottle, Consignment
from intake.numbers import grouped
from intake.papers.pages import FLUSH, LARGE, SMALL, TITLE, Code, document, ruled, strong, words
from intake.phrasebook import said
from intake.shown import show_clock

CODE_SIDE = 30 * mm
WIDTHS = (27 * mm, 34 * mm, 42 * mm, 18 * mm, 29 * mm, 28 * mm)


def packing_list_pdf(consignment: Consignment, bottles: Sequence[Bottle]) -> bytes:
    """The list of ``bottles`` (with their samples) that belong into the box of ``consignment``."""
    head = Table(
        [
            [
                [
                    words(_("Packing list"), TITLE),
                    strong(grouped(consignment.number), LARGE),
                    words(consignment.title, LARGE),
                    words(consignment.group.name, LARGE),
                ],
                Code(consignment.number, CODE_SIDE),
            ]
        ],
        colWidths=(None, CODE_SIDE),
        style=FLUSH,
    )
    heads = [
        strong(text, SMALL)
        for text in (_("Bottle"), _("Sample"), _("Site"), _("Line"), _("Collected"), _("In the box"))
    ]
    rows: list[list[object]] = [heads, *(_row(bottle, consignment.zone) for bottle in bottles)]
    story: list[Flowable] = [
        head,
        Spacer(0, 4 * mm),
        words(
            _("%(count)s bottles. Times are those of %(zone)s.")
            % {"count": len(bottles), "zone": consignment.zone}
        ),
        Spacer(0, 2 * mm),
        ruled(rows, WIDTHS),
        Spacer(0, 6 * mm),
        words(_("Packed by ____________________   on ____________________   box temperature ________ °C")),
    ]
    return document(_("Packing list %(number)s") % {"number": consignment.number}, f"{consignment}", story)


def _row(bottle: Bottle, zone: str) -> list[object]:
    sample = bottle.sample
    collected = show_clock(sample.collected_at, zone) if sample.collected_at else "________"
    acid = f", {said(bottle.acid_kind)}" if bottle.acid_kind not in ("", "none") else ""
    return [
        strong(grouped(bottle.number), SMALL),
        words(sample.own_id, SMALL),
        words(sample.site, SMALL),
        words(f"{bottle.get_line_display()}{acid}", SMALL),
        words(collected, SMALL),
        words("[   ]", SMALL),
    ]
