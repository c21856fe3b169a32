"""Hypothesis strategies for facts, anywhere the types allow."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import strategies as st

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
from intake.rules.ions import BY_NAME

#: Thirty zones from eleven hours behind to fourteen ahead; half hours, quarter hours, clocks
#: that jump at midnight, clocks that stopped changing, one that changes by half an hour.
ZONES = [
    "Pacific/Pago_Pago", "Pacific/Honolulu", "America/Anchorage", "America/Los_Angeles", "America/Denver",
    "America/Mexico_City", "America/Chicago", "America/New_York", "America/Havana", "America/Halifax",
    "America/Santiago", "America/St_Johns", "America/Sao_Paulo", "Atlantic/Azores", "Europe/London",
    "Europe/Berlin", "Africa/Casablanca", "Africa/Cairo", "Asia/Beirut", "Asia/Jerusalem",
    "Asia/Tehran", "Asia/Kolkata", "Asia/Kathmandu", "Asia/Tokyo", "Australia/Adelaide",
    "Australia/Lord_Howe", "Pacific/Norfolk", "Pacific/Auckland", "Pacific/Chatham", "Pacific/Kiritimati",
]  # fmt: skip

zones = st.sampled_from(ZONES)
near = st.datetimes(datetime(2024, 1, 1), datetime(2028, 1, 1), timezones=st.just(UTC))
anywhere = st.datetimes(datetime(1, 1, 1), datetime(9999, 12, 31), timezones=st.just(UTC))
moments = st.one_of(near, near, anywhere)
numbers = st.one_of(
    st.sampled_from([0.0, 0.45, 0.5, 1.0, 2.0, 4.0, 6.0, 7.0, 25.0, 50.0, 300.0]),
    st.floats(-1e6, 1e6, allow_nan=False),
)
ion_sets = st.frozensets(st.sampled_from([*BY_NAME, "kryptonite"]), max_size=8)
flags = st.none() | st.booleans()


def maybe(strategy: st.SearchStrategy) -> st.SearchStrategy:
    return st.none() | strategy


def one_of(kind: type) -> st.SearchStrategy:
    return st.sampled_from(list(kind))


samples = st.builds(
    SampleFacts,
    key=st.just("S"),
    zone=zones,
    declared_at=moments,
    name=st.sampled_from(["", "Pond 3"]),
    collection=one_of(Collection),
    collected_at=maybe(moments),
    collection_began_at=maybe(moments),
    precision=one_of(Precision),
    ph=maybe(numbers),
    ec_value=maybe(numbers),
    ec_unit=one_of(EcUnit),
    ec_reference=one_of(EcReference),
    water_temperature_c=maybe(numbers),
    water_kind=one_of(WaterKind),
    alkalinity_meq_l=maybe(numbers),
    chlorinated=flags,
)

arrivals = st.builds(
    ArrivalFacts,
    received_at=moments,
    temperature_c=maybe(numbers),
    measured_on=maybe(one_of(MeasuredOn)),
    cooling=maybe(one_of(Cooling)),
    seal=maybe(one_of(Seal)),
)

sights = st.builds(
    SeenFacts,
    checked_at=moments,
    cold=flags,
    temperature_c=maybe(numbers),
    headspace=flags,
    leaking=flags,
    broken=flags,
    frozen=flags,
    cloudy=flags,
    label_matches=flags,
    ph_low=maybe(numbers),
    ph_high=maybe(numbers),
    acid_added_ml=maybe(numbers),
    acid_added_mol_l=maybe(numbers),
    acid_added_at=maybe(moments),
)


def bottles(key: str) -> st.SearchStrategy:
    return st.builds(
        BottleFacts,
        key=st.just(key),
        line=one_of(Line),
        ions=ion_sets,
        volume_ml=maybe(numbers),
        container=maybe(one_of(Container)),
        to_brim=flags,
        chilled=flags,
        chilled_at=maybe(moments),
        frozen=flags,
        frozen_at=maybe(moments),
        filter_pore_um=maybe(st.floats(0, 100)),
        filter_membrane=maybe(one_of(Membrane)),
        filtered_at=maybe(moments),
        acidified=flags,
        acid_kind=maybe(one_of(AcidKind)),
        acid_grade=st.sampled_from(["", "trace"]),
        acid_mol_l=maybe(numbers),
        acid_ml=maybe(numbers),
        acid_at=maybe(moments),
        additive=st.sampled_from(["", "ethylenediamine"]),
        arrival=maybe(arrivals),
        seen=maybe(sights),
        injections=st.lists(st.builds(Injection, at=moments, ions=ion_sets), max_size=2).map(tuple),
        dropped=ion_sets,
    )


@st.composite
def consigned(draw: st.DrawFn) -> tuple[SampleFacts, tuple[BottleFacts, ...]]:
    """A sample with up to three bottles."""
    keys = draw(st.lists(st.sampled_from("ABC"), unique=True, max_size=3))
    return draw(samples), tuple(draw(bottles(key)) for key in keys)


def clock_changes(zone: str, first_year: int, years: int) -> list[datetime]:
    """The moments in UTC at which the clocks of ``zone`` change, found hour by hour."""
    there = ZoneInfo(zone)
    moment, end = datetime(first_year, 1, 1, tzinfo=UTC), datetime(first_year + years, 1, 1, tzinfo=UTC)
    changes = []
    offset = moment.astimezone(there).utcoffset()
    while moment < end:
        following = moment + timedelta(days=1)
        if following.astimezone(there).utcoffset() != offset:
            hour = moment
            while hour.astimezone(there).utcoffset() == offset:
                hour += timedelta(minutes=30)
            changes.append(hour)
            offset = following.astimezone(there).utcoffset()
        moment = following
    return changes
