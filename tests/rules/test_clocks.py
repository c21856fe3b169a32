"""When clocks start, are due and end, case by case."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from intake.rules.book import Counting, Limit, LimitUnit
from intake.rules.examples import BOOK, COLLECTED, SAMPLE, example
from intake.rules.facts import Collection, Injection, Precision
from intake.rules.holding import clock_start, due_moment, outcome, say_limit
from intake.rules.judge import judge
from intake.rules.judgement import Clock, ClockOutcome
from intake.rules.moments import EARLIEST, LATEST
from tests.rules.cases import HOUSE, NITRIC, NO_ACID, after, judged, raised, rows

H, D, M, MIN = LimitUnit.HOURS, LimitUnit.DAYS, LimitUnit.MONTHS, LimitUnit.MINUTES
NOW = LimitUnit.IMMEDIATELY
ENDING = replace(HOUSE, counting=Counting.END_OF_PERIOD)
INSTANT = timedelta(microseconds=1)


def local(text: str, zone: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone))


STARTS = [
    ("a grab starts at collection", {}, COLLECTED),
    ("a date starts with its local day", {"precision": Precision.DATE}, datetime(2026, 11, 24, tzinfo=UTC)),
    (
        "a date starts with its local day in Auckland",
        {"precision": Precision.DATE, "zone": "Pacific/Auckland"},
        local("2026-11-25T00:00", "Pacific/Auckland"),
    ),
    ("an hour starts with the hour", {"precision": Precision.HOUR}, datetime(2026, 11, 24, 13, tzinfo=UTC)),
    (
        "an hour starts with the local hour in Kathmandu",
        {"precision": Precision.HOUR, "zone": "Asia/Kathmandu"},
        local("2026-11-24T18:00", "Asia/Kathmandu"),
    ),
    ("unknown precision never starts", {"precision": Precision.UNKNOWN}, None),
    ("no moment never starts", {"collected_at": None}, None),
    (
        "a composite starts at its end",
        {"collection": Collection.COMPOSITE, "collection_began_at": after(days=-1)},
        COLLECTED,
    ),
    (
        "a composite that ends on a date cannot end before it began",
        {
            "collection": Collection.COMPOSITE,
            "collection_began_at": after(hours=-2),
            "precision": Precision.DATE,
        },
        after(hours=-2),
    ),
]


@pytest.mark.parametrize(("words", "changes", "expected"), STARTS, ids=[case[0] for case in STARTS])
def test_when_a_clock_starts(words: str, changes: dict, expected: datetime | None):
    start = clock_start(replace(SAMPLE, **changes))
    assert start.at == expected, words
    assert start.assumed is (changes.get("precision") in (Precision.DATE, Precision.HOUR))


DUES = [
    ("48 h over the spring change in Berlin", "2026-03-28T12:00", "Europe/Berlin", 48, H, "2026-03-30T13:00"),
    ("48 h over the autumn change in Berlin", "2026-10-24T12:00", "Europe/Berlin", 48, H, "2026-10-26T11:00"),
    ("28 days are 672 hours", "2026-03-28T12:00", "Europe/Berlin", 28, D, "2026-04-25T13:00"),
    ("a month keeps its wall time", "2026-03-28T12:00", "Europe/Berlin", 1, M, "2026-04-28T12:00"),
    ("a month from the 31st ends on the 30th", "2026-03-31T12:00", "Europe/Berlin", 1, M, "2026-04-30T12:00"),
    ("six months into a leap day", "2023-08-31T12:00", "Europe/Berlin", 6, M, "2024-02-29T12:00"),
    ("24 h from the leap day", "2024-02-29T12:00", "UTC", 24, H, "2024-03-01T12:00"),
    ("at once is fifteen minutes", "2026-03-28T12:00", "UTC", 0, NOW, "2026-03-28T12:15"),
    ("ten minutes", "2026-03-28T12:00", "UTC", 10, MIN, "2026-03-28T12:10"),
    ("half an hour as hours", "2026-03-28T12:00", "UTC", 0.5, H, "2026-03-28T12:30"),
    (
        "one hour in Pago Pago, 11 hours behind",
        "2026-03-28T12:00",
        "Pacific/Pago_Pago",
        1,
        H,
        "2026-03-28T13:00",
    ),
    (
        "one month in Kiritimati, 14 hours ahead",
        "2026-01-31T12:00",
        "Pacific/Kiritimati",
        1,
        M,
        "2026-02-28T12:00",
    ),
]


@pytest.mark.parametrize(
    ("words", "start", "zone", "value", "unit", "due"), DUES, ids=[case[0] for case in DUES]
)
def test_when_a_clock_is_due(words: str, start: str, zone: str, value: float, unit: LimitUnit, due: str):
    found = due_moment(local(start, zone), Limit(value, unit), zone, HOUSE)
    assert found == local(due, zone).astimezone(UTC), words


ENDS = [
    ("to the end of the last day", "2026-03-20T12:00", "Europe/Berlin", 28, D, "2026-04-18T00:00"),
    ("seven days are the fewest that do", "2026-03-20T12:00", "Europe/Berlin", 7, D, "2026-03-28T00:00"),
    ("to the end of the last month", "2026-03-20T12:00", "Europe/Berlin", 6, M, "2026-10-01T00:00"),
    ("the last day may be one hour shorter", "2026-03-22T12:00", "Europe/Berlin", 7, D, "2026-03-30T00:00"),
    ("December ends the year", "2026-11-02T12:00", "Europe/Berlin", 1, M, "2027-01-01T00:00"),
    (
        "where clocks jump over midnight, at the jump",
        "2018-10-27T12:00",
        "America/Sao_Paulo",
        7,
        D,
        "2018-11-04T01:00",
    ),
]


@pytest.mark.parametrize(
    ("words", "start", "zone", "value", "unit", "end"), ENDS, ids=[case[0] for case in ENDS]
)
def test_when_a_period_ends(words: str, start: str, zone: str, value: float, unit: LimitUnit, end: str):
    found = due_moment(local(start, zone), Limit(value, unit), zone, ENDING)
    assert found == local(end, zone).astimezone(UTC) - INSTANT, words


@pytest.mark.parametrize(("value", "unit"), [(48, H), (6, D), (15, MIN), (0, NOW)])
def test_short_limits_are_elapsed_in_every_book(value: float, unit: LimitUnit):
    limit = Limit(value, unit)
    assert due_moment(COLLECTED, limit, "UTC", ENDING) == due_moment(COLLECTED, limit, "UTC", HOUSE)


def test_a_month_that_ends_in_a_skipped_or_doubled_hour_takes_the_earlier_reading():
    zone = "Europe/Berlin"
    skipped = due_moment(local("2026-02-28T02:30", zone), Limit(1, M), zone, HOUSE)
    assert skipped == local("2026-03-28T02:30", zone)
    skipped = due_moment(local("2026-01-29T02:30", zone), Limit(2, M), zone, HOUSE)
    assert skipped == datetime(2026, 3, 29, 0, 30, tzinfo=UTC)
    doubled = due_moment(local("2026-09-25T02:30", zone), Limit(1, M), zone, HOUSE)
    assert doubled == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)


def test_one_and_a_half_times_a_month_lies_half_way_into_the_next():
    due = due_moment(datetime(2026, 1, 1, tzinfo=UTC), Limit(1, M), "UTC", HOUSE, 1.5)
    assert due == datetime(2026, 2, 15, tzinfo=UTC)


@pytest.mark.parametrize("counting", list(Counting))
@pytest.mark.parametrize(
    "start", [EARLIEST, datetime(1, 1, 1, tzinfo=UTC), datetime(9999, 12, 31, tzinfo=UTC), LATEST]
)
@pytest.mark.parametrize(
    "limit", [Limit(48, H), Limit(28, D), Limit(6, M), Limit(1e9, D), Limit(1e300, H), Limit(10**7, M)]
)
def test_the_edges_of_time_do_not_break(start: datetime, limit: Limit, counting: Counting):
    book = replace(HOUSE, counting=counting)
    for zone in ("Pacific/Kiritimati", "Pacific/Pago_Pago"):
        assert EARLIEST <= due_moment(start, limit, zone, book) <= LATEST


def clock(**changes: object) -> Clock:
    due = after(hours=48)
    return replace(
        Clock("A", "nitrate", COLLECTED, Limit(48, H), due, after(hours=96), 1, "reason"), **changes
    )


OUTCOMES = [
    ("before it is due it runs", {}, after(hours=1), ClockOutcome.RUNNING),
    ("exactly when due it still runs", {}, after(hours=48), ClockOutcome.RUNNING),
    ("one instant later it is late", {}, after(hours=48) + INSTANT, ClockOutcome.LATE),
    ("exactly at twice the limit it is late", {}, after(hours=96), ClockOutcome.LATE),
    ("one instant later grossly", {}, after(hours=96) + INSTANT, ClockOutcome.GROSSLY_LATE),
    ("injected in time it was kept", {"stopped_at": after(hours=2)}, after(days=99), ClockOutcome.KEPT),
    (
        "injected exactly when due it was kept",
        {"stopped_at": after(hours=48)},
        after(days=9),
        ClockOutcome.KEPT,
    ),
    ("injected late", {"stopped_at": after(hours=49)}, after(hours=50), ClockOutcome.LATE),
    ("injected grossly late", {"stopped_at": after(hours=97)}, after(hours=98), ClockOutcome.GROSSLY_LATE),
    ("void whatever happens", {"void": True, "stopped_at": after(hours=1)}, after(), ClockOutcome.VOID),
    (
        "without a limit it runs",
        {"due_at": None, "grossly_late_at": None},
        after(days=99),
        ClockOutcome.RUNNING,
    ),
    (
        "without a limit an injection shows nothing",
        {"due_at": None, "grossly_late_at": None, "stopped_at": after()},
        after(days=99),
        ClockOutcome.VOID,
    ),
]


@pytest.mark.parametrize(
    ("words", "changes", "now", "expected"), OUTCOMES, ids=[case[0] for case in OUTCOMES]
)
def test_what_becomes_of_a_clock(words: str, changes: dict, now: datetime, expected: ClockOutcome):
    assert outcome(clock(**changes), now) is expected, words


COLLECTIONS = [
    ("no moment", {"collected_at": None}, {"collection.missing"}),
    ("only a date", {"precision": Precision.DATE}, {"collection.date_only"}),
    ("only an hour", {"precision": Precision.HOUR}, {"collection.hour_only"}),
    ("tomorrow", {"collected_at": after(days=1)}, {"collection.future"}),
    ("ten minutes ahead of the clock", {"collected_at": after(hours=3, minutes=10)}, set()),
    ("in 1926", {"collected_at": COLLECTED.replace(year=1926)}, {"collection.implausibly_old"}),
    ("no sample id", {"name": "  "}, {"label.no_name"}),
    (
        "a composite that ends before it begins",
        {"collection": Collection.COMPOSITE, "collection_began_at": after(hours=1)},
        {"collection.composite_reversed"},
    ),
    (
        "a composite of 24 hours",
        {"collection": Collection.COMPOSITE, "collection_began_at": after(days=-1)},
        set(),
    ),
    (
        "a composite of 40 days",
        {"collection": Collection.COMPOSITE, "collection_began_at": after(days=-40)},
        {"collection.composite_long"},
    ),
    (
        "a composite of exactly 31 days",
        {"collection": Collection.COMPOSITE, "collection_began_at": after(days=-31)},
        set(),
    ),
    (
        "a composite that begins and ends in one minute",
        {"collection": Collection.COMPOSITE, "collection_began_at": after()},
        set(),
    ),
    ("a composite without a begin", {"collection": Collection.COMPOSITE}, set()),
    (
        "a composite that ends on a date within its first day",
        {
            "collection": Collection.COMPOSITE,
            "collection_began_at": after(hours=1),
            "precision": Precision.DATE,
        },
        {"collection.date_only"},
    ),
]


@pytest.mark.parametrize(("words", "changes", "expected"), COLLECTIONS, ids=[case[0] for case in COLLECTIONS])
def test_what_is_wrong_with_the_collection(words: str, changes: dict, expected: set):
    kept = {"filtered_at": None}
    assert set(raised(judged(sample=changes, anion=kept, cation={**kept, "acid_at": None}))) == expected, (
        words
    )


def test_without_a_start_rows_are_compared_by_their_nominal_length():
    unknown = {"sample": {"collected_at": None}, "anion": {"ions": frozenset({"chlorite"}), "chilled": True}}
    assert rows(judged(**unknown), "A") == {"chlorite": 21}
    unknown["anion"]["additive"] = "ethylenediamine"
    assert rows(judged(**unknown), "A") == {"chlorite": 20}
    assert rows(judged(**unknown), "C")["sodium"] == 9


def test_nothing_asked_and_nothing_known():
    bare = example(sample={"collected_at": None})
    [finding] = judge(bare.sample, (), HOUSE).findings
    assert finding.sentence == "The moment of collection is not stated; nothing can be started."


def reasons(judgement: object) -> dict[str, str]:
    return {clock.ion: clock.reason for clock in judgement.clocks}


def test_the_reason_of_a_clock_reads_as_one_sentence():
    place = {"sample": {"zone": "Europe/Berlin"}}
    assert reasons(judged(**place))["nitrate"] == (
        "nitrate: 48 h from 24 Nov 2026 14:05 Europe/Berlin, chilled, filtered and without acid, "
        "rulebook House, version 1, row 6"
    )
    assert reasons(judged(anion={"chilled": False}))["nitrate"] == (
        "nitrate: 48 h from 24 Nov 2026 13:05 Europe/Lisbon, strictest limit as no row's conditions are met, "
        "rulebook House, version 1, row 6"
    )
    assert reasons(judged(sample={"precision": Precision.DATE}))["chloride"].startswith(
        "chloride: 28 days from the earliest moment the stated date allows, 24 Nov 2026 00:00 Europe/Lisbon,"
    )
    assert reasons(judged(sample={"collected_at": None}))["chloride"].startswith(
        "chloride: 28 days from collection, whose moment is not stated,"
    )
    composite = {"collection": Collection.COMPOSITE}
    assert "from the end of the composite, 24 Nov 2026 13:05" in reasons(judged(sample=composite))["chloride"]
    strange = judged(anion={"ions": frozenset({"acetate", "sodium"})})
    assert reasons(strange)["acetate"] == "acetate: no limit set, rulebook House, version 1, row 26"
    assert strange.clocks[1].reason == "sodium: no row in rulebook House, version 1"


@pytest.mark.parametrize(
    ("limit", "words"),
    [
        (Limit(48, H), "48 h"),
        (Limit(28, D), "28 days"),
        (Limit(1, D), "1 day"),
        (Limit(1, M), "1 month"),
        (Limit(30, MIN), "30 minutes"),
        (Limit(0, NOW), "at once (15 minutes)"),
    ],
)
def test_limits_in_words(limit: Limit, words: str):
    assert say_limit(limit, HOUSE) == words


def test_the_first_injection_of_an_ion_stops_its_clock():
    shots = (
        Injection(after(hours=9)),
        Injection(after(hours=5), frozenset({"chloride"})),
        Injection(after(hours=3), frozenset({"sulfate"})),
    )
    stops = {clock.ion: clock.stopped_at for clock in judged(anion={"injections": shots}).clocks}
    assert stops["chloride"] == after(hours=5)
    assert stops["nitrate"] == after(hours=9)
    assert stops["sodium"] is None


def test_a_late_injection_says_what_it_does_to_each_ion():
    late = {"injections": (Injection(after(hours=60)),)}
    [finding] = judged(anion={**late, "ions": frozenset({"nitrite", "nitrate", "sulfate"})}).findings
    assert finding.code == "clock.late_at_injection"
    assert finding.ions == ("nitrite", "nitrate")
    assert "nitrite is lost: bacteria turn it into nitrate" in finding.sentence
    assert "nitrate may rise from nitrite and ammonium" in finding.sentence


def test_an_ion_late_on_arrival_is_not_said_to_be_late_twice():
    late = {"injections": (Injection(after(days=30)),)}
    found = raised(judged(anion=late, arrival={"received_at": after(hours=60)}))
    assert found["clock.late_on_arrival"] == ("nitrate", "phosphate")
    assert found["clock.late_at_injection"] == ("chloride",)


def test_an_injection_before_the_collection_is_a_contradiction():
    early = {"injections": (Injection(after(hours=-1)),)}
    assert set(raised(judged(anion=early))) == {"injection.before_collection"}
    unknown = raised(judged(sample={"collected_at": None}, anion={**early, "filtered_at": None}))
    assert set(unknown) == {"collection.missing"}


def test_two_bottles_with_one_key_are_a_fault_of_the_program():
    case = example()
    with pytest.raises(ValueError, match="share a key"):
        judge(case.sample, (case.bottles[0], case.bottles[0]), HOUSE)


def test_a_zone_that_does_not_exist_is_a_fault_of_the_program():
    with pytest.raises(ValueError, match="no time zone called"):
        judged(sample={"zone": "Atlantis/Harbour"})


def test_acid_in_the_wrong_bottle_voids_its_clocks_but_not_the_other_bottle():
    void = {(clock.bottle, clock.ion) for clock in judged(anion=NITRIC).clocks if clock.void}
    assert {bottle for bottle, _ in void} == {"A"}


def test_a_frozen_bottle_earns_the_row_for_frozen_water():
    kept = {
        "ions": frozenset({"ammonium"}),
        "frozen": True,
        "chilled": None,
        "frozen_at": after(hours=1),
        **NO_ACID,
    }
    [clock] = [clock for clock in judged(BOOK, cation=kept).clocks if clock.bottle == "C"]
    assert "30 days" in clock.reason
    assert "frozen and filtered, rulebook Example, version 1, row 13" in clock.reason


def test_of_two_rows_that_are_met_the_longer_counts_wherever_it_stands():
    tap = {"sample": {"chlorinated": True}}
    assert rows(judged(BOOK, **tap), "A")["nitrate"] == 7
    turned = replace(BOOK, rows=tuple(replace(row, number=99 - row.number) for row in BOOK.rows))
    assert rows(judged(turned, **tap), "A")["nitrate"] == 92


@pytest.mark.parametrize(
    ("precision", "minutes", "least"),
    [
        (Precision.MINUTE, 10, 10),
        (Precision.MINUTE, -10, -10),
        (Precision.HOUR, 70, 15),
        (Precision.HOUR, 10, 0),
        (Precision.DATE, 600, 0),
    ],
)
def test_no_more_time_has_surely_passed_than_the_stated_moment_allows(precision, minutes, least):
    """Collected 13:05; an hour stated starts at 13:00 and may be 60 minutes late."""
    start = clock_start(replace(SAMPLE, precision=precision))
    moment = COLLECTED + timedelta(minutes=minutes)
    assert start.minutes_until(moment) == pytest.approx(least)


def test_twice_at_once_is_grossly_late():
    limit = Limit(0, LimitUnit.IMMEDIATELY)
    assert due_moment(COLLECTED, limit, "UTC", HOUSE, 2.0) == after(minutes=30)
