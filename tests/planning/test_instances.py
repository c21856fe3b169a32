"""The planner against reference instances with optima proven elsewhere (see the data file)."""

from __future__ import annotations

from typing import Any

import pytest

from labqueue.planning.plan import make_plan
from tests.planning.cases import instances, of_instance


@pytest.mark.parametrize("instance", instances("fixed-runs"), ids=lambda instance: instance["id"])
def test_given_runs_reach_the_proven_optimum(instance: dict[str, Any]) -> None:
    plan = make_plan(of_instance(instance))
    assert plan.proven
    assert plan.missed_weight == instance["optimum"]["missed_weight"]
    assert plan.missed_count == instance["optimum"]["missed_count_at_min_weight"]
    assert all(plan.missed_weight <= row["missed_weight"] for row in instance["baselines"].values())


@pytest.mark.parametrize(
    "instance",
    [instance for instance in instances("fixed-runs") if len(instance["bottles"]) <= 500],
    ids=lambda instance: instance["id"],
)
def test_the_double_loop_confirms_the_proof(instance: dict[str, Any]) -> None:
    plan = make_plan(of_instance(instance))
    assert all(certificate.holds() for certificate in plan.certificates.values())


def test_chosen_starts_are_nearly_always_optimal_and_never_far() -> None:
    cases = instances("choose-runs")
    optimal = 0
    for instance in cases:
        plan = make_plan(of_instance(instance))
        best = instance["optimum"]
        above = plan.missed_count - best["missed_count_at_min_weight"]
        assert plan.missed_weight >= best["missed_weight"]
        assert above <= len(instance["bottles"]) / 50, instance["id"]
        optimal += plan.missed_weight == best["missed_weight"]
        if plan.starts_proven:
            assert plan.missed_weight == best["missed_weight"], instance["id"]
    assert optimal >= 0.9 * len(cases)


def test_expired_bottles_do_not_hide_the_savable_ones() -> None:
    """Bottles whose only due moment has passed still get places, behind the others."""
    instance = next(one for one in instances("fixed-runs") if one["id"].startswith("S25"))
    plan = make_plan(of_instance(instance))
    assert len(plan.places) == len(instance["bottles"])
