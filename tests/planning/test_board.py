"""The board accepts a bottle exactly when everybody accepted can still be matched."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from labqueue.planning.board import Board

Wish = tuple[int, int]
PLACES = st.lists(st.tuples(st.integers(0, 4), st.integers(0, 8)), max_size=10).map(
    lambda pairs: sorted((load, load + wait) for load, wait in pairs)
)
WISHES = st.lists(st.tuples(st.integers(0, 4), st.integers(0, 12)), max_size=10)


def matchable(places: list[Wish], wishes: list[Wish]) -> bool:
    """Augmenting paths, without any order."""
    holder: dict[int, int] = {}

    def place(number: int, seen: set[int]) -> bool:
        release, promise = wishes[number]
        for index, (load, moment) in enumerate(places):
            if release <= load and moment <= promise and index not in seen:
                seen.add(index)
                if index not in holder or place(holder[index], seen):
                    holder[index] = number
                    return True
        return False

    return all(place(number, set()) for number in range(len(wishes)))


@settings(max_examples=300, deadline=None)
@given(PLACES, WISHES)
def test_insertion_is_an_exact_test(places: list[Wish], wishes: list[Wish]) -> None:
    board = Board(places)
    accepted: list[Wish] = []
    for rank, (release, promise) in enumerate(wishes):
        fits = board.insert(release, promise, rank)
        assert fits == matchable(places, [*accepted, (release, promise)])
        if fits:
            accepted.append((release, promise))
    seats = list(board.seats())
    assert len(seats) == len(accepted)
    for place, rank in seats:
        assert wishes[rank][0] <= places[place][0]
        assert places[place][1] <= wishes[rank][1]


def test_who_waits_longer_gives_way() -> None:
    board = Board([(0, 10), (0, 20), (5, 15)])
    assert board.insert(0, 99, 1)
    assert board.insert(0, 12, 2)
    assert sorted(board.seats()) == [(0, 2), (1, 1)]
    assert board.insert(0, 20, 3)  # the place at 20; bottle 1 goes on to the later tray
    assert sorted(board.seats()) == [(0, 2), (1, 3), (2, 1)]
    assert not board.insert(0, 99, 4)
    assert not Board([]).insert(0, 99, 1)
