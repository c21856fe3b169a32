"""Whatever is done to bottles in whatever order: each change of state is one that the table lists."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from intake import record
from intake.actions import injecting, placing
from intake.actions.checking import check_bottle, undo_check
from intake.actions.deciding import decide_bottle
from intake.actions.receiving import close_arrival
from intake.actions.rulebooks import take_rulebooks
from intake.choices import Decision, Role
from intake.errors import Refused
from intake.models import Bottle, Group, Membership, RulebookVersion, User
from intake.shipped import shipped_data
from intake.states import BOTTLE_MOVES, BottleState, may_move
from tests.bench.bench import SEEN
from tests.factories import COLLECTED, RECEIVED, opened, sample, sent

DECISIONS = [one.value for one in Decision if one is not Decision.NONE]
WHICH = st.integers(0, 3)


class Bench(RuleBasedStateMachine):
    """Four bottles and everything that can be done to one of them, asked for in any state."""

    #: The moves that were met, over all examples.
    met: set[tuple[str, str]] = set()

    def __init__(self) -> None:
        super().__init__()
        number = User.objects.count()
        self.by = User.objects.create_user(f"m{number}@lab.example", None, name="Mara", role=Role.MANAGER)
        group = Group.objects.create(name=f"Group {number}")
        Membership.objects.create(user=self.by, group=group)
        take_rulebooks([shipped_data("house")], by=self.by, at=COLLECTED)
        consignment = sent(self.by, group, RulebookVersion.objects.get(), sample("S1"), sample("S2"))
        self.arrival = opened(self.by, consignment)
        self.keys = list(consignment.bottles.order_by("pk").values_list("pk", flat=True))
        self.at = RECEIVED
        self.held = self.states()

    def states(self) -> dict[int, str]:
        return dict(Bottle.objects.filter(pk__in=self.keys).values_list("pk", "state"))

    def attempt(self, action, *given, **named) -> None:
        """Try it; what is refused changes nothing."""
        self.at += timedelta(minutes=1)
        try:
            action(*given, by=self.by, at=self.at, **named)
        except Refused:
            assert self.states() == self.held

    def bottle(self, which: int) -> Bottle:
        return Bottle.objects.select_related("consignment", "sample", "arrival").get(pk=self.keys[which])

    @rule(which=WHICH, cold=st.booleans(), label=st.booleans(), in_order=st.booleans())
    def check(self, which, cold, label, in_order):
        self.arrival.refresh_from_db()
        seen = {**SEEN, "cold": cold, "label_matches": label}
        self.attempt(check_bottle, self.bottle(which), self.arrival, seen=seen, in_order=in_order)

    @rule(which=WHICH)
    def undo(self, which):
        self.attempt(undo_check, self.bottle(which))

    @rule(which=WHICH, decision=st.sampled_from(DECISIONS))
    def decide(self, which, decision):
        self.attempt(decide_bottle, self.bottle(which), decision=decision, reason="as agreed")

    @rule(which=WHICH)
    def place(self, which):
        self.attempt(placing.place_bottle, self.bottle(which), label="run 1 place 1")

    @rule(which=WHICH)
    def take_back(self, which):
        self.attempt(placing.take_back_bottle, self.bottle(which), reason="the pump failed")

    @rule(which=WHICH)
    def inject(self, which):
        self.attempt(
            lambda bottle, by, at: injecting.record_injections([injecting.Shot(bottle, at)], by=by, at=at),
            self.bottle(which),
        )

    @rule(which=WHICH)
    def void(self, which):
        shot = self.bottle(which).injections.filter(voided_at=None).first()
        if shot is not None:
            self.attempt(injecting.void_injection, shot, reason="wrong tray")

    @rule(more=st.booleans())
    def close(self, more):
        self.arrival.refresh_from_db()
        self.attempt(close_arrival, self.arrival, more_to_come=more, scanned_are_here=False)

    @invariant()
    def every_move_is_listed(self):
        now = self.states()
        for key, state in now.items():
            assert state == self.held[key] or may_move(BOTTLE_MOVES, self.held[key], state), (
                self.held[key],
                state,
            )
            if state != self.held[key]:
                self.met.add((self.held[key], state))
        self.held = now


class AnyOrder(TestCase):
    def test_bottles_move_only_as_the_table_lists(self):
        limits = settings(
            max_examples=12, stateful_step_count=25, deadline=None, suppress_health_check=list(HealthCheck)
        )
        run_state_machine_as_test(Bench, settings=limits)
        assert list(record.faults()) == []
        assert len(Bench.met) >= 5


@pytest.mark.django_db
@pytest.mark.parametrize("state", ["", "anything", "READY"])
def test_the_database_takes_no_state_that_is_not_listed(submitter, group, rulebook, state):
    from django.db import IntegrityError, transaction

    consignment = sent(submitter, group, rulebook)
    with pytest.raises(IntegrityError), transaction.atomic():
        Bottle.objects.filter(consignment=consignment).update(state=state)
    assert set(consignment.bottles.values_list("state", flat=True)) == {BottleState.EXPECTED}
