"""The documents behind what a statement says, each once, in order of appearance."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from intake.rules.book import Rulebook, Source
from intake.rules.results import ELEMENT_OF
from intake.rules.timing import lateness

Plain = Mapping[str, object]

#: Said wherever a value is also told as its element.
CONVERSIONS = "Ions as nitrogen, phosphorus or sulfur: IUPAC abridged standard atomic weights 2021."


def say_source(source: Source) -> str:
    """A document with its edition and the place in it."""
    return ", ".join(part for part in (source.document, source.edition, source.place) if part)


def sources(samples: Iterable[Plain], book: Rulebook, rows: set[tuple[str, int]]) -> list[str]:
    """Behind limits (``rows`` of ``book`` that clocks go by), departures, checks, lateness, conversions."""
    found = dict.fromkeys(say_source(row.source) for row in book.rows if (row.ion, row.number) in rows)
    found |= dict.fromkeys(_behind(samples))
    return [source for source in found if source]


def _behind(samples: Iterable[Plain]) -> Iterator[str]:
    for sample in samples:
        for told in (*sample["departures"], *sample["checks"]):
            yield told["source"]
        for bottle in sample["bottles"]:
            for departure in bottle["departures"]:
                yield departure["source"]
            for ion in bottle["ions"]:
                yield lateness(ion["ion"])[1] if ion["lateness"] else ""
                yield CONVERSIONS if ion["results"] and ion["ion"] in ELEMENT_OF else ""
