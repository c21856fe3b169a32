"""Samples made at random, as the sheet can state them. Invented data only."""

from __future__ import annotations

import unicodedata
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import strategies as st

from intake.actions.entries import BottleEntry, SampleEntry
from intake.rules import facts
from intake.rules.ions import IONS, SETS, of_line
from intake.rules.moments import start_of_day
from intake.sheets.texts import UNSEEN

#: Both halves of the earth, half-hour zones, a half-hour clock change (Lord Howe), a change at
#: midnight (Beirut), and none.
ZONES = (
    "Europe/Berlin", "America/St_Johns", "Australia/Lord_Howe", "Asia/Kathmandu", "Asia/Beirut",
    "Pacific/Apia", "America/Sao_Paulo", "UTC",
)  # fmt: skip


def tidy(text: str) -> str:
    return " ".join(unicodedata.normalize("NFC", text.translate(UNSEEN)).split())


def words(limit: int) -> st.SearchStrategy[str]:
    anything = st.text(st.characters(exclude_categories=("Cc", "Cs", "Cn")), max_size=limit // 3)
    awkward = st.sampled_from(
        [
            "=1+1",
            "+49",
            "-3",
            "@home",
            "#N/A",
            "TRUE",
            "007",
            "3/4",
            "a|b",
            "مياه النهر",
            "נחל",
            "🌊 weir",
            "1e5",
            "'x",
        ]
    )
    return st.one_of(awkward, anything.map(tidy))


def typed_number(low: float, high: float) -> st.SearchStrategy[float]:
    """Numbers of up to 12 digits: more than anybody types, fewer than a spreadsheet keeps."""
    return st.floats(low, high).map(lambda value: float(f"{value:.12g}"))


SECONDS = st.integers(
    int(datetime(1980, 1, 1, tzinfo=UTC).timestamp()), int(datetime(2090, 1, 1, tzinfo=UTC).timestamp())
)
#: Any second, and often a full quarter of an hour or day: midnights and clock changes are drawn too.
MOMENTS = st.tuples(SECONDS, st.sampled_from((1, 900, 3600, 86400))).map(
    lambda drawn: datetime.fromtimestamp(drawn[0] // drawn[1] * drawn[1], UTC)
)

maybe = st.sampled_from([None, True, False])


def choice(enum: type, *also: str) -> st.SearchStrategy[str]:
    return st.sampled_from([*(member.value for member in enum), *also])


def ions(line: facts.Line) -> st.SearchStrategy[tuple[str, ...]]:
    names = of_line(line)
    sets = [ions for ions in SETS.values() if set(ions) <= set(names)]
    some = st.sets(st.sampled_from(names), min_size=1)
    picked = st.one_of(some, st.sampled_from(sets).map(set))
    return picked.map(lambda chosen: tuple(ion.name for ion in IONS if ion.name in chosen))


@st.composite
def since(draw: st.DrawFn, collected: datetime | None) -> tuple[bool | None, datetime | None]:
    happened = draw(maybe)
    if not happened:
        return happened, None
    return True, draw(st.one_of(st.none(), MOMENTS, st.just(collected)))


@st.composite
def acid(draw: st.DrawFn) -> dict[str, object]:
    acidified = draw(maybe)
    if not acidified:
        volume = draw(st.sampled_from([None, 0.0])) if acidified is False else None
        return {"acidified": acidified, "acid_kind": "" if acidified is None else "none", "acid_ml": volume}
    kinds = [kind.value for kind in facts.AcidKind if kind is not facts.AcidKind.NONE]
    return {
        "acidified": True,
        "acid_kind": draw(st.sampled_from(["", *kinds])),
        "acid_mol_l": draw(st.none() | typed_number(0, 20)),
        "acid_ml": draw(st.none() | typed_number(0, 50)),
        "acid_grade": draw(words(60)),
        "acid_at": draw(st.none() | MOMENTS),
    }


@st.composite
def bottles(draw: st.DrawFn, line: facts.Line, collected: datetime | None) -> BottleEntry:
    chilled, chilled_at = draw(since(collected))
    frozen, frozen_at = draw(since(collected))
    return BottleEntry(
        line=line.value,
        ions=draw(ions(line)),
        volume_ml=draw(st.none() | typed_number(0, 2000)),
        container=draw(choice(facts.Container, "")),
        to_brim=draw(maybe),
        chilled=chilled,
        chilled_at=chilled_at,
        frozen=frozen,
        frozen_at=frozen_at,
        filter_pore_um=draw(st.sampled_from([None, 0.0, 0.2, 0.45, 1.2])),
        filter_membrane=draw(choice(facts.Membrane, "")),
        filtered_at=draw(st.one_of(st.none(), MOMENTS, st.just(collected))),
        additive=draw(words(60)),
        **draw(acid()),
    )


@st.composite
def entries(draw: st.DrawFn, zone: str, own_id: st.SearchStrategy[str] | None = None) -> SampleEntry:
    precision = draw(choice(facts.Precision))
    at = draw(MOMENTS)
    there = at.astimezone(ZoneInfo(zone))
    if precision == "unknown":
        collected = None
    elif precision == "date":
        collected = start_of_day(date(there.year, there.month, there.day), zone)
    elif precision == "hour":
        collected = (there - timedelta(minutes=there.minute, seconds=there.second)).astimezone(UTC)
        if collected.astimezone(ZoneInfo(zone)).minute:
            precision = "minute"
    else:
        collected = at
    collection = draw(choice(facts.Collection))
    lines = draw(st.sets(st.sampled_from(facts.Line)))
    return SampleEntry(
        own_id=draw(words(60).filter(bool) if own_id is None else own_id),
        site=draw(words(200)),
        collection=collection,
        collected_at=collected,
        collection_began_at=draw(st.none() | MOMENTS) if collection == "composite" else None,
        precision=precision,
        ph=draw(st.none() | typed_number(-2, 16)),
        ec_value=draw(st.none() | typed_number(0, 300000)),
        ec_unit=draw(choice(facts.EcUnit)),
        ec_reference=draw(choice(facts.EcReference)),
        water_temperature_c=draw(st.none() | typed_number(-5, 99)),
        water_kind=draw(choice(facts.WaterKind)),
        alkalinity_meq_l=draw(st.none() | typed_number(-5, 99)),
        chlorinated=draw(maybe),
        hazards=draw(words(200)),
        bottles=tuple(draw(bottles(line, collected)) for line in sorted(lines)),
    )
