"""The overview: counted by hand, in a fixed number of queries, for the manager."""

import csv
from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from intake import overview, tallies
from intake.actions.closing import issue_statement
from intake.actions.people import rename_group
from intake.actions.tallying import count_months, months_due
from intake.models import Arrival, ClockRow, Consignment, Injection
from intake.plots import LABEL, ROOM, bars_of
from intake.sealing import digest_of
from intake.stating import statement_content
from tests.factories import COLLECTED, anion_bottle, sample
from tests.statement.closed import NOW, consignment_of, measured

pytestmark = pytest.mark.django_db
SPAN = tallies.span_of(NOW, "Europe/Berlin")
START = SPAN.start
SECOND = timedelta(seconds=1)


@pytest.fixture
def bottles(submitter, reception, manager, group, rulebook):
    return measured(
        submitter, reception, manager, group, rulebook, sample("one"), at=COLLECTED + timedelta(hours=60)
    )


@pytest.fixture
def in_spring(monkeypatch):
    """The pages count the months up to the moment of the tests."""
    monkeypatch.setattr("labqueue.views.overview.span_of", lambda now, zone: SPAN)


def test_twelve_months_begin_on_the_first_of_a_month():
    assert datetime(2025, 3, 31, 22, tzinfo=UTC) == START
    assert tallies.span_of(datetime(2026, 1, 5, tzinfo=UTC), "UTC").start == datetime(2025, 2, 1, tzinfo=UTC)


def test_shares_are_counted_by_ion_month_and_group(bottles, group):
    kept = overview.year(SPAN).clocks()
    # After 60 h the three ions with 48 h are late, the other nine of twelve kept.
    assert [(one.name, one.stopped, one.kept, one.percent) for one in kept.by_group()] == [
        (group.name, 12, 9, 75)
    ]
    assert [(one.name, one.kept) for one in kept.by_month()] == [("2026-03", 9)]
    assert [one.name for one in kept.by_ion() if not one.kept] == ["nitrate", "nitrite", "phosphate"]


def test_days_are_means_from_collection_to_arrival_to_injection(bottles, group):
    (days,) = overview.year(SPAN).days()
    # Received after 6 h, injected 54 h later.
    assert (days.group, days.bottles) == (group.name, 2)
    assert days.to_arrival == pytest.approx(6 / 24)
    assert days.to_injection == pytest.approx(54 / 24)


def test_findings_and_what_is_ready_to_close(bottles, manager, group):
    assert [(row.group, row.code, row.samples) for row in overview.year(SPAN).findings()] == [
        (group.name, "clock.late_at_injection", 1)
    ]
    consignment = consignment_of(bottles)
    assert overview.to_close(START) == [consignment]
    issue_statement(consignment, by=manager, at=NOW, seen=digest_of(statement_content(consignment)))
    assert overview.to_close(START) == []


def test_what_is_older_is_not_counted(bottles):
    later = overview.year(tallies.span_of(NOW + timedelta(days=400), "Europe/Berlin"))
    assert later.clocks().rows == ()
    assert later.days() == []


@pytest.mark.usefixtures("in_spring")
def test_the_page_and_its_files_say_the_same_in_as_many_queries(
    bottles, submitter, reception, manager, group, rulebook, signed_in, django_assert_max_num_queries
):
    browser = signed_in(manager)
    with django_assert_max_num_queries(19):
        page = browser.get("/overview/").content.decode()
    assert "75 %" in page
    assert "Injected after the holding time" in page
    lines = list(csv.reader(StringIO(browser.get("/overview/clocks.csv").content.decode("utf-8-sig"))))
    assert ["2026-03", group.name, "nitrate", "1", "0"] in lines
    measured(
        submitter,
        reception,
        manager,
        group,
        rulebook,
        *(sample(f"S{n}", bottles=(anion_bottle(),)) for n in range(12)),
    )
    with django_assert_max_num_queries(19):
        browser.get("/overview/")
    count_months(SPAN, at=NOW)
    with django_assert_max_num_queries(11):
        browser.get("/overview/")
    for table in ("days", "findings", "units"):
        assert browser.get(f"/overview/{table}.csv").status_code == 200
    assert browser.get("/overview/other.csv").status_code == 404


