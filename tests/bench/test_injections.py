"""Injections back from a run: as planned, by hand, from lists of every kind; what is refused."""

from datetime import datetime, timedelta
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import Workbook

from intake.errors import AlreadyDone, EntryProblem, MoveNotAllowed, NotPermitted, SomebodyWasFaster
from intake.models import ClockRow, Injection
from labqueue.actions import injections
from labqueue.injectionlist import MOST_ROWS, Entry, Matcher, read_list
from labqueue.models import ColumnMatch, Place, Run
from tests.bench.bench import again
from tests.factories import RECEIVED

pytestmark = pytest.mark.django_db
NEXT_DAY = RECEIVED + timedelta(hours=30)


def sample_places(run):
    return [place for place in injections.all_places(run) if place.kind == "sample"]


def csv_of(run, *, shift=timedelta(0), heading="Nr;Flasche;Zeit"):
    lines = [heading]
    for place in injections.all_places(run):
        number = place.bottle.number if place.bottle else ""
        lines.append(f"{place.position};{number};{place.planned_at + shift:%Y-%m-%d %H:%M}")
    return "\n".join(lines).encode()


MATCHING = {"place": "Nr", "bottle": "Flasche", "moment": "Zeit"}


def checked(run, data, at=NEXT_DAY, matching=MATCHING):
    read = read_list(data)
    entries, faults = Matcher(read.headings, matching, "UTC").read(read.rows, injections.all_places(run))
    good, refused = injections.check_entries(entries, injections.window_of(run), at, "UTC")
    return good, [*faults, *refused]


def test_all_as_planned_stops_every_clock_at_its_own_moment(started, manager):
    places = sample_places(started)
    count, over = injections.enter_as_planned(started, by=manager, at=NEXT_DAY, version=1, zone="UTC")
    assert (count, over) == (len(places), True)
    for place in places:
        stops = set(ClockRow.objects.filter(bottle=place.bottle).values_list("stopped_at", flat=True))
        assert stops == {place.planned_at}
    assert {bottle.state for bottle in again([place.bottle for place in places])} == {"measured"}
    assert Run.objects.get(pk=started.pk).state == "done"


def test_only_what_was_due_by_now_went_in(started, manager):
    first, second = sample_places(started)[:2]
    count, over = injections.enter_as_planned(started, by=manager, at=first.planned_at, version=1, zone="UTC")
    assert (count, over) == (1, False)
    second.refresh_from_db()
    assert second.awaiting
    with pytest.raises(EntryProblem, match="No injection of this run is due yet"):
        injections.enter_as_planned(started, by=manager, at=first.planned_at, version=2, zone="UTC")


def test_nothing_is_entered_for_a_run_that_has_not_started(planned, manager):
    with pytest.raises(MoveNotAllowed, match="Note its start first"):
        injections.enter_as_planned(planned, by=manager, at=NEXT_DAY, version=0, zone="UTC")


def test_only_the_manager_enters_injections(started, reception):
    place = sample_places(started)[0]
    with pytest.raises(NotPermitted):
        injections.enter_injections(
            started, [Entry(1, place, place.planned_at)], by=reception, at=NEXT_DAY, version=1, zone="UTC"
        )


def test_the_same_injections_are_entered_once_on_the_version_read(started, manager):
    place, other = sample_places(started)[:2]
    common = {"by": manager, "at": NEXT_DAY, "zone": "UTC"}
    injections.enter_injections(started, [Entry(1, place, place.planned_at)], version=1, token="t", **common)
    with pytest.raises(AlreadyDone):
        injections.enter_injections(
            started, [Entry(1, other, other.planned_at)], version=2, token="t", **common
        )
    with pytest.raises(SomebodyWasFaster):
        injections.enter_injections(started, [Entry(1, other, other.planned_at)], version=1, **common)
    assert Injection.objects.count() == 1


def test_a_list_that_cannot_be_undoes_all_of_itself(started, manager):
    place, other = sample_places(started)[:2]
    entries = [Entry(1, place, place.planned_at), Entry(2, other, started.started_at - timedelta(hours=1))]
    with pytest.raises(EntryProblem, match="outside this run"):
        injections.enter_injections(started, entries, by=manager, at=NEXT_DAY, version=1, zone="UTC")
    assert not Injection.objects.exists()
    assert Place.objects.filter(awaiting=True).count() == 5


