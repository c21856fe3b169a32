"""Finding consignments by words: what a person finds, and that it costs the same however many there are."""

from __future__ import annotations

import re
from importlib import import_module
from types import SimpleNamespace

import pytest
from django.apps import apps
from django.conf import settings
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from intake import searching
from intake.actions.indexing import words_of
from intake.actions.naming import name_group, unknown_group
from intake.actions.people import rename_group
from intake.actions.registering import amend_consignment, enter_samples
from intake.actions.tallying import count_months
from intake.models import Consignment, Group, Sample, SearchWord
from intake.searching import search
from intake.searchwords import LONGEST, asked_words, beginnings, folded
from intake.tallies import span_of
from intake.views import consignments as consignment_views
from tests.factories import COLLECTED, ENTERED, draft, sample, sent

# Words


@pytest.mark.parametrize(
    "asked",
    ["mb-07/2", "MB-0", "07/2", "2", "mill", "BROOK", "brook mill", "brook, mill", "07 br", "(mill)"],
)
def test_a_text_is_found_by_the_beginnings_of_its_words(asked):
    assert set(asked_words(asked)) <= beginnings(["MB-07/2", "Mill brook"])


@pytest.mark.parametrize("asked", ["rook", "b-07", "mill creek", "7/2"])
def test_it_is_not_found_by_what_no_word_begins_with(asked):
    assert not set(asked_words(asked)) <= beginnings(["MB-07/2", "Mill brook"])


@pytest.mark.parametrize(
    ("text", "asked"),
    [("Mühlbach", "MUHLB"), ("Straße", "strass"), ("Åros", "aros"), ("MU\u0308HL", "mühl")],
)
def test_case_and_accents_make_no_difference(text, asked):
    """Unicode, sections 3.13 (case folding) and 15 of annex 15 (NFKD)."""
    assert set(asked_words(asked)) <= beginnings([text])


def test_a_long_id_is_told_from_its_neighbours_by_its_end():
    asked = set(asked_words("Groundwater-monitoring-2026-03-001"))
    assert asked <= beginnings(["Groundwater-monitoring-2026-03-001"])
    assert not asked <= beginnings(["Groundwater-monitoring-2026-03-002"])


@given(st.text(max_size=40))
def test_every_text_is_found_by_itself_and_by_how_it_begins(text):
    begins = beginnings([text])
    assert set(asked_words(text)) <= begins
    assert all(0 < len(word) <= LONGEST and not word.startswith("@") for word in begins)
    for token in folded(text).split():
        assert set(asked_words(token[:3])) <= begins


def test_a_number_is_found_whole_by_its_beginning_and_as_it_is_printed(submitter, group, rulebook):
    made = draft(submitter, group, rulebook, title="Otter")
    number = made.number
    for asked in (
        number,
        number.lower(),
        number[:5],
        f"{number[:4]} {number[4:]}",
        f"{number[:4]}-{number[4:]}",
    ):
        assert found(asked, submitter) == ["Otter"], asked
    assert found(number[4:], submitter) == []


# Kept by the actions


def holds_what_stands() -> bool:
    kept: dict[int, set[str]] = {}
    for key, word in SearchWord.objects.values_list("consignment", "word"):
        kept.setdefault(key, set()).add(word)
    return kept == words_of(Consignment.objects.values_list("pk", flat=True))


def found(text, user, rows=None, group=None) -> list[str]:
    rows = Consignment.objects.visible_to(user) if rows is None else rows
    keys = search(rows, text, user, Group.objects.visible_to(user), group).keys
    titles = Consignment.objects.in_bulk(keys)
    return [titles[key].title for key in keys]


def test_words_follow_every_change(submitter, manager, reception, group, other_group, rulebook):
    made = draft(submitter, group, rulebook, sample("Reed 7"), sample("Reed 8", site="Mill"), title="Spring")
    assert found("reed 8 mill", submitter) == ["Spring"]
    enter_samples(made, [sample("Reed 9")], by=submitter, at=ENTERED, version=made.version)
    assert found("reed mill", submitter) == []
    assert found("reed 9", submitter) == ["Spring"]
    made.refresh_from_db()
    amend_consignment(made, by=submitter, at=ENTERED, version=made.version, changes={"title": "Late summer"})
    assert found("spring", submitter) == []
    assert found("sum", submitter) == ["Late summer"]
    assert holds_what_stands()


