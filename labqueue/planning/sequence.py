"""The places of a run in the order they are injected, quality control included.

Which start-up and control injections a run has is the laboratory's choice (:class:`Unit`). What they
are called here is common practice in ion chromatography, not taken from a standard: start-up is a
blank, the calibration standards and a check standard; a group of samples ends with a check standard
and a blank; a batch with a duplicate and a spike of its last sample.
"""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum
from typing import NamedTuple

from labqueue.planning.units import Unit


class PlaceKind(StrEnum):
    BLANK = "blank"
    STANDARD = "standard"
    CHECK = "check standard"
    SAMPLE = "sample"
    DUPLICATE = "duplicate"
    SPIKE = "spike"


class RunPlace(NamedTuple):
    """One injection of a run, counted from 1.

    ``sample`` is the sample number (from 0) of a sample, and of what a duplicate or spike repeats;
    None for blanks and standards.
    """

    number: int
    kind: PlaceKind
    moment: int
    sample: int | None = None


def run_sequence(unit: Unit, start: int, samples: int) -> list[RunPlace]:
    """Every injection of a run of ``samples`` started at ``start``."""
    kinds = [*_start_up(unit.startup_inj), *_sample_part(unit, samples)]
    first = start + unit.equil_min
    return [
        RunPlace(number + 1, kind, first + number * unit.inject_min, sample)
        for number, (kind, sample) in enumerate(kinds)
    ]


def _start_up(injections: int) -> Iterator[tuple[PlaceKind, None]]:
    for number in range(injections):
        if number == 0:
            yield PlaceKind.BLANK, None
        elif number == injections - 1:
            yield PlaceKind.CHECK, None
        else:
            yield PlaceKind.STANDARD, None


def _sample_part(unit: Unit, samples: int) -> Iterator[tuple[PlaceKind, int | None]]:
    for sample in range(samples):
        yield PlaceKind.SAMPLE, sample
        is_last = sample + 1 == samples
        if is_last or (sample + 1) % unit.batch_every == 0:
            for extra in range(unit.batch_inj):
                yield (PlaceKind.SPIKE if extra % 2 else PlaceKind.DUPLICATE), sample
        # The check comes last, so that it also brackets the duplicate and the spike.
        if is_last or (sample + 1) % unit.qc_every == 0:
            for extra in range(unit.qc_inj):
                yield (PlaceKind.BLANK if extra % 2 else PlaceKind.CHECK), None
