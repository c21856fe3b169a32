"""Samples and consignments for tests, made through the actions. Dates are fixed."""

from __future__ import annotations

import io
from datetime import UTC, datetime, timedelta

from PIL import Image

from intake.actions import receiving, registering, sending
from intake.actions.entries import BottleEntry, SampleEntry
from intake.models import Arrival, Consignment

#: A Tuesday.
COLLECTED = datetime(2026, 3, 3, 8, 0, tzinfo=UTC)
ENTERED = COLLECTED + timedelta(hours=2)
RECEIVED = COLLECTED + timedelta(hours=6)

ANIONS = ("fluoride", "chloride", "nitrite", "bromide", "nitrate", "phosphate", "sulfate")
CATIONS = ("sodium", "ammonium", "potassium", "magnesium", "calcium")


def anion_bottle(**changes) -> BottleEntry:
    """A bottle for anions kept as it should be, but for ``changes``."""
    return BottleEntry(
        **{
            "line": "anion",
            "ions": ANIONS,
            "volume_ml": 50.0,
            "container": "polypropylene",
            "to_brim": True,
            "chilled": True,
            "chilled_at": COLLECTED,
            "frozen": False,
            "filter_pore_um": 0.45,
            "filter_membrane": "nylon",
            "filtered_at": COLLECTED,
            "acidified": False,
            "acid_kind": "none",
            **changes,
        }
    )


def cation_bottle(**changes) -> BottleEntry:
    """A bottle for cations kept as it should be, but for ``changes``."""
    return anion_bottle(
        **{
            "line": "cation",
            "ions": CATIONS,
            "acidified": True,
            "acid_kind": "nitric",
            "acid_mol_l": 1.0,
            "acid_ml": 1.0,
            "acid_at": COLLECTED,
            **changes,
        }
    )


def sample(own_id: str = "S1", **changes) -> SampleEntry:
    """A river sample with both bottles and nothing wrong, but for ``changes``."""
    return SampleEntry(
        **{
            "own_id": own_id,
            "site": "Lower weir",
            "collected_at": COLLECTED,
            "ph": 7.4,
            "ec_value": 420.0,
            "ec_reference": "25",
            "water_temperature_c": 9.5,
            "water_kind": "river",
            "bottles": (anion_bottle(), cation_bottle()),
            **changes,
        }
    )


def draft(by, group, rulebook, *entries: SampleEntry, **changes) -> Consignment:
    """A draft of ``group`` with ``entries``."""
    consignment = registering.make_consignment(
        by=by,
        at=ENTERED,
        group=group,
        rulebook=rulebook,
        **{"title": "Weir survey", "zone": "Europe/Berlin", **changes},
    )
    if entries:
        registering.enter_samples(consignment, entries, by=by, at=ENTERED, version=consignment.version)
    return consignment


def sent(by, group, rulebook, *entries: SampleEntry, reason: str = "", **changes) -> Consignment:
    """A sent consignment; one good sample if none is given. ``reason`` confirms readings that look wrong."""
    consignment = draft(by, group, rulebook, *(entries or (sample(),)), **changes)
    return sending.send_consignment(
        consignment, by=by, at=ENTERED, version=consignment.version, reason=reason
    )


def opened(by, *consignments: Consignment, **changes) -> Arrival:
    """An open arrival of ``consignments``, cold and on ice."""
    return receiving.open_arrival(
        consignments,
        by=by,
        at=RECEIVED,
        received_at=RECEIVED,
        transport={"temperature_c": 4.2, "measured_on": "temperature blank", "cooling": "ice", **changes},
    )


def photograph_file(kind: str = "JPEG", size: tuple[int, int] = (64, 48), **more) -> bytes:
    """A picture as a file of ``kind``; ``more`` goes to the encoder."""
    written = io.BytesIO()
    Image.new("RGB", size, "teal").save(written, kind, **more)
    return written.getvalue()
