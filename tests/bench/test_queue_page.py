"""The queue's page: its order by two ways of reading, gathering, what changed today, files."""

import csv
import io
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from openpyxl import load_workbook

from intake.actions.deciding import decide_bottle, give_up_ion
from intake.models import Bottle, ClockRow, Sample
from labqueue import queuefiles
from labqueue.actions.injections import enter_as_planned
from labqueue.queue import Wanted, all_keys, keys_between
from labqueue.queuefiles import columns
from labqueue.queuepage import ROWS_PER_PAGE
from labqueue.today import CHANGES, changed, morning_of
from tests.bench.bench import received, river
from tests.factories import COLLECTED, RECEIVED, anion_bottle, cation_bottle, sample

pytestmark = pytest.mark.django_db
NOW = RECEIVED + timedelta(hours=1)


@pytest.fixture
def at_now(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


@pytest.fixture
def many(submitter, reception, group, rulebook):
    """More than a page of bottles with all kinds of clocks: soon, late, equal, run out, none."""
    entries = [
        sample(
            f"M{number:02}",
            collected_at=COLLECTED - timedelta(hours=number * 7 % 60),
            bottles=(anion_bottle(ions=("nitrate", "chloride")), cation_bottle(ions=("sodium",))),
        )
        for number in range(30)
    ]
    bottles = received(submitter, reception, group, rulebook, *entries)
    for bottle in bottles[::7]:
        ClockRow.objects.filter(bottle=bottle).update(due_at=NOW - timedelta(hours=1))
    return bottles


def test_both_ways_of_reading_give_the_same_order_and_total(many, manager):
    every = all_keys(manager, Wanted(), NOW)
    assert sorted(every) == sorted(bottle.pk for bottle in many)
    found = []
    for first in range(0, 80, ROWS_PER_PAGE):
        keys = keys_between(manager, Wanted(), NOW, first, first + ROWS_PER_PAGE)
        assert keys.total == len(every)
        found += keys.pks
    assert found == every


@pytest.mark.parametrize("wanted", [Wanted(line="anion"), Wanted(within="48h"), Wanted(sort="-due")])
def test_pages_of_what_is_narrowed_hold_each_bottle_once(many, manager, wanted):
    every = all_keys(manager, wanted, NOW)
    found = [
        pk for first in range(0, 70, 10) for pk in keys_between(manager, wanted, NOW, first, first + 10).pks
    ]
    assert found == every
    assert keys_between(manager, wanted, NOW, 0, 10).total == len(every)


def test_a_page_beyond_the_last_shows_the_last(many, manager, signed_in, at_now):
    page = signed_in(manager).get("/queue/?page=99").text
    assert '<span aria-current="page">2</span>' in page


def test_bottles_of_a_consignment_stand_together_the_most_urgent_first(
    submitter, reception, group, rulebook, manager, signed_in, at_now
):
    patient = received(submitter, reception, group, rulebook, *river(2, collected_at=COLLECTED))
    earlier = COLLECTED - timedelta(hours=9)
    urgent = received(
        submitter,
        reception,
        group,
        rulebook,
        sample("early", collected_at=earlier, bottles=(anion_bottle(),)),
        sample("later", collected_at=COLLECTED + timedelta(hours=2), bottles=(anion_bottle(),)),
    )
    found = all_keys(manager, Wanted(by="consignment"), NOW)
    assert found[:2] == [bottle.pk for bottle in urgent]
    assert set(found[2:]) == {bottle.pk for bottle in patient}
    page = signed_in(manager).get("/queue/?by=consignment").text
    assert page.count('class="queue-group"') == 2
    assert "2 bottles" in page
    assert "Gathered by consignment." in page


def test_a_consignment_that_goes_on_over_the_page_says_how_many_it_has(many, manager, signed_in, at_now):
    page = signed_in(manager).get("/queue/?by=consignment").text
    assert "50 of 60 bottles" in page


def test_the_morning_is_the_laboratory_s_own(settings):
    settings.TIME_ZONE = "Europe/Berlin"
    assert morning_of(RECEIVED).isoformat() == "2026-03-03T00:00:00+01:00"
    assert morning_of(RECEIVED.replace(hour=23, minute=30)).isoformat() == "2026-03-04T00:00:00+01:00"


def test_what_changed_today_is_counted_and_the_count_leads_to_just_those(
    started, ready, manager, reception, signed_in, monkeypatch
):
    at = started.places.filter(awaiting=True).order_by("-planned_at").first().planned_at
    at += timedelta(minutes=5)
    enter_as_planned(started, by=manager, at=at, version=started.version, zone="UTC")
    later = at + timedelta(hours=1)
    held, lost = ready(2)
    decide_bottle(held, by=reception, at=later, decision="held", reason="cloudy")
    ClockRow.objects.filter(bottle=lost, ion="nitrate").update(due_at=later - timedelta(minutes=1))
    monkeypatch.setattr("django.utils.timezone.now", lambda: later)
    page = signed_in(manager).get("/queue/").text
    for word in ("injected", "held", "lost"):
        rows = changed(word, later, Bottle.objects.all())
        assert f'?changed={word}">{rows.count()} {CHANGES[word].words}</a>' in page
        shown = signed_in(manager).get(f"/queue/?changed={word}").text
        assert all(bottle.number in shown for bottle in rows)
        assert shown.count('name="bottle"') == rows.count()
    assert {bottle.pk for bottle in changed("held", later, Bottle.objects.all())} == {held.pk}


def test_yesterday_s_changes_are_not_told(many, manager, signed_in, monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW + timedelta(days=1))
    assert 'changed=came">' not in signed_in(manager).get("/queue/").text


def csv_rows(response):
    text = b"".join(response.streaming_content).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_files_hold_every_row_in_the_order_of_the_page_with_zone(many, units, manager, signed_in, at_now):
    rows = csv_rows(signed_in(manager).get("/queue/list.csv?line=anion"))
    order = dict(Bottle.objects.values_list("pk", "number"))
    assert [row["bottle"] for row in rows] == [
        order[pk] for pk in all_keys(manager, Wanted(line="anion"), NOW)
    ]
    assert list(rows[0]) == list(columns())
    assert rows[0]["due (UTC)"].startswith("2026-03-0")
    assert {row["kept as things stand"] for row in rows} <= {"yes", "no", ""}
    assert "injection" in rows[0]["will it make it"] or "too late" in rows[0]["will it make it"]


def test_the_workbook_says_what_the_csv_says(many, manager, signed_in, at_now):
    client = signed_in(manager)
    rows = csv_rows(client.get("/queue/list.csv"))
    data = b"".join(client.get("/queue/list.xlsx").streaming_content)
    heads, *lines = load_workbook(io.BytesIO(data)).active.iter_rows(values_only=True)
    assert heads == columns()
    assert [[str(cell or "") for cell in line] for line in lines] == [
        ["" if value == "0" else value for value in row.values()] for row in rows
    ]


@pytest.mark.parametrize("start", ["=", "+", "-", "@"])
def test_no_text_becomes_a_formula_in_either_file(ready, manager, signed_in, at_now, start):
    ready(1)
    Sample.objects.update(site=f"{start}1+1", own_id=f"{start}HYPERLINK(1)")
    client = signed_in(manager)
    (row,) = csv_rows(client.get("/queue/list.csv"))
    assert row["site"] == f"'{start}1+1"
    data = b"".join(client.get("/queue/list.xlsx").streaming_content)
    cell = load_workbook(io.BytesIO(data)).active.cell(2, columns().index("site") + 1)
    assert (cell.data_type, cell.value) == ("s", f"{start}1+1")


def test_files_ask_the_same_number_of_questions_for_2_and_60(many, manager, signed_in, at_now):
    client = signed_in(manager)
    client.get("/queue/")
    counts = []
    for question in ("?q=M01", ""):
        with CaptureQueriesContext(connection) as queries:
            assert csv_rows(client.get(f"/queue/list.csv{question}"))
        counts.append(len(queries))
    assert counts[0] == counts[1], counts


def test_too_many_for_one_file_is_said_not_cut_off(many, manager, signed_in, monkeypatch):
    monkeypatch.setattr(queuefiles, "MOST_ROWS", 5)
    answer = signed_in(manager).get("/queue/list.csv")
    assert answer.status_code == 422
    assert "60 bottles are too many for one file, which holds 5" in answer.text


def test_an_ion_given_up_leaves_the_row(ready, manager, reception, signed_in, at_now):
    (bottle,) = ready(1)
    give_up_ion(bottle, by=reception, at=NOW, ion="nitrate", reason="too warm")
    (row,) = csv_rows(signed_in(manager).get("/queue/list.csv"))
    assert "nitrate" not in row["ions that run out next"]
