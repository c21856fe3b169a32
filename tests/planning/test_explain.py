"""The sentences are counted, and the counts are right."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from labqueue.planning.explain import Reader
from labqueue.planning.plan import Reason, make_plan
from labqueue.planning.units import Bottle, Pin, Problem, Run, Step
from tests.planning.cases import bottle, free_slots, problem, problems, unit

RUN = Run("A1", 480)


def clock(minute: int) -> str:
    return f"{minute // 60:02}:{minute % 60:02}"


@settings(max_examples=80, deadline=None)
@given(problems(steps=2), st.sampled_from([0, 30]))
def test_crowded_out_is_exact(facts: Problem, margin: int) -> None:
    plan = make_plan(Problem(facts.bottles, facts.units, facts.horizon_end, facts.runs, margin_min=margin))
    single = all(len(one.steps) == 1 for one in facts.bottles)
    taken = {slot: name for name, slot in plan.places.items()}
    by_id = {one.id: one for one in facts.bottles}
    for missed in plan.missed:
        if missed.reason is not Reason.CROWDED_OUT:
            continue
        crowd = Reader(plan).crowd(missed)
        assert len(crowd.holders) == len(crowd.places) > 0
        assert all(slot in taken for slot in crowd.places)
        # Nobody, the missed bottle included, has a place in time outside the crowd.
        asking = [(by_id[missed.bottle], missed.step)]
        asking += [(holder.bottle, holder.step) for holder in crowd.holders]
        for one, step in asking:
            in_time = {s for s in free_slots(facts) if one.release <= s.load and s.moment <= step.deadline}
            assert in_time <= set(crowd.places)
        if single:
            assert crowd.least_weight >= missed.step.weight


@settings(max_examples=60, deadline=None)
@given(problems(steps=1))
def test_the_crowds_count_every_crowded_out_bottle_once(facts: Problem) -> None:
    plan = make_plan(facts)
    crowded = sorted(m.bottle for m in plan.missed if m.reason is Reason.CROWDED_OUT)
    crowds = Reader(plan).crowds()
    assert sorted(missed.bottle for crowd in crowds for missed in crowd.missed) == crowded
    assert sum(crowd.lost for crowd in crowds) == len(crowded)
    places = [slot for crowd in crowds for slot in crowd.places]
    assert len(set(places)) == len(places)


@settings(max_examples=60, deadline=None)
@given(problems(steps=2))
def test_the_other_reasons_are_true(facts: Problem) -> None:
    plan = make_plan(facts)
    by_id = {one.id: one for one in facts.bottles}
    for missed in plan.missed:
        one = by_id[missed.bottle]
        in_time = [s for s in free_slots(facts) if one.release <= s.load and s.moment <= missed.step.deadline]
        assert bool(in_time) == (missed.reason is Reason.CROWDED_OUT)
        assert all(Reader(plan).sentences(one.id, clock))


def test_sentences_of_bottles_with_a_place() -> None:
    bottles = [bottle("B", 0, (500, 1)), bottle("C", 0, (540, 1)), bottle("D", 0), bottle("E", 900)]
    reader = Reader(make_plan(problem(bottles, RUN)))
    assert reader.sentences("B", clock) == [
        "Unit A1, run of 08:00, sample 1: injection 08:00, due 08:20, 20 min to spare. "
        "It is the first of its run."
    ]
    assert reader.sentences("C", clock) == [
        "Unit A1, run of 08:00, sample 2: injection 08:30, due 09:00, 30 min to spare. "
        "1 of the 1 places before it hold bottles that end no later."
    ]
    assert reader.sentences("D", clock) == [
        "Unit A1, run of 08:00, sample 3: injection 09:00; no due moment left to keep."
    ]
    assert reader.sentences("E", clock) == ["No place in this plan."]


def test_bottles_ahead_that_have_nothing_to_keep_do_not_end_sooner() -> None:
    bottles = [bottle("B", 0), bottle("C", 0, (540, 1))]
    pins = (Pin("B", "A1", 480, 0),)
    reader = Reader(make_plan(problem(bottles, RUN, pins=pins)))
    assert "0 of the 1 places before it" in reader.sentences("C", clock)[0]


def test_sentences_of_bottles_that_are_lost() -> None:
    bottles = [
        Bottle("LATE", "anion", 0, (Step(400, 1, "nitrite"),)),
        bottle("SHUT", 600, (700, 1)),
        bottle("B", 0, (480, 3)),
        bottle("C", 0, (480, 2)),
    ]
    reader = Reader(make_plan(problem(bottles, RUN, Run("A1", 1900))))
    assert reader.sentences("LATE", clock)[1:] == [
        "Misses nitrite due 06:40: lost before we could act, the earliest injection possible is 08:00."
    ]
    assert reader.sentences("SHUT", clock)[1:] == [
        "Misses due 11:40: no run in time, the first place it could take is 31:40."
    ]
    assert reader.sentences("C", clock)[1:] == [
        "Misses due 08:00. The only place in time, 08:00, is needed by a bottle that has nowhere else to go "
        "in time; it weighs 3, this one 2."
    ]


def test_a_bottle_pinned_too_late_says_so() -> None:
    plan = make_plan(problem([bottle("B", 0, (480, 1))], RUN, pins=(Pin("B", "A1", 480, 3),)))
    reader = Reader(plan)
    assert reader.sentences("B", clock)[1] == "Misses due 08:00: it is pinned to this place."
    assert reader.crowds() == []


def test_a_plan_that_is_not_proven_claims_nothing() -> None:
    bottles = [bottle("B", 0, (480, 3)), bottle("C", 0, (480, 2))]
    reader = Reader(make_plan(problem(bottles, RUN, rounds=0)))
    assert reader.crowds() == []
    assert reader.sentences("C", clock)[1] == (
        "Misses due 08:00: no place was left; this plan was cut short and is not proven."
    )


def nitrate(name: str, deadline: int, weight: int = 1) -> Bottle:
    return Bottle(name, "anion", 0, (Step(deadline, weight, "nitrate"),))


def test_the_count_for_the_plan() -> None:
    bottles = [nitrate(f"B{n}", 570, 2) for n in range(6)]
    reader = Reader(make_plan(problem(bottles, RUN)))
    [crowd] = reader.crowds()
    assert crowd.sentence(clock) == (
        "6 nitrate clocks due by 09:30, 4 places for them from 08:00 to 09:30: 2 must be lost."
    )
    lost = crowd.missed[0]
    assert reader.sentences(lost.bottle, clock)[1] == (
        "Misses nitrate due 09:30. All 4 places from 08:00 to 09:30 are needed by 4 bottles that have "
        "nowhere else to go in time; the least of them weighs 2, this one 2."
    )


def test_crowds_that_touch_are_one_and_others_stay_apart() -> None:
    morning = [nitrate(f"B{n}", 480) for n in range(2)]
    evening = [bottle(f"C{n}", 600, (1920, 1)) for n in range(2)]
    reader = Reader(make_plan(problem([*morning, *evening], RUN, Run("A1", 1920))))
    assert [crowd.sentence(clock) for crowd in reader.crowds()] == [
        "2 nitrate clocks due by 08:00, 1 place for them from 08:00 to 08:00: 1 must be lost.",
        "2 clocks due by 32:00, 1 place for them from 32:00 to 32:00: 1 must be lost.",
    ]
    # The lost one at 8:30 reaches further than the one at 8:00, and takes its crowd in.
    both = [nitrate("B1", 480, 5), nitrate("B2", 480, 1), nitrate("C1", 510, 5), nitrate("C2", 510, 1)]
    [crowd] = Reader(make_plan(problem(both, RUN))).crowds()
    assert (len(crowd.places), crowd.lost) == (2, 2)


def test_the_lines_are_read_apart() -> None:
    bottles = [nitrate("A1", 480), nitrate("A2", 480)]
    bottles += [bottle(name, 0, (480, 1), kind="cation") for name in ("C1", "C2")]
    units = (unit(), unit(id="C1", kind="cation"))
    crowds = Reader(make_plan(problem(bottles, RUN, Run("C1", 480), units=units))).crowds()
    assert [crowd.lost for crowd in crowds] == [1, 1]


def test_several_clocks_a_bottle_are_counted_as_bottles() -> None:
    """Four places, six bottles of two ions each: bottles are counted, and what is lost is six minus four."""
    bottles = [Bottle(f"B{n}", "anion", 480, (Step(570, 2, "nitrite, nitrate", 2),)) for n in range(6)]
    plan = make_plan(problem(bottles, RUN))
    (crowd,) = Reader(plan).crowds()
    assert crowd.sentence(clock) == (
        "6 bottles with nitrite, nitrate due by 09:30, 4 places for them from 08:00 to 09:30: 2 must be lost."
    )
    assert plan.missed_clocks == 4
