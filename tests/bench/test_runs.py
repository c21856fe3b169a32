"""A run at the bench: tray, start, failure, repeat, cancelling, its list as a file."""

import csv
from datetime import timedelta
from io import BytesIO, StringIO

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from intake.errors import AlreadyDone, EntryProblem, MoveNotAllowed, NotPermitted, SomebodyWasFaster
from intake.models import RecordEntry, Sample
from intake.sheets import plaintable
from labqueue import runlist
from labqueue.actions import injections, running
from labqueue.actions.proposing import propose_plan
from labqueue.drafting import plan_of
from labqueue.models import Place, Run
from tests.bench.bench import again
from tests.factories import RECEIVED

pytestmark = pytest.mark.django_db
NOW = RECEIVED + timedelta(hours=1)
LATER = NOW + timedelta(hours=30)


def states(run):
    return [bottle.state for bottle in again([p.bottle for p in run.places.exclude(sample=None) if p.bottle])]


def sample_places(run):
    return list(run.places.filter(kind="sample").order_by("position"))


def test_only_the_manager_runs_a_run(planned, reception):
    for refused in (
        lambda: running.start_run(planned, by=reception, at=NOW, started_at=NOW, version=0),
        lambda: running.cancel_run(planned, by=reception, at=NOW, version=0, reason="x"),
        lambda: running.check_tray(planned, 9, "x", by=reception, at=NOW),
        lambda: running.fail_run(planned, 1, by=reception, at=NOW, version=0, reason="x"),
    ):
        with pytest.raises(NotPermitted):
            refused()


def test_the_places_move_with_the_real_start(planned, manager):
    before = list(planned.places.values_list("planned_at", flat=True))
    started = planned.planned_start + timedelta(minutes=7)
    at = started + timedelta(minutes=1)
    running.start_run(planned, by=manager, at=at, started_at=started, version=0)
    after = list(planned.places.values_list("planned_at", flat=True))
    assert [new - old for old, new in zip(before, after, strict=True)] == [timedelta(minutes=7)] * len(after)
    assert Run.objects.get(pk=planned.pk).state == "running"
    assert RecordEntry.objects.filter(verb="run.start").count() == 1


@pytest.mark.parametrize("shift", [timedelta(seconds=1), timedelta(hours=-25)])
def test_a_start_that_cannot_be_is_refused(planned, manager, shift):
    with pytest.raises(EntryProblem, match="at most 24 hours back"):
        running.start_run(planned, by=manager, at=LATER, started_at=LATER + shift, version=0)


def test_a_start_is_noted_once_and_on_the_version_read(planned, manager):
    running.start_run(planned, by=manager, at=NOW, started_at=NOW, version=0, token="t")
    with pytest.raises(AlreadyDone):
        running.start_run(planned, by=manager, at=NOW, started_at=NOW, version=0, token="t")
    stale = Run.objects.get(pk=planned.pk)
    stale.state = "planned"
    with pytest.raises(SomebodyWasFaster):
        running.start_run(stale, by=manager, at=NOW, started_at=NOW, version=0)
    with pytest.raises(MoveNotAllowed):
        running.start_run(planned, by=manager, at=NOW, started_at=NOW, version=1)


def test_a_cancelled_run_gives_its_bottles_back(planned, manager):
    with pytest.raises(EntryProblem, match="Say why"):
        running.cancel_run(planned, by=manager, at=NOW, version=0, reason=" ")
    running.cancel_run(planned, by=manager, at=NOW, version=0, reason="eluent is out")
    assert set(states(planned)) == {"ready"}
    assert not Place.objects.filter(awaiting=True).exists()
    with pytest.raises(MoveNotAllowed):
        running.cancel_run(planned, by=manager, at=NOW, version=1, reason="again")


def test_the_tray_is_checked_bottle_by_bottle(planned, manager):
    first, second = sample_places(planned)[:2]
    checked = running.check_tray(
        planned, first.position, f" {first.bottle.number.lower()} ", by=manager, at=NOW
    )
    assert checked.tray_checked_at == NOW
    with pytest.raises(EntryProblem, match=f"belongs on place {second.position}, not {first.position}"):
        running.check_tray(planned, first.position, second.bottle.number, by=manager, at=NOW)
    with pytest.raises(EntryProblem, match="misread"):
        running.check_tray(planned, first.position, "B2345678", by=manager, at=NOW)


def test_a_bottle_of_another_run_is_taken_off_the_tray(planned, manager, ready):
    stray = ready(1)[0]
    with pytest.raises(EntryProblem, match="not on this run"):
        running.check_tray(planned, 9, stray.number, by=manager, at=NOW)


