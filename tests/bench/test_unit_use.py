"""Use of units on the overview: counted by hand; and no page's work grows with what came before."""

import csv
from datetime import timedelta
from io import StringIO

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from labqueue.actions import injections
from labqueue.unituse import units_used, units_used_by_month

pytestmark = pytest.mark.django_db


@pytest.fixture
def injected(started, manager):
    """The run of five bottles, injected as planned; the moment at which it is looked at."""
    last = max(place.planned_at for place in injections.all_places(started))
    at = last + timedelta(hours=1)
    injections.enter_as_planned(started, by=manager, at=at, version=started.version, zone="UTC")
    return started, at


def test_hours_and_shares_are_those_of_the_run(injected):
    run, at = injected
    places = list(run.places.all())
    first, *others = units_used(run.started_at - timedelta(days=3), at)
    assert first.name == "Anion 1"
    assert (first.runs, first.injections) == (1, 5)
    assert first.checks == sum(place.kind != "sample" for place in places)
    last = max(place.planned_at for place in places)
    ran = (last + timedelta(minutes=run.unit.inject_min) - run.started_at) / timedelta(hours=1)
    assert first.hours == pytest.approx(ran)
    # It counts from its first run on, so of all hours it has used what it ran.
    assert first.possible == pytest.approx((at - run.planned_start) / timedelta(hours=1))
    assert 0 < first.hours_staffed <= first.possible_staffed
    assert all((unit.runs, unit.percent, unit.percent_staffed) == (0, None, None) for unit in others)


def test_out_of_service_is_not_held_against_a_unit(injected):
    run, at = injected
    whole = units_used(run.planned_start, at + timedelta(days=2))[0]
    run.unit.out_from, run.unit.out_until = at, at + timedelta(days=1)
    run.unit.save()
    less = units_used(run.planned_start, at + timedelta(days=2))[0]
    assert whole.possible - less.possible == pytest.approx(24)
    assert less.hours == whole.hours


def test_months_add_up_to_the_whole(injected):
    run, at = injected
    start, until = run.started_at - timedelta(days=40), at + timedelta(days=40)
    whole = units_used(start, until)[0]
    months = [use for _month, use in units_used_by_month(start, until, "UTC") if use.name == whole.name]
    for name in ("runs", "injections", "checks", "hours", "hours_staffed", "possible", "possible_staffed"):
        assert sum(getattr(use, name) for use in months) == pytest.approx(getattr(whole, name)), name


def test_a_run_that_failed_counts_as_far_as_it_got(started):
    fourth = started.places.order_by("position")[3]
    started.places.filter(position__gte=4).update(failed=True, awaiting=False)
    late = fourth.planned_at + timedelta(days=1)
    use = units_used(started.started_at - timedelta(days=1), late)[0]
    third = started.places.order_by("position")[2]
    ran = third.planned_at + timedelta(minutes=started.unit.inject_min) - started.started_at
    assert use.hours == pytest.approx(ran / timedelta(hours=1))


def test_the_page_shows_it_with_picture_table_and_file(injected, manager, signed_in, monkeypatch):
    _run, at = injected
    monkeypatch.setattr("django.utils.timezone.now", lambda: at)
    browser = signed_in(manager)
    page = browser.get("/overview/").content.decode()
    assert 'aria-label="Share of opening hours by unit: Anion 1' in page
    assert "Use of units, table" in page
    lines = list(csv.DictReader(StringIO(browser.get("/overview/units.csv").content.decode("utf-8-sig"))))
    (line,) = [line for line in lines if line["Runs"] == "1"]
    assert (line["Unit"], line["Samples injected"]) == ("Anion 1", "5")


#: Tables that grow with history; those of units, hours and rulebooks do not.
GROWING = (
    "intake_bottle", "intake_clockrow", "intake_findingrow", "intake_injection", "intake_arrival",
    "intake_consignment", "intake_question", "intake_statement", "labqueue_run", "labqueue_place",
)  # fmt: skip


@pytest.mark.skipif(connection.vendor != "sqlite", reason="The plan is told in SQLite's words.")
@pytest.mark.parametrize("page", ["/overview/", "/overview/units.csv", "/overview/clocks.csv"])
def test_nothing_is_read_from_end_to_end(injected, manager, signed_in, monkeypatch, page):
    monkeypatch.setattr("django.utils.timezone.now", lambda: injected[1])
    browser = signed_in(manager)
    with CaptureQueriesContext(connection) as asked:
        browser.get(page)
    seen, read_whole = 0, []
    for query in asked.captured_queries:
        if not query["sql"].startswith("SELECT"):
            continue
        with connection.cursor() as cursor:
            cursor.execute(f"EXPLAIN QUERY PLAN {query['sql']}")
            steps = [row[3] for row in cursor.fetchall()]
        for step in steps:
            seen += any(table in step for table in GROWING)
            partial = "question_unanswered" in step  # holds the open ones alone
            if step.startswith("SCAN") and step.split()[1] in GROWING and not partial:
                read_whole.append((step, query["sql"]))
    assert seen
    assert read_whole == []
