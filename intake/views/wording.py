"""Rulebooks in words: rows, settings and differences as pages show them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from intake.forms.rulebooks import SettingsForm
from intake.phrasebook import said
from intake.rules.book import Conditions, KeepingRow, Rulebook
from intake.rules.comparing import Change, RowDifference
from intake.rules.holding import say_limit
from intake.rules.words import say_number, say_span
from intake.shown import show_choices


@dataclass(frozen=True, slots=True)
class ShownRow:
    """One row as text. ``sure`` is false for what was written down from memory."""

    number: int
    ion: str
    conditions: tuple[str, ...]
    limit: str
    source: str
    confidence: str
    sure: bool
    note: str


@dataclass(frozen=True, slots=True)
class ShownDifference:
    number: int
    change: Change
    old: ShownRow | None
    new: ShownRow | None
    fields: tuple[str, ...]


def say_each_condition(asks: Conditions) -> tuple[str, ...]:
    """Every condition of a row in words, with its figures."""
    words = []
    if asks.filter_pore_max_um is not None:
        words.append(_("filtered at %(pore)s µm or finer") % {"pore": say_number(asks.filter_pore_max_um)})
    if asks.filtered_within_min is not None:
        words.append(_("filtered within %(span)s") % {"span": said(say_span(asks.filtered_within_min))})
    words += _temperature(asks)
    words += _acid(asks)
    if asks.containers:
        words.append(_("in %(kinds)s") % {"kinds": show_choices(said(k.value) for k in asks.containers)})
    if asks.to_brim is not None:
        words.append(_("filled to the brim") if asks.to_brim else _("not filled to the brim"))
    if asks.chlorinated is not None:
        words.append(_("chlorinated water") if asks.chlorinated else _("water without chlorine"))
    if asks.additive:
        words.append(_("with %(additive)s") % {"additive": said(asks.additive)})
    return tuple(words)


def _temperature(asks: Conditions) -> list[str]:
    words = []
    if asks.max_c is not None and asks.min_c is not None:
        low, high = say_number(asks.min_c), say_number(asks.max_c)
        words.append(_("kept at %(low)s to %(high)s °C") % {"low": low, "high": high})
    elif asks.max_c is not None:
        words.append(_("kept at %(high)s °C or colder") % {"high": say_number(asks.max_c)})
    if asks.frozen is not None:
        words.append(_("frozen") if asks.frozen else _("not frozen"))
    if asks.frozen_within_min is not None:
        words.append(_("frozen within %(span)s") % {"span": said(say_span(asks.frozen_within_min))})
    return words


def _acid(asks: Conditions) -> list[str]:
    words = []
    if asks.acid == ():
        words.append(_("no acid"))
    elif asks.acid:
        words.append(_("%(acids)s acid") % {"acids": show_choices(said(kind.value) for kind in asks.acid)})
    if asks.acid_ph_max is not None:
        words.append(_("to pH %(ph)s or lower") % {"ph": say_number(asks.acid_ph_max)})
    if asks.acid_within_min is not None:
        words.append(_("acid within %(span)s") % {"span": said(say_span(asks.acid_within_min))})
    return words


def shown_row(row: KeepingRow, book: Rulebook | None = None) -> ShownRow:
    source = row.source
    return ShownRow(
        number=row.number,
        ion=row.ion,
        conditions=say_each_condition(row.conditions),
        limit=said(say_limit(row.limit, book)) if row.limit and book else _("to be set by the laboratory"),
        source=", ".join(part for part in (source.document, source.edition, source.place) if part),
        confidence=said(row.confidence.value),
        sure=row.confidence.value == "read",
        note=row.note,
    )


def shown_rows(book: Rulebook) -> list[ShownRow]:
    return [shown_row(row, book) for row in sorted(book.rows, key=lambda row: (row.ion, row.number))]


def differing_rows(
    differences: Iterable[RowDifference], old: Rulebook, new: Rulebook
) -> list[ShownDifference]:
    """The rows that differ, either side as text."""
    return [
        ShownDifference(
            number=row.number,
            change=row.change,
            old=shown_row(row.old, old) if row.old else None,
            new=shown_row(row.new, new) if row.new else None,
            fields=row.fields,
        )
        for row in differences
        if row.change is not Change.SAME
    ]


def say_setting(value: object) -> str:
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if value is None:
        return _("not asked for")
    return say_number(value) if isinstance(value, int | float) else said(value)


def setting_label(name: str) -> object:
    """The words for a setting: those of its field in the form that changes it."""
    return SettingsForm.base_fields[name].label


def setting_rows(book: Rulebook) -> list[tuple[object, str]]:
    """What holds for every row, as label and text."""
    return [
        (setting_label(name), say_setting(getattr(book, name)))
        for name in SettingsForm.base_fields
        if name not in ("title", "about", "reason", "was")
    ]