def test_what_comes_after_a_failure_goes_back(started, manager):
    places = sample_places(started)
    back = running.fail_run(
        started, places[2].position, by=manager, at=LATER, version=1, reason="pressure lost"
    )
    assert back == [place.bottle for place in places[2:]]
    assert states(started).count("ready") == len(places) - 2
    assert Run.objects.get(pk=started.pk).state == "running"
    count, over = injections.enter_as_planned(started, by=manager, at=LATER, version=2, zone="UTC")
    assert (count, over) == (2, True)
    assert Run.objects.get(pk=started.pk).state == "done"


def test_a_failure_at_the_first_place_ends_the_run(started, manager):
    running.fail_run(started, 1, by=manager, at=LATER, version=1, reason="no start-up")
    assert set(states(started)) == {"ready"}
    assert Run.objects.get(pk=started.pk).state == "done"


@pytest.mark.parametrize("position", [0, 10_000])
def test_a_failure_at_a_place_that_is_not_there(started, manager, position):
    with pytest.raises(EntryProblem, match="has places 1 to"):
        running.fail_run(started, position, by=manager, at=LATER, version=1, reason="x")


def test_a_failure_before_entered_injections_is_refused_and_changes_nothing(started, manager):
    injections.enter_as_planned(started, by=manager, at=LATER, version=1, zone="UTC")
    started.state = "running"
    Run.objects.filter(pk=started.pk).update(state="running")
    with pytest.raises(EntryProblem, match="entered already"):
        running.fail_run(started, 9, by=manager, at=LATER, version=started.version, reason="x")
    assert set(states(started)) == {"measured"}


def test_a_repeat_is_a_further_place_with_its_own_dilution(started, manager):
    first, *_rest = sample_places(started)
    due = first.planned_at + timedelta(minutes=1)
    injections.enter_as_planned(started, by=manager, at=due, version=1, zone="UTC")
    first.refresh_from_db()
    first.run = started
    further = running.repeat_bottle(first, by=manager, at=due, dilution=10, version=started.version)
    assert further.bottle == first.bottle
    assert (further.dilution, further.awaiting) == (10, True)
    assert further.position == started.places.count()
    assert again([first.bottle])[0].state == "placed"
    with pytest.raises(MoveNotAllowed, match="was injected"):
        running.repeat_bottle(further, by=manager, at=due, dilution=20, version=started.version)


def test_the_list_has_one_line_a_place(planned):
    data = runlist.as_csv(runlist.places_of(planned))
    lines = list(csv.reader(StringIO(data.decode("utf-8-sig"))))
    assert lines[0] == list(runlist.columns())
    assert len(lines) == 1 + planned.places.count()
    assert [line[1] for line in lines[1:]] == list(planned.places.values_list("kind", flat=True))


@pytest.mark.parametrize("nasty", ['=HYPERLINK("x")', "+1", "-1", "@SUM(A1)", "\tx", "\rx"])
def test_no_text_becomes_a_formula(planned, nasty):
    first = sample_places(planned)[0]
    Sample.objects.filter(bottles=first.bottle).update(own_id=nasty)
    Place.objects.filter(kind="sample").update(remark=nasty)
    places = runlist.places_of(planned)
    lines = list(csv.reader(StringIO(runlist.as_csv(places).decode("utf-8-sig"), newline="")))
    assert {line[7] for line in lines[1:] if line[1] == "sample"} == {f"'{nasty}"}
    assert lines[first.position][4] == f"'{nasty}"
    sheet = load_workbook(BytesIO(runlist.as_workbook(planned, places))).active
    kinds = {cell.data_type for row in sheet.iter_rows() for cell in row if cell.value is not None}
    assert kinds <= {"s", "n"}


@given(st.text(max_size=20))
def test_harmless_text_never_begins_like_a_formula(text):
    safe = plaintable.harmless(text)
    assert not safe.startswith(plaintable.DANGEROUS)
    assert safe.endswith(text)


def test_the_pages_of_a_run(planned, manager, signed_in, monkeypatch):
    client = signed_in(manager)
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    page = client.get(reverse("labqueue:run", args=[planned.number]))
    first = sample_places(planned)[0]
    assert first.bottle.number[:4] in page.content.decode()
    for kind in ("csv", "xlsx"):
        file = client.get(reverse("labqueue:run_file", args=[planned.number, kind]))
        assert f"run-{planned.number}.{kind}" in file["Content-Disposition"]
    assert client.get(reverse("labqueue:run_file", args=[planned.number, "pdf"])).status_code == 404
    tray = reverse("labqueue:run_tray", args=[planned.number])
    right = client.post(tray, {"position": first.position, "scanned": first.bottle.number})
    assert right.status_code == 302
    wrong = client.post(tray, {"position": first.position + 1, "scanned": first.bottle.number})
    assert wrong.status_code == 422
    assert "belongs on place" in wrong.content.decode()
    start = reverse("labqueue:run_start", args=[planned.number])
    form = client.get(start).context["form"]
    sent = {
        "version": form["version"].value(),
        "token": "s",
        "started_at": NOW.strftime("%Y-%m-%dT%H:%M"),
    }
    assert client.post(start, sent).status_code == 302
    assert Run.objects.get(pk=planned.pk).started_at == NOW
    fail = reverse("labqueue:run_fail", args=[planned.number])
    form = client.get(fail).context["form"]
    sent = {"version": form["version"].value(), "token": "f", "position": "3", "reason": "stuck"}
    assert client.post(fail, {**sent, "position": "x"}).status_code == 422
    assert client.post(fail, sent).status_code == 302
    assert set(states(planned)) == {"ready"}