@pytest.mark.usefixtures("in_spring")
def test_a_groups_name_is_never_a_formula_in_the_file(bottles, manager, group, signed_in):
    group.name = "=1+1"
    group.save(update_fields=["name"])
    assert b"'=1+1" in signed_in(manager).get("/overview/days.csv").content


def test_bars_fill_the_room_by_the_longest_and_follow_each_other():
    (long, short) = bars_of("days", (("a", "", (1.0, 3.0)), ("b", "", (1.0, 1.0)))).bars
    assert sum(piece.width for piece in long.pieces) == pytest.approx(ROOM, abs=0.2)
    assert short.pieces[0].x == LABEL
    assert short.pieces[1].x == pytest.approx(LABEL + short.pieces[0].width, abs=0.1)


# What was counted, and what stands


def recounted() -> list:
    return sorted(tallies.counted(SPAN), key=repr)


def kept() -> list:
    return sorted(overview.year(SPAN).tallies, key=repr)


def test_what_is_kept_is_a_recount(bottles, manager, group, signed_in):
    """Also after corrections, and under the name the group has today."""
    assert count_months(SPAN, at=NOW) == len(recounted())
    assert kept() == recounted()
    assert overview.year(SPAN).counted_at == NOW
    ClockRow.objects.filter(ion="nitrate").update(void=True)
    assert kept() != recounted(), "it is as old as it says"
    count_months(SPAN, at=NOW + timedelta(hours=1))
    assert kept() == recounted()
    rename_group(group=group, by=manager, at=NOW, name="Heron watch", zone=group.zone)
    assert [one.name for one in overview.year(SPAN).clocks().by_group()] == ["Heron watch"]


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_months_counted_one_by_one_are_the_year(bottles, data):
    """Whatever the moments, also at the very ends of months, where clocks change, and outside the year."""
    edges = [begin + step for begin in SPAN.begins() for step in (-SECOND, timedelta(0), SECOND)]
    anywhere = st.datetimes(datetime(2025, 2, 1), datetime(2026, 5, 1), timezones=st.just(UTC))
    moments = st.one_of(st.sampled_from(edges), anywhere)
    for clock in ClockRow.objects.all():
        stopped, void = data.draw(moments), data.draw(st.booleans())
        ClockRow.objects.filter(pk=clock.pk).update(stopped_at=stopped, void=void)
    for shot in Injection.objects.all():
        gone = NOW if data.draw(st.booleans()) else None
        Injection.objects.filter(pk=shot.pk).update(at=data.draw(moments), voided_at=gone)
    Arrival.objects.update(received_at=data.draw(moments))
    Consignment.objects.update(received_at=data.draw(moments))
    for month in SPAN.months():
        count_months(month, at=NOW)
    assert overview.year(SPAN).tallies == () or kept() == recounted()
    assert sum(tally.count for tally in kept()) == sum(tally.count for tally in recounted())


def test_all_months_are_counted_once_then_those_that_move(bottles):
    assert months_due(NOW, "Europe/Berlin") == [SPAN]
    count_months(SPAN, at=NOW)
    assert [month.names() for month in months_due(NOW, "Europe/Berlin")] == [["2026-02"], ["2026-03"]]
    later = NOW + timedelta(days=31)
    assert [month.names() for month in months_due(later, "Europe/Berlin")] == [["2026-03"], ["2026-04"]]


@pytest.mark.usefixtures("in_spring")
def test_the_page_says_when_it_was_counted_and_reads_no_clocks(bottles, manager, signed_in):
    browser = signed_in(manager)
    assert "were counted" not in browser.get("/overview/").text
    count_months(SPAN, at=NOW)
    with CaptureQueriesContext(connection) as queries:
        page = browser.get("/overview/").text
    assert "were counted" in page
    assert "75 %" in page
    asked = " ".join(query["sql"] for query in queries)
    for table in ("clockrow", "findingrow", "injection", "intake_sample"):
        assert f'FROM "intake_{table}"' not in asked and f'"intake_{table}" INNER' not in asked
