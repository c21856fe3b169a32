"""The queue: order, what a run-out ion hides, filters, pages and queries."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from intake.actions.checking import check_bottle
from intake.actions.deciding import give_up_ion
from intake.models import Bottle
from labqueue.actions.equipping import make_usual_units
from labqueue.foresight import bench_now
from labqueue.queue import SORTS, Wanted, ordered, queued_bottles, soonest_clocks
from labqueue.queuerows import left_of
from labqueue.today import CHANGES, rows_today
from tests.factories import (
    COLLECTED,
    RECEIVED,
    anion_bottle,
    cation_bottle,
    opened,
    sample,
    sent,
)

pytestmark = pytest.mark.django_db
ALL = Wanted()


@pytest.fixture
def receive(reception, submitter, group, rulebook):
    """``receive(entries)`` sends and receives samples, every bottle seen in order."""

    def take(*entries, by_group=group, by=submitter):
        consignment = sent(by, by_group, rulebook, *entries)
        arrival = opened(reception, consignment)
        for bottle in consignment.bottles.all():
            check_bottle(bottle, arrival, by=reception, at=RECEIVED, seen=SEEN, in_order=True)
        return consignment

    return take


SEEN = {
    "cold": True,
    "headspace": False,
    "leaking": False,
    "broken": False,
    "frozen": False,
    "cloudy": False,
    "label_matches": True,
}


def ids(bottles):
    return [(bottle.sample.own_id, bottle.line) for bottle in bottles]


def test_the_clock_that_runs_out_next_comes_first(receive, manager):
    receive(
        sample("later", collected_at=COLLECTED, bottles=(anion_bottle(),)),
        sample("sooner", collected_at=COLLECTED - timedelta(hours=5), bottles=(anion_bottle(),)),
        sample("patient", bottles=(cation_bottle(ions=("sodium",)),)),
    )
    rows = queued_bottles(manager, ALL, RECEIVED)
    assert [name for name, _line in ids(rows)] == ["sooner", "later", "patient"]


def test_a_run_out_ion_never_hides_those_that_can_still_be_saved(receive, manager):
    receive(
        sample("mixed", bottles=(anion_bottle(ions=("nitrate", "chloride")),)),
        sample("hopeless", bottles=(anion_bottle(ions=("nitrate",)),)),
    )
    now = COLLECTED + timedelta(days=3)
    rows = list(queued_bottles(manager, ALL, now))
    assert [name for name, _line in ids(rows)] == ["mixed", "hopeless"]
    left = left_of(rows[0].clocks.all(), now)
    assert (left.ions, left.run_out) == (("chloride",), ("nitrate",))
    assert left_of(rows[1].clocks.all(), now).clock is None


def test_exactly_at_the_due_moment_a_clock_can_still_be_kept(receive, manager):
    receive(sample(bottles=(anion_bottle(ions=("nitrate",)),)))
    due = COLLECTED + timedelta(hours=48)
    (row,) = queued_bottles(manager, ALL, due)
    assert left_of(row.clocks.all(), due).ions == ("nitrate",)
    assert row.next_due_at == due
    after = due + timedelta(microseconds=1)
    assert left_of(queued_bottles(manager, ALL, after)[0].clocks.all(), after).clock is None


def test_an_ion_given_up_no_longer_decides(receive, manager, reception):
    receive(sample(bottles=(anion_bottle(ions=("nitrate", "chloride")),)))
    give_up_ion(Bottle.objects.get(), by=reception, at=RECEIVED, ion="nitrate", reason="too warm")
    (row,) = queued_bottles(manager, ALL, RECEIVED)
    assert left_of(row.clocks.all(), RECEIVED).ions == ("chloride",)


def test_only_bottles_in_the_laboratory_wait(receive, manager, submitter, group, rulebook):
    sent(submitter, group, rulebook)
    assert not queued_bottles(manager, ALL, RECEIVED).exists()
    assert queued_bottles(manager, Wanted(state="expected"), RECEIVED).count() == 2


@pytest.mark.parametrize(
    ("wanted", "names"),
    [
        (Wanted(line="cation"), {"S2"}),
        (Wanted(search="S1"), {"S1"}),
        (Wanted(search="reedmoor"), {"S1", "S2"}),
        (Wanted(search="reedmoor s1"), {"S1"}),
        (Wanted(search="reedmoor nowhere"), set()),
        (Wanted(search="nothing like it"), set()),
        (Wanted(within="48h"), {"S1"}),
        (Wanted(within="none"), set()),
        (Wanted(state="on hold"), set()),
    ],
)
def test_filters_narrow(receive, manager, wanted, names):
    receive(
        sample("S1", bottles=(anion_bottle(),)),
        sample("S2", bottles=(cation_bottle(ions=("sodium",)),)),
    )
    assert {name for name, _line in ids(queued_bottles(manager, wanted, RECEIVED))} == names


def test_a_bottle_number_finds_its_bottle_however_it_is_written(receive, manager):
    receive(sample("S1"), sample("S2"))
    bottle = Bottle.objects.filter(line="anion").first()
    found = queued_bottles(
        manager, Wanted(search=f"{bottle.number[:4].lower()}-{bottle.number[4:]}"), RECEIVED
    )
    assert list(found) == [bottle]


def test_every_sort_shows_every_bottle_once_both_ways(receive, manager):
    receive(*(sample(f"S{n}") for n in range(4)))
    for name in SORTS:
        for sort in (name, f"-{name}"):
            rows = ordered(queued_bottles(manager, ALL, RECEIVED), sort)
            assert len({bottle.pk for bottle in rows}) == 8, sort


def test_a_stranger_and_the_groups_own_people_see_only_their_own(receive, stranger, submitter):
    receive(sample())
    assert not queued_bottles(stranger, ALL, RECEIVED).exists()
    assert queued_bottles(submitter, ALL, RECEIVED).count() == 2


@pytest.mark.parametrize("with_units", [False, True])
@pytest.mark.parametrize("question", ["", "?by=consignment", "?line=anion&sort=-group", "?within=48h"])
def test_the_page_asks_at_most_eight_questions_for_2_12_and_more_bottles(
    receive, manager, signed_in, question, with_units
):
    """All in all: session, person, and what the page itself asks."""
    if with_units:
        make_usual_units(by=manager, at=COLLECTED)
    client = signed_in(manager)
    client.get("/queue/")
    counts = []
    for many in (1, 5) if question else (1, 5, 26):
        receive(*(sample(f"S{n}") for n in range(many)))
        with CaptureQueriesContext(connection) as queries:
            assert client.get(f"/queue/{question}").status_code == 200
        counts.append(len(queries))
    assert len(set(counts)) == 1, counts
    assert counts[0] <= 8, counts


@pytest.mark.parametrize(
    "question",
    [
        "?q=%00",
        "?group=999999",
        "?group=x",
        "?within=never",
        "?sort=nothing",
        "?page=-1",
        "?page=99999",
        "?page=x",
        "?state=draft",
        "?line=both",
        "?sort=-due&page=2",
        "?q=" + "x" * 500,
    ],
)
def test_no_question_breaks_the_page(receive, manager, signed_in, question):
    receive(sample())
    assert signed_in(manager).get(f"/queue/{question}").status_code == 200


def test_the_page_says_what_narrows_it_for_those_who_print_or_share_it(receive, manager, signed_in):
    receive(sample("S1"))
    client = signed_in(manager)
    assert "Only:" not in client.get("/queue/").text
    page = client.get("/queue/", {"line": "anion", "q": "S1", "within": "never"}).text
    assert "Only: find “S1”, line anion." in page


def test_an_empty_queue_leads_on(manager, signed_in):
    page = signed_in(manager).get("/queue/").text
    assert "Nothing waits" in page
    assert 'href="/people/"' in page.split('class="empty"')[1]


def test_who_may_see_the_queue(manager, reception, submitter, signed_in, client):
    assert signed_in(manager).get("/queue/").status_code == 200
    assert signed_in(reception).get("/queue/").status_code == 403
    assert signed_in(submitter).get("/queue/").status_code == 403
    assert client.get("/queue/").status_code == 302


WANTED = [ALL, Wanted(line="anion"), Wanted(within="24h"), Wanted(within="none"), Wanted(state="expected")]


@pytest.mark.skipif(connection.vendor != "sqlite", reason="The plan is told in SQLite's words.")
@pytest.mark.parametrize("wanted", WANTED)
def test_the_queue_never_reads_all_of_history(manager, wanted):
    """The plan of SQLite: every table by an index, bottles by their state."""
    plan = queued_bottles(manager, wanted, RECEIVED)[:50].explain()
    assert "SCAN" not in plan
    assert "intake_bottle USING INDEX bottle_by_state (state=?" in plan


@pytest.mark.skipif(connection.vendor != "sqlite", reason="The plan is told in SQLite's words.")
def test_the_soonest_are_read_off_an_index_one_after_the_other(manager):
    plan = soonest_clocks(manager, ALL, RECEIVED)[:50].explain()
    assert "SCAN" not in plan
    assert "USING INDEX clock_waiting_by_due (due_at>?" in plan
    assert "clock_by_bottle (bottle_id=?" in plan
    assert "TEMP B-TREE" not in plan, "nothing is sorted"


@pytest.mark.skipif(connection.vendor != "sqlite", reason="The plan is told in SQLite's words.")
@pytest.mark.parametrize("word", CHANGES)
def test_what_changed_today_starts_from_an_index_on_the_moment(word):
    plan = rows_today(word, RECEIVED).order_by().explain()
    index = {
        "came": "arrival_by_moment",
        "planned": "run_by_state",
        "injected": "injection_by_moment",
        "held": "bottle_by_state",
        "lost": "clock_waiting_by_due",
        "late": "clock_by_stop",
    }[word]
    assert "SCAN" not in plan
    assert index in plan


@pytest.mark.skipif(connection.vendor != "sqlite", reason="The plan is told in SQLite's words.")
def test_the_bench_reads_runs_that_stand_alone(manager):
    make_usual_units(by=manager, at=COLLECTED)
    with CaptureQueriesContext(connection) as queries:
        bench_now()
    (asked,) = queries
    with connection.cursor() as cursor:
        cursor.execute(f"EXPLAIN QUERY PLAN {asked['sql']}")
        plan = " ".join(row[3] for row in cursor.fetchall())
    assert "SCAN labqueue_place" not in plan
    assert "SCAN labqueue_run" not in plan