def test_a_group_is_found_by_the_name_it_has_now(submitter, manager, group, rulebook):
    sent(submitter, group, rulebook, title="Autumn")
    rename_group(group=group, by=manager, at=ENTERED, name="Heron watch", zone=group.zone)
    assert found("heron autumn", manager) == ["Autumn"]
    assert found("watch", submitter) == ["Autumn"]


def test_naming_a_group_moves_the_words(submitter, manager, reception, group, rulebook):
    unknown = unknown_group()
    made = draft(manager, unknown, rulebook, title="Came by itself")
    Consignment.objects.filter(pk=made.pk).update(state="received")
    made.refresh_from_db()
    assert found("came", submitter) == []
    name_group(made, by=reception, at=ENTERED, group=group)
    assert found("came", submitter) == ["Came by itself"]
    assert holds_what_stands()


# Seen


def test_nobody_finds_what_is_not_theirs(submitter, stranger, reception, group, other_group, rulebook):
    draft(submitter, group, rulebook, title="Otter")
    sent(stranger, other_group, rulebook, title="Otters")
    assert found("otter", submitter) == ["Otter"]
    assert found("otter", stranger) == ["Otters"]
    assert found("otter", reception) == ["Otters"], "drafts are their group's own"
    assert found(group.name, stranger) == []


def test_the_newest_come_first_and_it_says_that_there_are_more(
    monkeypatch, client, submitter, manager, group, other_group, rulebook
):
    monkeypatch.setattr(searching, "SHOWN", 2)
    monkeypatch.setattr(searching, "LOOKED_THROUGH", 4)
    for count in range(4):
        draft(submitter, group, rulebook, title=f"Otter {count}")
    assert found("otter", submitter) == ["Otter 3", "Otter 2"]
    assert search(Consignment.objects.all(), "otter", manager, []).more
    assert not search(Consignment.objects.all(), "otter 1", manager, []).more
    for count in range(4, 9):
        draft(manager, other_group, rulebook, title=f"Otter {count}")
    assert found("otter 1", manager) == ["Otter 1"], "a rare word finds what lies far back"
    assert found("otter", submitter) == ["Otter 3", "Otter 2"], "others' newer ones hide nothing"
    assert found("otter", manager, group=group, rows=Consignment.objects.filter(group=group)) == [
        "Otter 3",
        "Otter 2",
    ]
    client.force_login(manager)
    assert "the newest that fit" in client.get(reverse("intake:consignments"), {"q": "otter"}).text
    assert "the newest that fit" not in client.get(reverse("intake:consignments"), {"q": "otter 1"}).text
    old = Consignment.objects.filter(title="Otter 0")
    old.update(state="withdrawn")
    far = client.get(reverse("intake:consignments"), {"q": "otter", "state": "withdrawn"}).text
    assert "none of the newest fits" in far


def test_a_bottle_number_goes_straight_to_the_bottle(client, submitter, stranger, group, rulebook):
    made = draft(submitter, group, rulebook, sample())
    number = made.bottles.first().number
    listed = reverse("intake:consignments")
    client.force_login(submitter)
    answer = client.get(listed, {"q": f"{number[:4]} {number[4:]}".lower()})
    assert answer.url == reverse("intake:bottle", args=[number])
    client.force_login(stranger)
    assert client.get(listed, {"q": number}).status_code == 200


# Cost


def plans(queries) -> str:
    with connection.cursor() as cursor:
        told = []
        for asked in queries:
            cursor.execute(f"EXPLAIN QUERY PLAN {asked['sql']}")
            told += [row[3] for row in cursor.fetchall()]
    return "\n".join(told)


@pytest.mark.skipif(connection.vendor != "sqlite", reason="The plan is told in SQLite's words.")
@pytest.mark.parametrize("text", ["reed", "reed mill", "r"])
@pytest.mark.parametrize("who", ["manager", "submitter", "reception"])
def test_a_search_reads_indexes_only(request, who, text, submitter, group, rulebook):
    draft(submitter, group, rulebook, sample("Reed 7", site="Mill"))
    person = request.getfixturevalue(who)
    rows = Consignment.objects.visible_to(person)
    with CaptureQueriesContext(connection) as queries:
        search(rows, text, person, Group.objects.visible_to(person))
    assert len(queries) == 3
    plan = plans(query for query in queries if "searchword" in query["sql"])
    assert "SCAN intake_consignment" not in plan
    assert "SCAN intake_sample" not in plan
    assert "SCAN intake_searchword" not in plan
    assert "SEARCH intake_searchword USING COVERING INDEX" in plan


