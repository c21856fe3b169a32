"""Rulebooks to and from plain data.

A rulebook is an object with ``code``, ``version``, ``title``, ``dated`` (a date), ``about``,
the settings named in ``Rulebook`` and ``rows``. A row has ``number``, ``ion``, ``conditions``
(an object with only the conditions it makes), ``limit`` (``{"value": 48, "unit": "hours"}``
or null where the laboratory has to set one), ``source`` (``document``, ``edition``,
``place``), ``confidence`` and ``note``. What is left out has its default.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

from intake.rules.book import (
    Conditions,
    Confidence,
    Counting,
    KeepingRow,
    Limit,
    LimitUnit,
    Outcome,
    Rulebook,
    Source,
)
from intake.rules.facts import AcidKind, Container
from intake.rules.ions import BY_NAME
from intake.rules.plain import PlainDataError, Problem, Reader, digest_of, to_plain

#: Longest limit a row may have, in its own unit: a hundred years of days.
LONGEST = 36525
#: A condition "within so many minutes" may reach a year.
LONGEST_STEP_MIN = 527040


def book_from_data(data: object) -> Rulebook:
    """The rulebook that ``data`` describes.

    Raises ``PlainDataError`` naming every row and field that is wrong.
    """
    problems: list[Problem] = []
    reader = Reader(data, "", problems)
    rows = tuple(_row(part) for part in reader.parts("rows", "row"))
    book = _settings(reader, Rulebook("", 1, "", rows))
    reader.finish()
    numbers = [row.number for row in rows]
    for number in sorted({number for number in numbers if numbers.count(number) > 1}):
        reader.fault("rows", f"number {number} stands on more than one row; a number names one row.")
    if problems:
        raise PlainDataError(problems)
    return book


def book_to_data(book: Rulebook) -> dict[str, Any]:
    """``book`` as plain data; ``book_from_data`` gives the same book back."""
    data: dict[str, Any] = to_plain(book)
    return data


def book_digest(book: Rulebook) -> str:
    """SHA-256 of the book in its canonical spelling."""
    return digest_of(book_to_data(book))


def _settings(reader: Reader, book: Rulebook) -> Rulebook:
    settings: dict[str, Any] = {
        "code": reader.text("code", needed=True),
        "title": reader.text("title", needed=True),
        "about": reader.text("about"),
        "dated": _dated(reader),
    }
    read: dict[str, Any] = {
        "version": reader.whole("version", 1, 10**6),
        "counting": reader.choice("counting", Counting),
        "departure": reader.choice("departure", Outcome),
        "immediately_min": reader.number("immediately_min", 1, 1440),
        "chilled_within_min": reader.number("chilled_within_min", 0, LONGEST_STEP_MIN),
        "gross_factor": reader.number("gross_factor", 1, 100),
        "arrival_tolerance_c": reader.number("arrival_tolerance_c", 0, 10),
        "line_volume_ml": reader.number("line_volume_ml", 0, 10**6),
        "injection_volume_ml": reader.number("injection_volume_ml", 0, 10**6),
        "repeats": reader.whole("repeats", 0, 100),
        "to_brim": reader.flag("to_brim"),
        "acid_dose_ml": reader.number("acid_dose_ml", 0, 1000),
        "acid_dose_mol_l": reader.number("acid_dose_mol_l", 0, 24),
        "acid_ph_target": reader.number("acid_ph_target", -1, 7),
        "acid_standing_h": reader.number("acid_standing_h", 0, 720),
        "same_day_allowance": reader.flag("same_day_allowance"),
        "gel_packs_count_as_ice": reader.flag("gel_packs_count_as_ice"),
    }
    settings |= {name: value for name, value in read.items() if value is not None}
    if reader.names("bottle_max_c"):
        settings["bottle_max_c"] = reader.number("bottle_max_c", -100, 100)
    if reader.names("filter_pore_max_um"):
        settings["filter_pore_max_um"] = reader.number("filter_pore_max_um", 0.01, 100)
    if not reader.has("version"):
        reader.fault("version", "is missing; please give it.")
    return replace(book, **settings)


def _dated(reader: Reader) -> str:
    text = reader.text("dated")
    if text:
        try:
            date.fromisoformat(text)
        except ValueError:
            reader.fault("dated", f"is {text!r}; write a date like 2026-11-24.")
    return text


def _row(reader: Reader) -> KeepingRow:
    number = reader.whole("number", 1, 10**6)
    if not reader.has("number"):
        reader.fault("number", "is missing; please give it.")
    elif number is not None:
        reader.where = f"row {number}"
    ion = reader.text("ion", needed=True)
    if ion and ion not in BY_NAME:
        reader.fault("ion", f"is {ion!r}; the ions are {', '.join(BY_NAME)}.")
    confidence = reader.choice("confidence", Confidence)
    if not reader.has("confidence"):
        reader.fault("confidence", "is missing; say how well the row is founded.")
    conditions, limit, source = _conditions(reader), _limit(reader), _source(reader)
    row = KeepingRow(
        number or 0,
        ion,
        conditions,
        limit,
        source,
        confidence or Confidence.HOUSE_CHOICE,
        reader.text("note"),
    )
    reader.finish()
    return row


def _limit(row: Reader) -> Limit | None:
    reader = row.part("limit")
    if reader is None:
        return None
    unit = reader.choice("unit", LimitUnit)
    value = reader.number("value", 0, LONGEST)
    if unit is LimitUnit.MONTHS and value is not None and value != int(value):
        reader.fault("value", "should be a whole number of months.")
    if unit is not LimitUnit.IMMEDIATELY and value == 0:
        reader.fault("value", "is 0; use the unit 'immediately' for at once.")
    for field in ("unit", "value"):
        if not reader.has(field):
            reader.fault(field, "is missing; please give it.")
    reader.finish()
    return Limit(value or 0, unit or LimitUnit.IMMEDIATELY)


def _source(row: Reader) -> Source:
    reader = row.part("source")
    if reader is None:
        row.fault("source", "is missing; say where the row comes from.")
        return Source("")
    source = Source(reader.text("document", needed=True), reader.text("place"), reader.text("edition"))
    reader.finish()
    return source


def _conditions(row: Reader) -> Conditions:
    reader = row.part("conditions")
    if reader is None:
        return Conditions()
    conditions = Conditions(
        filter_pore_max_um=reader.number("filter_pore_max_um", 0.01, 100),
        filtered_within_min=reader.number("filtered_within_min", 0, LONGEST_STEP_MIN),
        min_c=reader.number("min_c", -100, 100),
        max_c=reader.number("max_c", -100, 100),
        frozen=reader.flag("frozen"),
        frozen_within_min=reader.number("frozen_within_min", 0, LONGEST_STEP_MIN),
        acid=reader.choices("acid", AcidKind),
        acid_ph_max=reader.number("acid_ph_max", -1, 7),
        acid_within_min=reader.number("acid_within_min", 0, LONGEST_STEP_MIN),
        containers=reader.choices("containers", Container),
        to_brim=reader.flag("to_brim"),
        chlorinated=reader.flag("chlorinated"),
        additive=reader.text("additive") or None,
    )
    if conditions.min_c is not None and conditions.max_c is None:
        reader.fault("max_c", "is missing; a lowest temperature needs a highest one.")
    elif (
        conditions.min_c is not None and conditions.max_c is not None and conditions.min_c > conditions.max_c
    ):
        reader.fault("min_c", "lies above max_c.")
    if conditions.acid is not None and AcidKind.NONE in conditions.acid:
        reader.fault("acid", "holds 'none'; an empty list asks for no acid.")
    reader.finish()
    return conditions
