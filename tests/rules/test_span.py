"""The least and the most a limit can come to."""

from dataclasses import replace

from intake.rules.book import Counting, Limit, LimitUnit
from intake.rules.examples import BOOK
from intake.rules.holding import span_min

TO_THE_END = replace(BOOK, counting=Counting.END_OF_PERIOD)


def test_hours_are_hours_and_at_once_is_the_books_own():
    assert span_min(Limit(48, LimitUnit.HOURS), TO_THE_END) == (2880, 2880)
    assert span_min(Limit(0, LimitUnit.IMMEDIATELY), BOOK) == (BOOK.immediately_min,) * 2


def test_days_to_the_end_of_the_last_one_are_wide_from_seven_on():
    assert span_min(Limit(3, LimitUnit.DAYS), TO_THE_END) == (4320, 4320)
    least, most = span_min(Limit(7, LimitUnit.DAYS), TO_THE_END)
    assert least <= 7 * 1440 < 8 * 1440 <= most
    assert span_min(Limit(7, LimitUnit.DAYS), BOOK) == (10080, 10080)


def test_months_are_as_wide_as_months_are():
    least, most = span_min(Limit(1, LimitUnit.MONTHS), TO_THE_END)
    assert least <= 28 * 1440
    assert most >= 61 * 1440


def test_no_limit_never_ends():
    assert span_min(None, BOOK) == (float("inf"), float("inf"))


def test_the_spans_as_worked():
    """28 to 31 days a month, two days in hand at both ends; to the end adds a month."""
    assert span_min(Limit(1, LimitUnit.MONTHS), BOOK) == (26 * 1440, 33 * 1440)
    assert span_min(Limit(6, LimitUnit.MONTHS), BOOK) == (166 * 1440, 188 * 1440)
    assert span_min(Limit(6, LimitUnit.MONTHS), TO_THE_END) == (166 * 1440, 219 * 1440)
    assert span_min(Limit(7, LimitUnit.DAYS), TO_THE_END) == (5 * 1440, 9 * 1440)