@pytest.mark.skipif(connection.vendor != "postgresql", reason="The plan is told in PostgreSQL's words.")
def test_a_search_can_do_without_reading_all_words(manager, submitter, group, rulebook):
    """With tables of a few rows PostgreSQL reads them through, unless told to look for another way."""
    draft(submitter, group, rulebook, sample("Reed 7", site="Mill"))
    with CaptureQueriesContext(connection) as queries:
        search(Consignment.objects.visible_to(manager), "reed mill", manager, Group.objects.all())
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL enable_seqscan = off")
        for asked in (query["sql"] for query in queries if "searchword" in query["sql"]):
            cursor.execute(f"EXPLAIN {asked}")
            plan = "\n".join(row[0] for row in cursor.fetchall())
            assert "search_word_once" in plan
            assert "Seq Scan on intake_searchword" not in plan


@pytest.mark.parametrize("who", ["manager", "submitter", "reception"])
@pytest.mark.parametrize("asked", [{}, {"q": "reed mill"}, {"q": "nowhere"}])
def test_the_list_asks_little(request, client, who, asked, submitter, group, rulebook):
    for count in range(3):
        sent(submitter, group, rulebook, sample(f"Reed {count}", site="Mill"))
    client.force_login(request.getfixturevalue(who))
    listed = reverse("intake:consignments")
    client.get(listed)
    with CaptureQueriesContext(connection) as queries:
        client.get(listed, asked)
    assert len(queries) <= 8


def test_saving_again_writes_no_words(submitter, group, rulebook):
    made = draft(submitter, group, rulebook, sample("Reed 7"))
    before = list(SearchWord.objects.order_by("pk").values_list("pk", flat=True))
    entry = sample("Reed 7", ph=6.1, collected_at=COLLECTED)
    enter_samples(made, [entry], by=submitter, at=ENTERED, version=made.version)
    assert list(SearchWord.objects.order_by("pk").values_list("pk", flat=True)) == before
    assert Sample.objects.get(own_id="Reed 7").ph == 6.1


def test_the_migration_finds_what_stood_before(submitter, stranger, group, other_group, rulebook):
    draft(submitter, group, rulebook, sample("Reed 7", site="Mühle"), sample("Reed 8"), title="Spring")
    sent(stranger, other_group, rulebook, title="Autumn")
    SearchWord.objects.all().delete()
    migration = import_module("intake.migrations.0025_search_words")
    migration.find_what_stands(apps, SimpleNamespace(connection=connection))
    assert SearchWord.objects.exists()
    assert holds_what_stands()


@pytest.mark.skipif(connection.vendor != "sqlite", reason="The plan is told in SQLite's words.")
@pytest.mark.parametrize(
    ("who", "page"),
    [
        ("manager", "/consignments/"),
        ("reception", "/consignments/"),
        ("manager", "/consignments/?sort=next_due"),
        ("reception", "/reception/"),
        ("reception", "/reception/?q=reed"),
        ("reception", "/questions/"),
        ("reception", "/storage/"),
        ("reception", "/storage/discard/"),
        ("manager", "/overview/"),
    ],
)
def test_lists_read_what_stands_now_and_not_the_past(request, client, who, page, submitter, group, rulebook):
    """No table of what comes and stays is read through, but in the order in which a page shows it."""
    sent(submitter, group, rulebook, sample("Reed 7", site="Mill"))
    count_months(span_of(timezone.now(), settings.TIME_ZONE), at=timezone.now())
    client.force_login(request.getfixturevalue(who))
    client.get(page)
    with CaptureQueriesContext(connection) as queries:
        assert client.get(page).status_code == 200
    # Taking the first few in order walks an index; counting all there are reads nothing else.
    orderly = r"consignment USING (COVERING INDEX|INDEX consignment_newest)|arrival_on_the_bench"
    for line in plans(queries).splitlines():
        grows = re.search(r"SCAN intake_(consignment|sample|bottle|clockrow|arrival|findingrow)\b", line)
        assert not grows or re.search(orderly, line), line


def test_another_order_is_made_of_the_newest(monkeypatch, client, manager, submitter, group, rulebook):
    monkeypatch.setattr(consignment_views, "PUT_IN_ORDER", 2)
    for title in "ABC":
        draft(submitter, group, rulebook, title=f"Otter {title}")
    client.force_login(manager)
    listed = reverse("intake:consignments")
    page = client.get(listed, {"sort": "title"}).text
    assert page.index("Otter B") < page.index("Otter C")
    assert "Otter A" not in page
    assert "The newest 2 are put in this order" in page
    assert "Otter A" in client.get(listed).text
    assert "Otter A" in client.get(listed, {"q": "otter a", "sort": "title"}).text
