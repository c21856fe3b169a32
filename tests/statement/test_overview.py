"""The overview: counted by hand, in a fixed number of queries, for the manager."""

import csv
from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest

from intake import overview
from intake.actions.closing import issue_statement
from intake.plots import LABEL, ROOM, bars_of
from intake.sealing import digest_of
from intake.stating import statement_content
from tests.factories import COLLECTED, anion_bottle, sample
from tests.statement.closed import NOW, consignment_of, measured

pytestmark = pytest.mark.django_db
START = overview.since(NOW, "Europe/Berlin")


@pytest.fixture
def bottles(submitter, reception, manager, group, rulebook):
    return measured(
        submitter, reception, manager, group, rulebook, sample("one"), at=COLLECTED + timedelta(hours=60)
    )


@pytest.fixture
def in_spring(monkeypatch):
    """The pages count the months up to the moment of the tests."""
    monkeypatch.setattr(overview, "since", lambda now, zone: START)


def test_twelve_months_begin_on_the_first_of_a_month():
    assert datetime(2025, 3, 31, 22, tzinfo=UTC) == START
    assert overview.since(datetime(2026, 1, 5, tzinfo=UTC), "UTC") == datetime(2025, 2, 1, tzinfo=UTC)


def test_shares_are_counted_by_ion_month_and_group(bottles, group):
    kept = overview.clocks_kept(START, "Europe/Berlin")
    # After 60 h the three ions with 48 h are late, the other nine of twelve kept.
    assert [(one.name, one.stopped, one.kept, one.percent) for one in kept.by_group()] == [
        (group.name, 12, 9, 75)
    ]
    assert [(one.name, one.kept) for one in kept.by_month()] == [("2026-03", 9)]
    assert [one.name for one in kept.by_ion() if not one.kept] == ["nitrate", "nitrite", "phosphate"]


def test_days_are_means_from_collection_to_arrival_to_injection(bottles, group):
    (days,) = overview.days_taken(START)
    # Received after 6 h, injected 54 h later.
    assert (days.group, days.bottles) == (group.name, 2)
    assert days.to_arrival == pytest.approx(6 / 24)
    assert days.to_injection == pytest.approx(54 / 24)


def test_findings_and_what_is_ready_to_close(bottles, manager, group):
    assert [(row.group, row.code, row.samples) for row in overview.commonest_findings(START)] == [
        (group.name, "clock.late_at_injection", 1)
    ]
    consignment = consignment_of(bottles)
    assert overview.to_close(START) == [consignment]
    issue_statement(consignment, by=manager, at=NOW, seen=digest_of(statement_content(consignment)))
    assert overview.to_close(START) == []


def test_what_is_older_is_not_counted(bottles):
    later = overview.since(NOW + timedelta(days=400), "Europe/Berlin")
    assert overview.clocks_kept(later, "Europe/Berlin").rows == ()
    assert overview.days_taken(later) == []


@pytest.mark.usefixtures("in_spring")
def test_the_page_and_its_files_say_the_same_in_as_many_queries(
    bottles, submitter, reception, manager, group, rulebook, signed_in, django_assert_max_num_queries
):
    browser = signed_in(manager)
    with django_assert_max_num_queries(17):
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
    with django_assert_max_num_queries(17):
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
