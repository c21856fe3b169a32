"""Boundaries: exactly at the limit, nothing to do, pins, margins, moments that have passed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from labqueue.planning.plan import Reason, make_plan
from labqueue.planning.proof import Certificate
from labqueue.planning.units import Pin, PlanningError, Run
from tests.planning.cases import DAY, bottle, problem, unit

RUN = Run("A1", 480)


def test_an_injection_exactly_at_the_deadline_is_in_time() -> None:
    assert make_plan(problem([bottle("B", 0, (480, 1))], RUN)).missed == ()
    late = make_plan(problem([bottle("B", 0, (479, 1))], RUN, units=(unit(free_from=480),)))
    assert [missed.reason for missed in late.missed] == [Reason.TOO_LATE_TO_ACT]
    assert late.places["B"].moment == 480  # late, but not left standing


def test_a_bottle_received_exactly_at_the_start_can_be_loaded() -> None:
    assert "B" in make_plan(problem([bottle("B", 480, (900, 1))], RUN)).places
    plan = make_plan(problem([bottle("B", 481, (900, 1))], RUN))
    assert "B" not in plan.places
    assert plan.without_place == ("B",)
    assert plan.missed[0].reason is Reason.NO_RUN_IN_TIME
    assert plan.missed[0].possible is None


def test_a_deadline_behind_the_horizon_is_left_to_the_next_plan() -> None:
    at_end = bottle("B", 0, (3 * DAY, 1))
    assert make_plan(problem([at_end])).missed_weight == 1
    behind = bottle("B", 0, (3 * DAY + 1, 1))
    assert make_plan(problem([behind])).missed_weight == 0


def test_it_does_not_take_a_place_that_costs_more_than_waiting() -> None:
    """Placed after the horizon it would be late; left out, it is the next plan's business."""
    plan = make_plan(problem([bottle("B", 0, (3 * DAY + 5, 1))], Run("A1", 3 * DAY + 480)))
    assert plan.places == {}
    assert plan.missed == ()


def test_nothing_to_plan() -> None:
    plan = make_plan(problem([], RUN))
    assert (plan.places, plan.missed, plan.proven, plan.starts_proven) == ({}, (), True, True)
    plan = make_plan(problem([bottle("B", 0, (600, 2))], units=()))
    assert plan.missed_weight == 2
    assert plan.missed[0].reason is Reason.TOO_LATE_TO_ACT
    assert plan.missed[0].possible is None


def test_a_bottle_without_due_moment_gets_a_place_and_loses_nothing() -> None:
    plan = make_plan(problem([bottle("B", 0), bottle("C", 0, (480, 1))], RUN))
    assert plan.places["C"].moment == 480
    assert plan.places["B"].moment == 510
    assert plan.spare_min(bottle("B", 0)) is None
    assert plan.spare_min(bottle("C", 0, (480, 1))) == 0
    assert plan.spare_min(bottle("D", 0)) is None


def test_several_missed_steps_are_one_missed_bottle() -> None:
    plan = make_plan(problem([bottle("B", 0, (1, 2), (2, 3))], RUN))
    assert (plan.missed_weight, plan.missed_count, len(plan.missed)) == (5, 1, 2)


def test_what_happened_before_now_cannot_be_used() -> None:
    facts = problem([bottle("B", 0, (900, 1))], RUN, now=600)
    assert make_plan(facts).places == {}


def test_a_running_tray_that_can_be_topped_up_takes_more_from_now_on() -> None:
    facts = problem([bottle("B", 0, (900, 1))], RUN, units=(unit(topup=True),), now=600)
    assert make_plan(facts).places["B"].moment == 600


def test_pins_are_kept_and_the_others_plan_around_them() -> None:
    bottles = [bottle("B", 0, (480, 9)), bottle("C", 0, (600, 1))]
    plan = make_plan(problem(bottles, RUN, pins=(Pin("C", "A1", 480, 0),)))
    assert plan.places["C"].moment == 480
    assert plan.places["B"].moment == 510
    assert plan.missed_weight == 9


@pytest.mark.parametrize(
    ("pin", "kind", "sentence"),
    [
        (Pin("B", "A1", 480, 4), "anion", "room for 4 samples, but sample 5 is pinned there"),
        (Pin("B", "A1", 480, 0), "cation", "is for the cation line, but unit A1 belongs to the anion line"),
    ],
)
def test_pins_that_cannot_be_are_refused(pin: Pin, kind: str, sentence: str) -> None:
    facts = problem([bottle("B", 0, (480, 1), kind=kind)], Run("A1", 480, 4), pins=(pin,))
    with pytest.raises(PlanningError, match=sentence):
        make_plan(facts)


def test_runs_that_overlap_are_refused() -> None:
    facts = problem([], RUN, Run("A1", 500), units=(unit(startup_inj=2),))
    with pytest.raises(PlanningError, match="run at 480 is not through its start-up"):
        make_plan(facts)


def test_the_margin_is_kept_where_it_costs_nothing() -> None:
    bottles = [bottle("B", 0, (520, 1)), bottle("C", 0, (530, 1), group="x")]
    assert make_plan(problem(bottles, RUN)).places["B"].moment == 480
    # With 15 minutes to keep, B (due 520) cannot stand at 510, so C does: both in time, one close.
    plan = make_plan(problem([bottle("B", 0, (540, 1)), bottle("C", 0, (490, 1))], RUN, margin_min=15))
    assert (plan.places["C"].moment, plan.places["B"].moment) == (480, 510)
    assert plan.missed == ()


def test_the_margin_never_loses_a_clock() -> None:
    """Both can be in time only without margin."""
    bottles = [bottle("B", 0, (480, 1)), bottle("C", 0, (510, 1))]
    plan = make_plan(problem(bottles, RUN, margin_min=60))
    assert plan.missed == ()
    assert plan.proven


def test_a_search_cut_short_says_so() -> None:
    plan = make_plan(problem([bottle("B", 0, (480, 1))], RUN, rounds=0))
    assert not plan.proven
    assert not plan.starts_proven


def test_the_certificate_notices_a_wrong_plan() -> None:
    bottles = [bottle("B", 0, (480, 1)), bottle("C", 0, (480, 2))]
    good = make_plan(problem(bottles, RUN)).certificates["anion"]
    assert good.holds()
    b, c = good.seats["B"], good.seats["C"]
    assert not replace(good, seats={"B": c, "C": b}).holds()  # the lighter one in time
    assert not replace(good, seats={"B": c, "C": c}).holds()
    assert not replace(good, seats={"X": c}).holds()
    assert not replace(good, seats={"B": b._replace(sample=99), "C": c}).holds()
    assert not replace(good, prices={}).holds()
    assert not replace(good, prices={c: -1}).holds()
    assert not replace(good, prices={b._replace(sample=99): 1}).holds()
    assert isinstance(good, Certificate)


def test_the_certificate_notices_a_bottle_that_was_not_there() -> None:
    good = make_plan(problem([bottle("B", 480, (900, 1))], RUN)).certificates["anion"]
    late = tuple(replace(job, release=481) for job in good.jobs)
    assert not replace(good, jobs=late).holds()
