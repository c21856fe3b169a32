"""Facts and judgements to and from plain data, and the digest of facts.

The document that ``manage.py judge`` reads is an object with

* ``sample``: the fields of ``SampleFacts``; ``key``, ``zone`` and ``declared_at`` are needed,
* ``bottles``: a list of objects with the fields of ``BottleFacts``; ``key`` and ``line`` are
  needed; ``arrival`` and ``seen`` are objects, ``injections`` a list of objects with ``at``
  and ``ions``; ``ions`` and ``dropped`` are lists of names,
* ``rulebook``: the code of a shipped rulebook, or a rulebook written out (``book_data.py``).

Fields have the names, units and values of ``facts.py``. Moments are ISO 8601 texts with their
offset from UTC. A field left out or null is a fact that nobody stated.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from intake.rules.facts import (
    AcidKind,
    ArrivalFacts,
    BottleFacts,
    Collection,
    Container,
    Cooling,
    EcReference,
    EcUnit,
    Injection,
    Line,
    MeasuredOn,
    Membrane,
    Precision,
    SampleFacts,
    Seal,
    SeenFacts,
    WaterKind,
)
from intake.rules.moments import EARLIEST
from intake.rules.plain import PlainDataError, Problem, Reader, digest_of, to_plain

Value = TypeVar("Value")


def sample_from_data(data: object) -> SampleFacts:
    """The facts of a sample. Raises ``PlainDataError`` naming every field that is wrong."""
    problems: list[Problem] = []
    sample = _sample(Reader(data, "sample", problems))
    return _faultless(sample, problems)


def bottle_from_data(data: object) -> BottleFacts:
    """The facts of a bottle. Raises ``PlainDataError`` naming every field that is wrong."""
    problems: list[Problem] = []
    bottle = _bottle(Reader(data, "bottle", problems))
    return _faultless(bottle, problems)


def facts_from_data(data: object) -> tuple[SampleFacts, tuple[BottleFacts, ...], Any]:
    """Sample, bottles and whatever stands under ``rulebook`` (a code, or a book as data).

    Raises ``PlainDataError`` naming every field that is wrong.
    """
    problems: list[Problem] = []
    reader = Reader(data, "", problems)
    part = reader.part("sample")
    if part is None:
        reader.fault("sample", "is missing; the facts of a sample are needed.")
        part = Reader({}, "sample", [])
    sample = _sample(part)
    bottles = tuple(_bottle(bottle) for bottle in reader.parts("bottles", "bottle"))
    keys = [bottle.key for bottle in bottles]
    for key in sorted({key for key in keys if key and keys.count(key) > 1}):
        reader.fault("bottles", f"has {key!r} as the key of more than one bottle.")
    book = reader.value("rulebook")
    reader.finish()
    return _faultless((sample, bottles, book), problems)


def facts_to_data(sample: SampleFacts, bottles: Sequence[BottleFacts]) -> dict[str, Any]:
    """Sample and bottles, in the order of their keys, as plain data."""
    ordered = sorted(bottles, key=lambda bottle: bottle.key)
    return {"sample": to_plain(sample), "bottles": [to_plain(bottle) for bottle in ordered]}


def facts_digest(sample: SampleFacts, bottles: Sequence[BottleFacts]) -> str:
    """SHA-256 of the facts: the same for the same facts, whatever the order of the bottles."""
    return digest_of(facts_to_data(sample, bottles))


def _faultless(value: Value, problems: list[Problem]) -> Value:
    if problems:
        raise PlainDataError(problems)
    return value


def _needed(reader: Reader, field: str) -> None:
    if not reader.has(field):
        reader.fault(field, "is missing; please give it.")


def _stated(given: dict[str, Any]) -> dict[str, Any]:
    """``given`` without what nobody stated, so that defaults stay."""
    return {name: value for name, value in given.items() if value is not None}


def _sample(reader: Reader) -> SampleFacts:
    zone = reader.text("zone", needed=True)
    if zone:
        try:
            ZoneInfo(zone)
        except (KeyError, OSError, ValueError):
            reader.fault("zone", f"is {zone!r}; use the name of an IANA time zone, like Europe/Lisbon.")
    _needed(reader, "declared_at")
    given = {
        "collection": reader.choice("collection", Collection),
        "collected_at": reader.moment("collected_at"),
        "collection_began_at": reader.moment("collection_began_at"),
        "precision": reader.choice("precision", Precision),
        "ph": reader.number("ph"),
        "ec_value": reader.number("ec_value"),
        "ec_unit": reader.choice("ec_unit", EcUnit),
        "ec_reference": reader.choice("ec_reference", EcReference),
        "water_temperature_c": reader.number("water_temperature_c"),
        "water_kind": reader.choice("water_kind", WaterKind),
        "alkalinity_meq_l": reader.number("alkalinity_meq_l"),
        "chlorinated": reader.flag("chlorinated"),
    }
    sample = SampleFacts(
        key=reader.text("key", needed=True),
        zone=zone,
        declared_at=reader.moment("declared_at") or EARLIEST,
        name=reader.text("name"),
        **_stated(given),
    )
    reader.finish()
    return sample


def _bottle(reader: Reader) -> BottleFacts:
    _needed(reader, "line")
    given = {
        "volume_ml": reader.number("volume_ml"),
        "container": reader.choice("container", Container),
        "to_brim": reader.flag("to_brim"),
        "chilled": reader.flag("chilled"),
        "chilled_at": reader.moment("chilled_at"),
        "frozen": reader.flag("frozen"),
        "frozen_at": reader.moment("frozen_at"),
        "filter_pore_um": reader.number("filter_pore_um", 0),
        "filter_membrane": reader.choice("filter_membrane", Membrane),
        "filtered_at": reader.moment("filtered_at"),
        "acidified": reader.flag("acidified"),
        "acid_kind": reader.choice("acid_kind", AcidKind),
        "acid_grade": reader.text("acid_grade"),
        "acid_mol_l": reader.number("acid_mol_l"),
        "acid_ml": reader.number("acid_ml"),
        "acid_at": reader.moment("acid_at"),
        "additive": reader.text("additive"),
        "arrival": _arrival(reader.part("arrival")),
        "seen": _seen(reader.part("seen")),
    }
    bottle = BottleFacts(
        key=reader.text("key", needed=True),
        line=reader.choice("line", Line) or Line.ANION,
        ions=frozenset(reader.texts("ions")),
        dropped=frozenset(reader.texts("dropped")),
        injections=tuple(_injection(part) for part in reader.parts("injections", "injection")),
        **_stated(given),
    )
    reader.finish()
    return bottle


def _injection(reader: Reader) -> Injection:
    _needed(reader, "at")
    injection = Injection(reader.moment("at") or EARLIEST, frozenset(reader.texts("ions")))
    reader.finish()
    return injection


def _arrival(reader: Reader | None) -> ArrivalFacts | None:
    if reader is None:
        return None
    _needed(reader, "received_at")
    arrival = ArrivalFacts(
        received_at=reader.moment("received_at") or EARLIEST,
        temperature_c=reader.number("temperature_c"),
        measured_on=reader.choice("measured_on", MeasuredOn),
        cooling=reader.choice("cooling", Cooling),
        seal=reader.choice("seal", Seal),
    )
    reader.finish()
    return arrival


_SEEN_FLAGS = ("cold", "headspace", "leaking", "broken", "frozen", "cloudy", "label_matches")
_SEEN_NUMBERS = ("temperature_c", "ph_low", "ph_high", "acid_added_ml", "acid_added_mol_l")


def _seen(reader: Reader | None) -> SeenFacts | None:
    if reader is None:
        return None
    _needed(reader, "checked_at")
    given: dict[str, Any] = {
        **{name: reader.flag(name) for name in _SEEN_FLAGS},
        **{name: reader.number(name) for name in _SEEN_NUMBERS},
    }
    seen = SeenFacts(
        checked_at=reader.moment("checked_at") or EARLIEST,
        acid_added_at=reader.moment("acid_added_at"),
        **given,
    )
    reader.finish()
    return seen
