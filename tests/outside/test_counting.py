"""How limits are counted, against published readings (``data/counting.json`` names them)."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from dateutil.relativedelta import relativedelta

from intake.rules.book import Counting, Limit, LimitUnit, Rulebook
from intake.rules.holding import due_moment
from intake.rules.moments import months_later

DATA = json.loads((Path(__file__).parent / "data" / "counting.json").read_text(encoding="utf-8"))
ZONES = ["UTC", "Europe/Berlin", "America/New_York", "Pacific/Auckland", "Asia/Kathmandu"]


def read_limit(text: str) -> Limit:
    value, unit = text.split()
    return Limit(float(value), LimitUnit(unit))


def read_local(text: str, zone: str) -> datetime:
    """A local time of the table; 24:00 is the last instant of its date."""
    if text.endswith("T24:00"):
        day = datetime.fromisoformat(text[:10]).replace(tzinfo=ZoneInfo(zone))
        return (day + timedelta(days=1)).astimezone(UTC) - timedelta(microseconds=1)
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("reading", ["elapsed", "end_of_period"])
@pytest.mark.parametrize(
    "vector", DATA["vectors"], ids=lambda vector: f"{vector['collected']} {vector['limit']}"
)
def test_the_published_readings(vector: dict, reading: str, zone: str):
    book = Rulebook("b", 1, "Book", (), counting=Counting(reading.replace("_", " ")))
    start = read_local(vector["collected"], zone)
    expected = read_local(vector[reading], zone)
    # Twenty-four hours are counted, not wall-clock days; in zones whose clocks changed between
    # the two moments, an elapsed limit in hours or days ends an hour earlier or later there.
    limit = read_limit(vector["limit"])
    if limit.unit is not LimitUnit.MONTHS and not vector[reading].endswith("T24:00"):
        shift = expected.astimezone(ZoneInfo(zone)).utcoffset() - start.astimezone(ZoneInfo(zone)).utcoffset()
        expected += shift
    assert due_moment(start, limit, zone, book) == expected


def test_a_missed_36_hour_limit_is_missed_by_five_minutes():
    """TNI interpretation request 76: analysed 22:05, the limit was 22:00; no rounding."""
    book = Rulebook("b", 1, "Book", ())
    due = due_moment(datetime(2025, 6, 1, 10, tzinfo=UTC), Limit(36, LimitUnit.HOURS), "UTC", book)
    assert datetime(2025, 6, 2, 22, 5, tzinfo=UTC) - due == timedelta(minutes=5)


def test_grossly_late_is_more_than_twice_the_limit():
    """Recalled regional practice of data review, weak: 48 h from Tue 14:10 is gross after Sat 14:10."""
    book = Rulebook("b", 1, "Book", ())
    start = datetime(2025, 3, 4, 14, 10, tzinfo=UTC)
    gross = due_moment(start, Limit(48, LimitUnit.HOURS), "UTC", book, book.gross_factor)
    assert gross == datetime(2025, 3, 8, 14, 10, tzinfo=UTC)


def test_months_are_those_of_dateutil():
    """The calendar arithmetic against ``dateutil.relativedelta``, day by day over five years."""
    for day in range(5 * 365):
        start = datetime(2023, 8, 1, 12, tzinfo=UTC) + timedelta(days=day)
        for months in (1, 2, 6, 12, 18):
            assert months_later(start, months, "UTC") == start + relativedelta(months=months)
