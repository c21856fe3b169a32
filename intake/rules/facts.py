"""The facts that the rules read: what is known of a sample, its bottles and their arrival.

Plain frozen data. A field that nobody has stated is ``None``; ``False`` means that
somebody stated "no". Every moment is an aware ``datetime``; a naive one is a
programming fault and raises ``ValueError`` when the facts are built.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum


class Line(StrEnum):
    """The two lines of an ion chromatograph; a bottle and a unit belong to one."""

    ANION = "anion"
    CATION = "cation"


class Collection(StrEnum):
    GRAB = "grab"
    COMPOSITE = "composite"


class Precision(StrEnum):
    """How exactly the moment of collection is known."""

    MINUTE = "minute"
    HOUR = "hour"
    DATE = "date"
    UNKNOWN = "unknown"


class EcUnit(StrEnum):
    US_CM = "µS/cm"
    MS_CM = "mS/cm"
    DS_M = "dS/m"
    MS_M = "mS/m"
    S_M = "S/m"


class EcReference(StrEnum):
    """The temperature an EC reading refers to."""

    AT_25 = "25"
    AT_20 = "20"
    RAW = "raw"
    UNKNOWN = "unknown"


class WaterKind(StrEnum):
    """What the submitter says the water is; used for cautions and for the widest dilutions."""

    UNKNOWN = "unknown"
    RAIN = "rain"
    STREAM = "stream"
    PEAT = "peat"
    RIVER = "river"
    GROUNDWATER = "groundwater"
    TAP = "tap"
    PURE = "pure"
    WASTE = "waste"
    BRACKISH = "brackish"
    SEA = "sea"
    AQUACULTURE = "aquaculture"
    FIELD_DRAINAGE = "field drainage"
    SOIL_EXTRACT = "soil extract"
    NUTRIENT_SOLUTION = "nutrient solution"
    MINE_DRAINAGE = "mine drainage"
    BRINE = "brine"


class AcidKind(StrEnum):
    NONE = "none"
    NITRIC = "nitric"
    SULFURIC = "sulfuric"
    HYDROCHLORIC = "hydrochloric"
    OTHER = "other"


class Container(StrEnum):
    POLYETHYLENE = "polyethylene"
    POLYPROPYLENE = "polypropylene"
    OTHER_PLASTIC = "other plastic"
    FLUOROPOLYMER = "fluoropolymer"
    GLASS = "glass"


class Membrane(StrEnum):
    NYLON = "nylon"
    PES = "polyethersulfone"
    PVDF = "polyvinylidene fluoride"
    PTFE = "hydrophilic PTFE"
    CELLULOSE_ACETATE = "cellulose acetate"
    CELLULOSE_NITRATE = "cellulose nitrate"
    GLASS_FIBRE = "glass fibre"
    OTHER = "other"


class MeasuredOn(StrEnum):
    """What the transport temperature was read on."""

    BOTTLE = "bottle"
    BLANK = "temperature blank"
    MELT_WATER = "melt water"


class Cooling(StrEnum):
    """What was found around the bottles when the box was opened."""

    ICE = "ice"
    GEL_PACKS = "gel packs"
    NONE = "none"


class Seal(StrEnum):
    """State of a custody seal; absent and broken are different findings."""

    INTACT = "intact"
    BROKEN = "broken"
    ABSENT = "absent"


def aware(moment: datetime | None, name: str) -> None:
    """Raise ``ValueError`` for a datetime that carries no zone."""
    if moment is not None and moment.utcoffset() is None:
        raise ValueError(f"{name} must be an aware datetime, got {moment!r}")


@dataclass(frozen=True, slots=True)
class SampleFacts:
    """Water from one site at one moment (grab) or over one period (composite).

    ``collected_at`` is the moment of a grab and the end of a composite's period. With
    ``precision`` DATE it is the start of that local day, with HOUR the start of that hour:
    never later than the true moment. ``zone`` is the IANA zone the facts were stated in.
    ``declared_at`` is when these facts were last stated; "in the future" is judged against
    it, so that a judgement made again gives the same answer.
    """

    key: str
    zone: str
    declared_at: datetime
    name: str = ""
    collection: Collection = Collection.GRAB
    collected_at: datetime | None = None
    collection_began_at: datetime | None = None
    precision: Precision = Precision.MINUTE
    ph: float | None = None
    ec_value: float | None = None
    ec_unit: EcUnit = EcUnit.US_CM
    ec_reference: EcReference = EcReference.UNKNOWN
    water_temperature_c: float | None = None
    water_kind: WaterKind = WaterKind.UNKNOWN
    alkalinity_meq_l: float | None = None
    chlorinated: bool | None = None

    def __post_init__(self) -> None:
        for name in ("declared_at", "collected_at", "collection_began_at"):
            aware(getattr(self, name), name)


@dataclass(frozen=True, slots=True)
class SeenFacts:
    """What reception saw on one bottle. ``None`` means: not looked at.

    ``ph_low`` and ``ph_high`` are the range a strip shows on a portion poured off;
    equal for a single value. ``temperature_c`` is a reading on this very bottle.
    """

    checked_at: datetime
    cold: bool | None = None
    temperature_c: float | None = None
    headspace: bool | None = None
    leaking: bool | None = None
    broken: bool | None = None
    frozen: bool | None = None
    cloudy: bool | None = None
    label_matches: bool | None = None
    ph_low: float | None = None
    ph_high: float | None = None
    acid_added_ml: float | None = None
    acid_added_mol_l: float | None = None
    acid_added_at: datetime | None = None

    def __post_init__(self) -> None:
        aware(self.checked_at, "checked_at")
        aware(self.acid_added_at, "acid_added_at")


@dataclass(frozen=True, slots=True)
class ArrivalFacts:
    """One handing-over at reception, as far as it concerns the bottles in it."""

    received_at: datetime
    temperature_c: float | None = None
    measured_on: MeasuredOn | None = None
    cooling: Cooling | None = None
    seal: Seal | None = None

    def __post_init__(self) -> None:
        aware(self.received_at, "received_at")


@dataclass(frozen=True, slots=True)
class Injection:
    """The injection of one bottle. ``ions`` empty means every ion of the bottle."""

    at: datetime
    ions: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        aware(self.at, "at")


@dataclass(frozen=True, slots=True)
class BottleFacts:
    """One container filled from a sample, for one line, and how it was kept.

    ``acidified`` is the submitter's yes or no; ``acid_kind``, ``acid_mol_l`` and
    ``acid_ml`` say what was added. ``filter_pore_um`` 0 means: stated as unfiltered.
    ``volume_ml`` is the sample volume before any acid. ``additive`` is the plain name of
    another preservative (for example ``"ethylenediamine"``), empty when there is none.
    ``dropped`` are ions that somebody decided not to measure in this bottle.
    """

    key: str
    line: Line
    ions: frozenset[str] = frozenset()
    volume_ml: float | None = None
    container: Container | None = None
    to_brim: bool | None = None
    chilled: bool | None = None
    chilled_at: datetime | None = None
    frozen: bool | None = None
    frozen_at: datetime | None = None
    filter_pore_um: float | None = None
    filter_membrane: Membrane | None = None
    filtered_at: datetime | None = None
    acidified: bool | None = None
    acid_kind: AcidKind | None = None
    acid_grade: str = ""
    acid_mol_l: float | None = None
    acid_ml: float | None = None
    acid_at: datetime | None = None
    additive: str = ""
    arrival: ArrivalFacts | None = None
    seen: SeenFacts | None = None
    injections: tuple[Injection, ...] = ()
    dropped: frozenset[str] = field(default_factory=frozenset)

    def __post_init__(self) -> None:
        for name in ("chilled_at", "frozen_at", "filtered_at", "acid_at"):
            aware(getattr(self, name), name)
