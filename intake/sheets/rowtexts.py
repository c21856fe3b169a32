"""Samples back into the texts of their rows, so that reading them gives the same samples again."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields
from datetime import datetime
from typing import Any

from intake.actions.entries import BottleEntry, SampleEntry
from intake.rules.facts import AcidKind, Line, Precision
from intake.sheets.cells import DIVIDER
from intake.sheets.columns import BY_CODE, COLUMNS, Column
from intake.sheets.ionlists import ions_text
from intake.sheets.times import clock_text, day_text, moment_text


def entry_of(sample: Any, bottles: Iterable[Any]) -> SampleEntry:
    """A stored sample and its bottles as the entry that would make them.

    Works for anything with the fields of ``SampleEntry`` and ``BottleEntry``.
    """
    made = []
    for bottle in bottles:
        known = {each.name: getattr(bottle, each.name) for each in fields(BottleEntry)}
        made.append(BottleEntry(**{**known, "ions": tuple(bottle.ions)}))
    known = {each.name: getattr(sample, each.name) for each in fields(SampleEntry) if each.name != "bottles"}
    return SampleEntry(**known, bottles=tuple(sorted(made, key=lambda bottle: bottle.line)))


def raw_texts(entry: SampleEntry, zone: str) -> dict[str, str]:
    """``entry`` as the texts of its row by column code; reading them gives ``entry`` again.

    Columns with nothing to say are left out.
    """
    bottles = {bottle.line: bottle for bottle in entry.bottles}
    texts = _sample_texts(entry, zone)
    for code, tell in KEPT_TEXTS.items():
        told = [tell(bottles[line.value], entry, zone) if line.value in bottles else None for line in Line]
        stated = {text for text in told if text is not None}
        texts[code] = stated.pop() if len(stated) == 1 else f" {DIVIDER} ".join(text or "" for text in told)
        if texts[code].strip() == DIVIDER:
            texts[code] = ""
    for line, bottle in bottles.items():
        texts |= {f"{line}_{name}": text for name, text in _bottle_texts(bottle, entry, zone).items()}
    return {column.code: texts[column.code] for column in COLUMNS if texts.get(column.code)}


def _sample_texts(entry: SampleEntry, zone: str) -> dict[str, str]:
    at, unit_told = entry.collected_at, entry.ec_value is not None or entry.ec_unit != "µS/cm"
    texts = {
        "own_id": entry.own_id,
        "site": entry.site,
        "collection": label("collection", entry.collection),
        "began": _moment_or_empty(entry.collection_began_at, zone),
        "ph": number_text(entry.ph),
        "ec": number_text(entry.ec_value),
        "ec_unit": entry.ec_unit if unit_told else "",
        "ec_reference": _unless_unknown("ec_reference", entry.ec_reference),
        "water_temperature": number_text(entry.water_temperature_c),
        "water_kind": _unless_unknown("water_kind", entry.water_kind),
        "alkalinity": number_text(entry.alkalinity_meq_l),
        "chlorinated": yes_no_text(entry.chlorinated),
        "hazards": entry.hazards,
    }
    if at is not None:
        texts["collected_date"] = day_text(at, zone)
        clock = clock_text(at, zone)
        if entry.precision == Precision.HOUR:
            clock = f"{clock[:2]} h{clock[5:]}"
        texts["collected_time"] = "" if entry.precision == Precision.DATE else clock
    return texts


def _bottle_texts(bottle: BottleEntry, entry: SampleEntry, zone: str) -> dict[str, str]:
    acid = label("cation_acid", bottle.acid_kind)
    if bottle.acidified is False:
        acid = AcidKind.NONE.value
    elif bottle.acidified and not acid:
        acid = "yes"
    return {
        "ions": ions_text(bottle.ions),
        "volume": number_text(bottle.volume_ml),
        "brim": yes_no_text(bottle.to_brim),
        "chilled": _since_text(bottle.chilled, bottle.chilled_at, entry, zone),
        "frozen": _since_text(bottle.frozen, bottle.frozen_at, entry, zone),
        "container": label("cation_container", bottle.container),
        "acid": acid,
        "acid_mol_l": number_text(bottle.acid_mol_l),
        "acid_ml": number_text(bottle.acid_ml),
        "acid_at": _after_collection_text(bottle.acid_at, entry, zone),
        "acid_grade": bottle.acid_grade,
        "additive": bottle.additive,
    }


def _pore_text(bottle: BottleEntry, entry: SampleEntry, zone: str) -> str:
    if bottle.filter_pore_um == 0:
        return BY_CODE["filter_pore"].words[0][0]
    return number_text(bottle.filter_pore_um)


def _membrane_text(bottle: BottleEntry, entry: SampleEntry, zone: str) -> str:
    return label("filter_membrane", bottle.filter_membrane)


def _filtered_text(bottle: BottleEntry, entry: SampleEntry, zone: str) -> str:
    return _after_collection_text(bottle.filtered_at, entry, zone)


KEPT_TEXTS = {"filter_pore": _pore_text, "filter_membrane": _membrane_text, "filtered_at": _filtered_text}


def _since_text(happened: bool | None, at: datetime | None, entry: SampleEntry, zone: str) -> str:
    return _after_collection_text(at, entry, zone) or yes_no_text(happened)


def _after_collection_text(at: datetime | None, entry: SampleEntry, zone: str) -> str:
    if at is not None and at == entry.collected_at:
        return "at once"
    return _moment_or_empty(at, zone)


def _moment_or_empty(at: datetime | None, zone: str) -> str:
    return "" if at is None else moment_text(at, zone)


def label(code: str, value: str) -> str:
    """The word shown for a stored ``value`` in the column ``code``; empty for nothing stated."""
    column: Column = BY_CODE[code]
    return dict(column.choices).get(value, value)


def _unless_unknown(code: str, value: str) -> str:
    return "" if value == "unknown" else label(code, value)


def number_text(value: float | None) -> str:
    """``value`` in the fewest digits that read back as the same number."""
    return "" if value is None else repr(float(value)).removesuffix(".0")


def yes_no_text(value: bool | None) -> str:
    return "" if value is None else ("yes" if value else "no")