def test_a_wrong_injection_is_taken_back(started, manager):
    injections.enter_as_planned(started, by=manager, at=NEXT_DAY, version=1, zone="UTC")
    place = sample_places(started)[0]
    place.run = started
    injections.void_place(place, by=manager, at=NEXT_DAY, version=started.version, reason="wrong vial")
    assert again([place.bottle])[0].state == "ready"
    assert not ClockRow.objects.filter(bottle=place.bottle, stopped_at__isnull=False).exists()
    place.refresh_from_db()
    with pytest.raises(MoveNotAllowed):
        injections.void_place(place, by=manager, at=NEXT_DAY, version=started.version, reason="again")


def test_a_list_is_read_by_matched_columns_and_blanks_are_passed_over(started):
    good, faults = checked(started, csv_of(started))
    assert [entry.place for entry in good] == sample_places(started)
    assert [entry.at for entry in good] == [place.planned_at for place in sample_places(started)]
    assert faults == []


@pytest.mark.parametrize(
    "matching", [{"place": "Nr", "moment": "Zeit"}, {"bottle": "Flasche", "moment": "Zeit"}]
)
def test_place_or_bottle_alone_will_do(started, matching):
    good, _faults = checked(started, csv_of(started), matching=matching)
    assert {entry.place.pk for entry in good} == {place.pk for place in sample_places(started)}


def test_a_workbook_reads_like_the_csv(started):
    workbook = Workbook()
    workbook.active.append(["Nr", "Flasche", "Zeit"])
    for place in sample_places(started):
        moment = place.planned_at.replace(tzinfo=None)
        workbook.active.append([place.position, place.bottle.number, moment])
    data = BytesIO()
    workbook.save(data)
    good, faults = checked(started, data.getvalue())
    assert [entry.at for entry in good] == [place.planned_at for place in sample_places(started)]
    assert faults == []


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        ("{p};{b};", "no moment"),
        ("{p};{b};yesterday", "not a date with a time"),
        ("{p};{b};2026-03-04", "not a date with a time"),
        ("{p};{b};3/4/2026 10:00", ""),
        ("999;;2026-03-04 10:00", "not on this run"),
        ("{p};B2345678;2026-03-04 10:00", "not on this run"),
        ("{p};{other};2026-03-04 10:00", "holds bottle"),
        ("{p};{b};2026-03-03 01:00", "outside this run"),
        ("{p};{b};2026-05-03 10:00", "outside this run"),
        (";;2026-03-04 10:00", "names no place"),
    ],
)
def test_rows_that_cannot_be_are_told_with_their_number(started, row, sentence):
    place, other = sample_places(started)[:2]
    text = row.format(p=place.position, b=place.bottle.number, other=other.bottle.number)
    good, (fault,) = checked(started, f"Nr;Flasche;Zeit\n{text}\n".encode())
    assert good == []
    assert fault.row == 2
    assert sentence in fault.sentence


def test_a_moment_that_has_not_come_is_refused(started):
    first = sample_places(started)[0]
    _good, faults = checked(started, csv_of(started), at=first.planned_at - timedelta(minutes=1))
    assert len(faults) == len(sample_places(started))
    assert all("has not come yet" in fault.sentence for fault in faults)


def test_a_place_named_twice_is_refused_the_second_time(started):
    data = csv_of(started)
    twice = data + b"\n" + data.split(b"\n", 1)[1]
    good, faults = checked(started, twice)
    assert len(good) == len(faults) == len(sample_places(started))
    assert all("twice" in fault.sentence for fault in faults)


def test_two_moments_for_one_place_are_both_refused(started):
    first, *others = sample_places(started)
    lines = csv_of(started).decode().splitlines()
    lines.append(f"{first.position};;{first.planned_at + timedelta(minutes=9):%Y-%m-%d %H:%M}")
    good, faults = checked(started, "\n".join(lines).encode())
    assert [entry.place.pk for entry in good] == [place.pk for place in others]
    assert [
        f"another moment in row {row}" in fault.sentence
        for fault, row in zip(faults, (len(lines), 1 + first.position), strict=True)
    ] == [True, True]


def test_before_the_receipt_is_told_where_the_run_had_begun(started):
    """A tray that was topped up: the run goes on, the bottle came later than the row says."""
    place = sample_places(started)[0]
    arrival = place.bottle.arrival
    arrival.received_at = place.planned_at + timedelta(minutes=5)
    arrival.save(update_fields=["received_at"])
    good, faults = checked(started, csv_of(started))
    assert len(good) + len(faults) == len(sample_places(started))
    assert any("before the bottle was received" in fault.sentence for fault in faults)


