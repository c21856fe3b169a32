"""The legal moves, as data."""

from intake.states import BOTTLE_MOVES, CONSIGNMENT_MOVES, WAITING, BottleState, ConsignmentState, may_move


def test_every_state_has_its_moves_and_leads_to_known_states():
    for moves, states in ((BOTTLE_MOVES, BottleState), (CONSIGNMENT_MOVES, ConsignmentState)):
        assert set(moves) == set(states)
        assert {new for targets in moves.values() for new in targets} <= set(states)


def test_a_held_bottle_never_goes_onto_a_tray():
    assert not may_move(BOTTLE_MOVES, BottleState.ON_HOLD, BottleState.PLACED)
    assert not may_move(BOTTLE_MOVES, BottleState.REFUSED, BottleState.PLACED)


def test_what_was_received_cannot_be_withdrawn_and_withdrawn_is_the_end():
    assert not may_move(CONSIGNMENT_MOVES, ConsignmentState.RECEIVED, ConsignmentState.WITHDRAWN)
    assert CONSIGNMENT_MOVES[ConsignmentState.WITHDRAWN] == frozenset()


def test_waiting_bottles_can_be_put_back_and_staying_is_no_move():
    for state in WAITING:
        assert may_move(BOTTLE_MOVES, state, BottleState.EXPECTED)
        assert not may_move(BOTTLE_MOVES, state, state)
