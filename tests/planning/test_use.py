"""Spans joined, shared and taken out: worked by hand, and their laws."""

from datetime import UTC, datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from labqueue.planning.use import common, joined, length, without

START = datetime(2026, 3, 2, tzinfo=UTC)


def spans(*hours):
    return [(START + timedelta(hours=a), START + timedelta(hours=b)) for a, b in hours]


def test_by_hand():
    assert joined(spans((5, 7), (1, 3), (2, 4), (4, 5), (9, 9))) == spans((1, 7))
    assert common(spans((0, 4), (6, 9)), spans((3, 7), (8, 20))) == spans((3, 4), (6, 7), (8, 9))
    assert without(spans((0, 10)), spans((2, 3), (9, 12))) == spans((0, 2), (3, 9))
    assert length(spans((0, 1), (2, 4))) == timedelta(hours=3)


some = st.lists(
    st.tuples(st.integers(0, 60), st.integers(0, 60)).map(lambda pair: spans(pair)[0]), max_size=8
).map(joined)


@given(some, some)
@settings(max_examples=80, deadline=None)
def test_what_is_shared_and_what_is_left_make_the_whole(first, second):
    shared, left = common(first, second), without(first, second)
    assert length(shared) + length(left) == length(first)
    assert shared == common(second, first)
    assert not common(left, second)
