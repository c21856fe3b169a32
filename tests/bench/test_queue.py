"""The queue: order, what a run-out ion hides, filters, pages and queries."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from intake.actions.checking import check_bottle
from intake.actions.deciding import give_up_ion
from intake.models import Bottle
from labqueue.queue import SORTS, Wanted, left_of, ordered, queued_bottles
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
    left = left_of(rows[0], now)
    assert (left.ions, left.run_out) == (("chloride",), ("nitrate",))
    assert left_of(rows[1], now).clock is None


def test_exactly_at_the_due_moment_a_clock_can_still_be_kept(receive, manager):
    receive(sample(bottles=(anion_bottle(ions=("nitrate",)),)))
    due = COLLECTED + timedelta(hours=48)
    (row,) = queued_bottles(manager, ALL, due)
    assert left_of(row, due).ions == ("nitrate",)
    assert row.next_due_at == due
    after = due + timedelta(microseconds=1)
    assert left_of(queued_bottles(manager, ALL, after)[0], after).clock is None


def test_an_ion_given_up_no_longer_decides(receive, manager, reception):
    receive(sample(bottles=(anion_bottle(ions=("nitrate", "chloride")),)))
    give_up_ion(Bottle.objects.get(), by=reception, at=RECEIVED, ion="nitrate", reason="too warm")
    (row,) = queued_bottles(manager, ALL, RECEIVED)
    assert left_of(row, RECEIVED).ions == ("chloride",)


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


def test_the_page_asks_the_same_number_of_questions_for_2_and_40_bottles(receive, manager, signed_in):
    client = signed_in(manager)
    client.get("/queue/")
    counts = []
    for many in (1, 20):
        receive(*(sample(f"S{n}") for n in range(many)))
        with CaptureQueriesContext(connection) as queries:
            assert client.get("/queue/").status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 9, counts


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
