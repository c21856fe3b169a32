"""The calendar somebody subscribes to: held to RFC 5545 line by line, and read by another reader."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta

import pytest
import vobject
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from intake import record
from intake.actions import calendars
from intake.agenda import agenda_of
from intake.errors import AlreadyDone, MoveNotAllowed
from intake.models import Bottle, CalendarAddress, ClockRow, Consignment, DateRequest, RecordEntry
from tests.factories import ENTERED, draft, sent
from tests.views.pages import hidden_of, text_of

pytestmark = pytest.mark.django_db

THURSDAY = date(2026, 3, 5)
UTC_MOMENT = re.compile(r"\d{8}T\d{6}Z")


@pytest.fixture(autouse=True)
def _today(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: ENTERED)


def agreed(consignment, **changes) -> DateRequest:
    given_ = {
        "day": THURSDAY,
        "anion_bottles": 3,
        "state": "agreed",
        "changed_at": ENTERED,
        "changed_by": consignment.created_by,
        "version": 4,
    }
    return DateRequest.objects.create(consignment=consignment, **given_ | changes)


def lines_of(feed: bytes) -> list[str]:
    """Content lines of ``feed``, after holding it to RFC 5545 3.1: CRLF only, 75 octets, folding."""
    assert feed.endswith(b"\r\n")
    rows = feed[:-2].split(b"\r\n")
    for row in rows:
        assert len(row) <= 75, row
        assert b"\r" not in row and b"\n" not in row
        assert not re.search(rb"[\x00-\x08\x0b-\x1f\x7f]", row)
        row.lstrip(b" ").decode()  # no character is cut by folding
    unfolded: list[bytes] = []
    for row in rows:
        if row.startswith((b" ", b"\t")):
            unfolded[-1] += row[1:]
        else:
            unfolded.append(row)
    return [row.decode() for row in unfolded]


def check_rfc(feed: bytes) -> list[dict[str, str]]:
    """The entries of ``feed``; each has what RFC 5545 3.6.1 asks of a published event, once."""
    lines = lines_of(feed)
    assert (lines[0], lines[-1]) == ("BEGIN:VCALENDAR", "END:VCALENDAR")
    head = lines[: lines.index("BEGIN:VEVENT")] if "BEGIN:VEVENT" in lines else lines
    assert head.count("VERSION:2.0") == 1
    assert sum(line.startswith("PRODID:") for line in head) == 1
    entries: list[dict[str, str]] = []
    inside = False
    for line in lines:
        if line == "BEGIN:VEVENT":
            entries.append({})
            inside = True
        elif line == "END:VEVENT":
            inside = False
        elif inside:
            name, _colon, value = line.partition(":")
            assert name.partition(";")[0] not in entries[-1], f"twice: {name}"
            entries[-1][name.partition(";")[0]] = value
    for entry in entries:
        assert {"UID", "DTSTAMP", "SEQUENCE", "SUMMARY", "DTSTART"} <= set(entry)
        assert UTC_MOMENT.fullmatch(entry["DTSTAMP"])
        assert entry["SEQUENCE"].isdigit()
        assert re.fullmatch(r"\d{8}(T\d{6}Z)?", entry["DTSTART"])
        # RFC 5545 3.3.11: commas, semicolons and backslashes of TEXT are escaped.
        assert not re.search(r"(?<!\\)(?:\\\\)*[,;]", entry["SUMMARY"])
    assert len({entry["UID"] for entry in entries}) == len(entries)
    return entries


def test_an_agreed_day_stands_in_the_calendar(submitter, group, rulebook):
    consignment = sent(submitter, group, rulebook, title="Weir; spring, part 1\\2")
    date_ = agreed(consignment)
    (entry,) = check_rfc(agenda_of(submitter, ENTERED))
    assert entry["UID"].startswith(f"day-{date_.pk}@")
    assert entry["SUMMARY"] == "Analysis: Reedmoor hydrology\\, Weir\\; spring\\, part 1\\\\2"
    assert (entry["DTSTART"], entry["DTEND"]) == ("20260305", "20260306")
    assert (entry["SEQUENCE"], entry["DTSTAMP"]) == ("4", "20260303T100000Z")


def test_another_reader_reads_the_same(submitter, group, rulebook):
    title = "Ünïcode überall, ein sehr langer Titel; damit gefaltet wird — 水質調査の長い題名 " * 2
    agreed(sent(submitter, group, rulebook, title=title.strip()))
    read = vobject.readOne(agenda_of(submitter, ENTERED).decode())
    assert read.vevent.summary.value == f"Analysis: Reedmoor hydrology, {title.strip()}"
    assert read.vevent.dtstart.value == THURSDAY
    assert read.vevent.dtstamp.value == ENTERED


def test_only_agreed_days_of_consignments_in_sight(submitter, stranger, manager, group, rulebook):
    agreed(sent(submitter, group, rulebook, title="ours"))
    for state in ("asked", "proposed", "declined"):
        agreed(draft(submitter, group, rulebook), state=state)
    gone = draft(submitter, group, rulebook)
    agreed(gone)
    Consignment.objects.filter(pk=gone.pk).update(state="withdrawn")
    long_ago = agreed(draft(submitter, group, rulebook), day=date(2025, 1, 1))
    assert len(check_rfc(agenda_of(submitter, ENTERED))) == 1
    assert len(check_rfc(agenda_of(manager, ENTERED))) == 1
    assert check_rfc(agenda_of(stranger, ENTERED)) == []
    assert f"day-{long_ago.pk}@" not in agenda_of(manager, ENTERED).decode()


def waiting(submitter, group, rulebook, due: dict[str, datetime], title: str = "Weir survey") -> Consignment:
    """A consignment whose bottles wait, their clocks due as told by ion."""
    consignment = sent(submitter, group, rulebook, title=title)
    Bottle.objects.filter(consignment=consignment).update(state="ready")
    ClockRow.objects.filter(bottle__consignment=consignment).update(stopped_at=ENTERED)
    for ion, moment in due.items():
        ClockRow.objects.filter(bottle__consignment=consignment, ion=ion).update(
            stopped_at=None, due_at=moment
        )
    return consignment


def test_managers_see_when_clocks_are_due_by_consignment_and_hour(submitter, manager, group, rulebook):
    hour = datetime(2026, 3, 5, 8, 0, tzinfo=UTC)
    one = waiting(
        submitter,
        group,
        rulebook,
        {
            "nitrate": hour + timedelta(minutes=40),
            "sodium": hour + timedelta(minutes=20),
            "chloride": hour + timedelta(minutes=60),
        },
    )
    waiting(submitter, group, rulebook, {"nitrate": hour}, title="Other")
    entries = check_rfc(agenda_of(manager, ENTERED))
    assert [(entry["DTSTART"], entry["SUMMARY"]) for entry in entries] == [
        ("20260305T080000Z", "Due: Reedmoor hydrology\\, Other (1 bottle)"),
        ("20260305T082000Z", "Due: Reedmoor hydrology\\, Weir survey (2 bottles)"),
        ("20260305T090000Z", "Due: Reedmoor hydrology\\, Weir survey (1 bottle)"),
    ]
    assert entries[1]["UID"].startswith(f"due-{one.pk}-2026030508@")
    assert check_rfc(agenda_of(submitter, ENTERED)) == []


def test_uids_stay_and_sequences_rise(submitter, manager, group, rulebook):
    moment = datetime(2026, 3, 5, 8, 10, tzinfo=UTC)
    one = waiting(submitter, group, rulebook, {"nitrate": moment})
    (before,) = check_rfc(agenda_of(manager, ENTERED))
    last = RecordEntry.objects.filter(consignment=one).order_by("-position").first()
    record.write(by=manager, at=ENTERED + timedelta(hours=1), verb="test.act", subject=one, consignment=one)
    (after,) = check_rfc(agenda_of(manager, ENTERED))
    assert after["UID"] == before["UID"]
    assert int(after["SEQUENCE"]) == int(before["SEQUENCE"]) + 1 == last.position + 1
    assert after["DTSTAMP"] == "20260303T110000Z"


def test_nothing_but_group_title_and_number_is_told(submitter, manager, group, rulebook):
    one = waiting(submitter, group, rulebook, {"nitrate": datetime(2026, 3, 5, 8, tzinfo=UTC)})
    agreed(one, note="secret note")
    told = agenda_of(manager, ENTERED).decode()
    for secret in ("S1", "Lower weir", "nitrate", "secret note", submitter.name, submitter.email):
        assert secret not in told


def test_the_calendar_takes_four_queries(submitter, manager, group, rulebook, django_assert_max_num_queries):
    for number in range(12):
        agreed(waiting(submitter, group, rulebook, {"nitrate": ENTERED + timedelta(hours=number)}))
    with django_assert_max_num_queries(4):
        assert len(check_rfc(agenda_of(manager, ENTERED))) == 24


def test_the_address_needs_no_session_and_keeps_its_secret(client, signed_in, submitter, group, rulebook):
    agreed(sent(submitter, group, rulebook))
    mine = signed_in(submitter)
    page = mine.get("/profile/calendar/")
    shown = mine.post("/profile/calendar/", {"act": "make", "token": hidden_of(page, "token")})
    path = re.search(r"/calendar/[\w-]+\.ics", shown.content.decode()).group()
    assert len(path.removeprefix("/calendar/").removesuffix(".ics")) == 43  # 256 bits in base 64
    feed = client.get(path)
    assert feed.status_code == 200
    assert feed["Content-Type"] == "text/calendar; charset=utf-8"
    assert feed["Cache-Control"] == "no-store"
    assert not feed.cookies
    assert len(check_rfc(feed.content)) == 1
    stored = CalendarAddress.objects.get().token_digest
    assert re.fullmatch(r"[0-9a-f]{64}", stored)
    assert path not in mine.get("/profile/calendar/").content.decode()
    for entry in RecordEntry.objects.filter(verb__startswith="calendar."):
        assert path.removeprefix("/calendar/").removesuffix(".ics") not in str(entry.after)
    assert client.post(path).status_code == 405


def test_renewed_and_switched_off(client, submitter):
    first = calendars.make_address(by=submitter, at=ENTERED, token="one")
    assert calendars.reader_of(first) == submitter
    with pytest.raises(AlreadyDone):
        calendars.make_address(by=submitter, at=ENTERED, token="one")
    assert calendars.reader_of(first) == submitter
    second = calendars.make_address(by=submitter, at=ENTERED)
    assert client.get(f"/calendar/{first}.ics").status_code == 404
    assert client.get(f"/calendar/{second}.ics").status_code == 200
    calendars.switch_off_address(by=submitter, at=ENTERED)
    assert client.get(f"/calendar/{second}.ics").status_code == 404
    with pytest.raises(MoveNotAllowed):
        calendars.switch_off_address(by=submitter, at=ENTERED)
    told = list(RecordEntry.objects.order_by("position").values_list("verb", flat=True))
    assert told[-3:] == ["calendar.make", "calendar.renew", "calendar.off"]


def test_who_may_no_longer_sign_in_has_no_calendar(client, submitter):
    secret = calendars.make_address(by=submitter, at=ENTERED)
    submitter.is_active = False
    submitter.save()
    assert client.get(f"/calendar/{secret}.ics").status_code == 404


def test_the_pages_of_ones_calendar(client, signed_in, submitter):
    assert client.get("/profile/calendar/").status_code == 302
    mine = signed_in(submitter)
    assert "/profile/calendar/" in mine.get("/profile/").content.decode()
    page = mine.get("/profile/calendar/")
    assert "You have no address yet." in text_of(page)
    given_ = {"act": "make", "token": hidden_of(page, "token")}
    mine.post("/profile/calendar/", given_)
    again = mine.post("/profile/calendar/", given_)
    assert again.status_code == 409
    page = mine.get("/profile/calendar/")
    off = mine.post("/profile/calendar/", {"act": "off", "token": hidden_of(page, "token")}, follow=True)
    assert "Switched off." in text_of(off)
    assert not CalendarAddress.objects.exists()


def test_wrong_addresses_are_not_found(client, db):
    for secret in ("x", "0" * 43, "%00", "..", "a" * 3000):
        assert client.get(f"/calendar/{secret}.ics").status_code == 404


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(title=st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=120))
@example(title="a\rb\nc\r\nd\x0b\x85\u2028e\x00")
@example(title="BEGIN:VEVENT\r\nUID:x")
@example(title="水" * 40)
def test_any_title_is_kept_to_the_standard(submitter, group, rulebook, title):
    DateRequest.objects.all().delete()
    consignment = draft(submitter, group, rulebook)
    # Forms refuse NUL, and PostgreSQL stores none.
    Consignment.objects.filter(pk=consignment.pk).update(title=title.replace("\0", " "))
    agreed(consignment)
    (entry,) = check_rfc(agenda_of(submitter, ENTERED))
    assert entry["SUMMARY"].startswith("Analysis: Reedmoor hydrology\\, ")
