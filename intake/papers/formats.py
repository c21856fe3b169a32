"""Sizes of label sheets and of single labels, named by their measures."""

from __future__ import annotations

from dataclasses import dataclass

from django.conf import settings
from django.utils.translation import gettext_lazy as _


@dataclass(frozen=True, slots=True)
class LabelFormat:
    """A page with labels on it, in millimetres. One label a page is a label printer's roll."""

    code: str
    name: object
    page_mm: tuple[float, float]
    label_mm: tuple[float, float]
    columns: int = 1
    rows: int = 1
    margin_mm: tuple[float, float] = (0, 0)
    gap_mm: tuple[float, float] = (0, 0)

    @property
    def per_page(self) -> int:
        return self.columns * self.rows

    def place_mm(self, index: int) -> tuple[float, float]:
        """Lower left corner of label ``index`` (from the top left, row by row) on its page."""
        down, across = divmod(index % self.per_page, self.columns)
        x = self.margin_mm[0] + across * (self.label_mm[0] + self.gap_mm[0])
        top = self.page_mm[1] - self.margin_mm[1] - down * (self.label_mm[1] + self.gap_mm[1])
        return x, top - self.label_mm[1]


#: A 50 mL tube is about 30 mm wide, so a label of 76 mm goes round most of it (measured on
#: ordinary conical tubes; common practice). Sheet sizes are ordinary divisions of A4.
SHIPPED = (
    LabelFormat(
        "tube", _("A4, 2 × 10 tube wraps of 90 × 26 mm"), (210, 297), (90, 26), 2, 10, (12, 10), (6, 1.5)
    ),
    LabelFormat("a4-3x8", _("A4, 3 × 8 labels of 70 × 37 mm"), (210, 297), (70, 37), 3, 8, (0, 0.5)),
    LabelFormat(
        "a4-3x7",
        _("A4, 3 × 7 labels of 63.5 × 38.1 mm"),
        (210, 297),
        (63.5, 38.1),
        3,
        7,
        (7.2, 15.1),
        (2.5, 0),
    ),
    LabelFormat("roll-76x26", _("label printer, 76 × 26 mm"), (76, 26), (76, 26)),
    LabelFormat("roll-62x29", _("label printer, 62 × 29 mm"), (62, 29), (62, 29)),
)


def formats() -> dict[str, LabelFormat]:
    """The formats of this laboratory by code: those shipped and those of its settings."""
    own = [LabelFormat(**values) for values in getattr(settings, "LABEL_FORMATS", ())]
    return {form.code: form for form in (*SHIPPED, *own)}


def default_format() -> LabelFormat:
    known = formats()
    return known.get(getattr(settings, "LABEL_FORMAT", ""), SHIPPED[0])