def test_a_bottle_named_alone_goes_to_its_places_in_order(started):
    """The duplicate of a bottle has a row of its own, which is passed over; a repeat takes the later one."""
    place = sample_places(started)[0]
    last = sample_places(started)[-1]
    repeat = Place.objects.create(
        run=started,
        position=last.position + 20,
        kind="sample",
        sample=99,
        bottle=place.bottle,
        planned_at=last.planned_at,
    )
    first, later = place.planned_at, last.planned_at
    rows = f"Flasche;Zeit\n{place.bottle.number};{later:%Y-%m-%d %H:%M}\n"
    only = {"bottle": "Flasche", "moment": "Zeit"}
    good, _faults = checked(started, rows.encode(), matching=only)
    assert [entry.place for entry in good] == [place]
    rows += f"{place.bottle.number};{first:%Y-%m-%d %H:%M}\n"
    read = read_list(rows.encode())
    entries, _ = Matcher(read.headings, only, "UTC").read(read.rows, injections.all_places(started))
    theirs = {entry.place: entry.at for entry in entries}
    bottles_places = [found for found in injections.all_places(started) if found.bottle == place.bottle]
    if len(bottles_places) == 2:
        assert theirs == {place: first, repeat: later}
    else:  # with its duplicate there are more places than rows
        assert theirs[place] == first


def test_a_midnight_from_a_workbook_keeps_its_clock(started):
    workbook = Workbook()
    workbook.active.append(["Nr", "Zeit"])
    workbook.active.append([1, datetime(2026, 3, 4, 0, 0)])
    workbook.active.append([2, datetime(2026, 3, 4, 19, 39, 59, 999_990)])
    out = BytesIO()
    workbook.save(out)
    assert [texts[1] for _number, texts in read_list(out.getvalue()).rows] == [
        "2026-03-04 00:00:00",
        "2026-03-04 19:40:00",
    ]


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "empty"),
        (b"Nr;Zeit\n", "No rows"),
        (b"\x00\x01\x02", "neither a CSV file nor a workbook"),
        (b"PK\x03\x04 not a workbook", "damaged"),
        (b"Nr;Zeit\n" + b"1;2026-03-04 10:00\n" * 50_000, f"more than {MOST_ROWS:,} rows"),
    ],
)
def test_files_that_cannot_be_read_are_refused_politely(data, sentence):
    with pytest.raises(Exception, match=sentence) as refusal:
        read_list(data)
    assert refusal.value.sentence


def upload(client, run, data, name="list.csv"):
    return client.post(
        reverse("labqueue:injections_upload", args=[run.number]),
        {"file": SimpleUploadedFile(name, data), "version": run.version, "token": ""},
    )


def test_an_import_from_upload_to_remembered_columns(started, manager, signed_in, monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NEXT_DAY)
    client = signed_in(manager)
    page = upload(client, started, csv_of(started))["Location"]
    assert client.get(page).context["form"].is_bound is False
    sent = {
        "place": "Nr",
        "bottle": "Flasche",
        "moment": "Zeit",
        "moments_of": "UTC",
        "name": "Old unit",
        "version": started.version,
        "token": "t",
    }
    looked = client.post(page, sent)
    assert looked.status_code == 200
    assert len(looked.context["good"]) == 5
    assert not Injection.objects.exists()
    assert client.post(page, {**sent, "enter": "1"}).status_code == 302
    assert Injection.objects.count() == 5
    assert ColumnMatch.objects.get().headings == MATCHING
    Run.objects.filter(pk=started.pk).update(state="running")
    again_page = upload(client, started, csv_of(started))["Location"]
    answer = client.get(again_page)
    assert len(answer.context["faults"]) == 5
    assert "entered already" in answer.content.decode()


def test_fifty_thousand_rows_are_refused_on_the_page(started, manager, signed_in):
    answer = upload(signed_in(manager), started, b"Nr;Zeit\n" + b"1;2026-03-04 10:00\n" * 50_000)
    assert answer.status_code == 422
    assert "a few hundred injections at most" in answer.content.decode()


def test_what_another_person_staged_is_not_there(started, manager, person, signed_in, monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NEXT_DAY)
    page = upload(signed_in(manager), started, csv_of(started))["Location"]
    other = signed_in(person("Olga Other", "manager"))
    assert other.get(page).status_code == 404


def test_one_injection_by_hand(started, manager, signed_in, monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NEXT_DAY)
    client = signed_in(manager)
    place = sample_places(started)[0]
    page = reverse("labqueue:injection_hand", args=[started.number, place.position])
    assert client.get(page).status_code == 200
    sent = {"version": started.version, "token": "t"}
    assert client.post(page, {**sent, "injected_at": "soon"}).status_code == 422
    moment = f"{place.planned_at:%Y-%m-%dT%H:%M}"
    assert client.post(page, {**sent, "injected_at": moment}).status_code == 302
    assert Injection.objects.get().at == place.planned_at