def test_the_run_s_page_asks_as_often_for_many_places(planned, manager, signed_in, plan_and_accept, ready):
    client = signed_in(manager)
    ready(12)
    (larger,) = plan_and_accept("Anion 2")
    client.get(reverse("labqueue:bench"))
    counts = []
    for run in (planned, larger):
        with CaptureQueriesContext(connection) as seen:
            assert client.get(reverse("labqueue:run", args=[run.number])).status_code == 200
        counts.append(len(seen))
    assert counts[0] == counts[1]


def injected(run, manager):
    """The same run, injected to its end as planned."""
    at = LATER
    injections.enter_as_planned(run, by=manager, at=at, version=run.version, zone="UTC")
    return Run.objects.get(pk=run.pk)


def test_after_the_run_a_repeat_goes_to_the_queue_and_into_the_next_plan_at_its_dilution(
    started, manager, plan_and_accept
):
    run = injected(started, manager)
    assert run.state == "done"
    place = sample_places(run)[0]
    bottle = running.repeat_later(place, by=manager, at=LATER, dilution=20)
    assert again([bottle])[0].state == "ready"
    assert again([bottle])[0].next_dilution == 20
    (following,) = plan_and_accept("Anion 1", at=LATER)
    (wanted,) = sample_places(following)
    assert (wanted.bottle_id, wanted.dilution, wanted.remark) == (bottle.pk, 20, "repeat")
    at = max(LATER, following.planned_start)
    running.start_run(following, by=manager, at=at, started_at=at, version=0)
    injected_at = at + timedelta(hours=20)
    following.refresh_from_db()
    injections.enter_as_planned(following, by=manager, at=injected_at, version=1, zone="UTC")
    assert again([bottle])[0].next_dilution is None
    assert again([bottle])[0].state == "measured"


def test_a_repeat_is_planned_by_the_limits_of_its_ions(started, manager, plan_and_accept, units):
    run = injected(started, manager)
    running.repeat_later(sample_places(run)[0], by=manager, at=LATER, dilution=5)
    draft = propose_plan([units["Anion 1"]], 3, by=manager, at=LATER)
    (bottle,) = plan_of(draft).problem.bottles
    assert bottle.steps


def test_a_repeat_beyond_the_unit_says_what_is_done_by_hand(started, manager, plan_and_accept):
    run = injected(started, manager)
    running.repeat_later(sample_places(run)[0], by=manager, at=LATER, dilution=200)
    (following,) = plan_and_accept("Anion 1", at=LATER)
    (wanted,) = sample_places(following)
    assert wanted.remark == "repeat; first 1:10 by hand, then 1:20"


def test_a_later_repeat_that_cannot_be_is_refused(started, manager, reception):
    place = sample_places(started)[0]
    with pytest.raises(MoveNotAllowed, match="was injected"):
        running.repeat_later(place, by=manager, at=NOW, dilution=5)
    place = sample_places(injected(started, manager))[0]
    with pytest.raises(EntryProblem, match="1 or more"):
        running.repeat_later(place, by=manager, at=LATER, dilution=0.5)
    with pytest.raises(NotPermitted):
        running.repeat_later(place, by=reception, at=LATER, dilution=5)
    place.refresh_from_db()
    running.repeat_later(place, by=manager, at=LATER, dilution=5)
    with pytest.raises(MoveNotAllowed, match="ready already"):
        running.repeat_later(Place.objects.get(pk=place.pk), by=manager, at=LATER, dilution=5)


def test_the_page_of_a_run_that_is_over_offers_the_repeat(started, manager, client):
    run = injected(started, manager)
    client.force_login(manager)
    place = sample_places(run)[0]
    address = reverse("labqueue:run_repeat", args=[run.number, place.position])
    assert address in client.get(reverse("labqueue:run", args=[run.number])).content.decode()
    assert "Put it back into the queue" in client.get(address).content.decode()
    client.post(address, {"dilution": "10"})
    assert again([place.bottle])[0].next_dilution == 10
    assert address not in client.get(reverse("labqueue:run", args=[run.number])).content.decode()
