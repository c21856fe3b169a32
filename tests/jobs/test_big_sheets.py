"""A big workbook is read and saved beside the requests; its page tells how far it is."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from intake import jobs
from intake.choices import JobKind, JobState
from intake.models import Job, RecordEntry, StagedSheet
from intake.tasks import sheets
from tests.factories import ENTERED, draft, sample
from tests.sheets.test_hostile import CORPUS
from tests.views.pages import address, hidden_of, text_of
from tests.views.test_sheet_pages import workbook

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def everything_is_big(monkeypatch):
    monkeypatch.setattr("intake.views.sheets.BIG_BYTES", 0)
    monkeypatch.setattr("intake.views.sheets.BIG_ROWS", 0)
    monkeypatch.setattr("intake.sheets.read.TELL_EVERY", 1)
    monkeypatch.setattr(sheets, "TELL_EVERY", 1)


@pytest.fixture
def client(signed_in, submitter):
    return signed_in(submitter)


@pytest.fixture
def consignment(submitter, group, rulebook):
    return draft(submitter, group, rulebook, sample("S1"))


def upload(client, consignment, content):
    answer = client.post(address("sheet", consignment), {"sheet": SimpleUploadedFile("big.xlsx", content)})
    assert answer.status_code == 302
    return answer.url


def yes(client, url):
    page = client.get(url)
    hidden = {name: hidden_of(page, name) for name in ("token", "version", "seen")}
    return client.post(url, hidden), hidden


def done_now(kind):
    """Work on what was left of ``kind``, as whoever tends jobs would."""
    return jobs.hand_out(ENTERED.replace(year=2200), [kind])


def test_it_is_read_and_saved_by_jobs_and_the_page_leads_on(client, consignment):
    page = upload(client, consignment, workbook(consignment, sample("S1"), sample("S2")))
    assert "It begins in a moment" in text_of(client.get(page))
    assert page in client.get(address("sheet", consignment)).content.decode()
    done_now(JobKind.READ_SHEET)
    confirmation = client.get(page).url
    assert "S2" in text_of(client.get(confirmation))
    answer, _ = yes(client, confirmation)
    assert consignment.samples.count() == 1
    done_now(JobKind.SAVE_SHEET)
    assert "All samples of the sheet are saved" in text_of(client.get(answer.url, follow=True))
    assert consignment.samples.count() == 2


def test_the_same_yes_leaves_one_job_and_takes_effect_once(client, consignment):
    page = upload(client, consignment, workbook(consignment, sample("S1"), sample("S2")))
    done_now(JobKind.READ_SHEET)
    confirmation = client.get(page).url
    answer, hidden = yes(client, confirmation)
    assert client.post(confirmation, hidden).url == answer.url
    done_now(JobKind.SAVE_SHEET)
    # Somebody who took the job up before, and was not heard of since, comes with it after all.
    Job.objects.filter(kind=JobKind.SAVE_SHEET).update(state=JobState.WAITING)
    done_now(JobKind.SAVE_SHEET)
    assert Job.objects.get(kind=JobKind.SAVE_SHEET).state == JobState.DONE
    # One entry is the draft's own, one the sheet's.
    assert RecordEntry.objects.filter(consignment=consignment, verb="samples.enter").count() == 2


def test_a_job_that_breaks_off_leaves_nothing_and_comes_again(client, consignment, monkeypatch):
    page = upload(client, consignment, workbook(consignment, sample("S1"), sample("S2")))
    done_now(JobKind.READ_SHEET)
    answer, _ = yes(client, client.get(page).url)

    def broken(*args, **kwargs):
        raise OSError("the disk is full")

    with monkeypatch.context() as patch:
        patch.setattr("intake.tasks.sheets.jobs.end", broken)
        done_now(JobKind.SAVE_SHEET)
    assert consignment.samples.count() == 1
    assert "tried again by itself" in text_of(client.get(answer.url))
    done_now(JobKind.SAVE_SHEET)
    assert consignment.samples.count() == 2


def test_what_the_sheet_is_refused_for_stands_on_the_page(client, consignment):
    page = upload(client, consignment, CORPUS["20,000 rows"][0])
    done_now(JobKind.READ_SHEET)
    shown = text_of(client.get(page))
    assert "at most 5,000 samples" in shown
    assert Job.objects.get().state == JobState.FAILED
    confirmation = f"{address('sheet', consignment)}{StagedSheet.objects.get().key}/"
    assert "still being read" in text_of(client.get(confirmation))


def test_somebody_elses_change_in_between_is_told(client, consignment, manager):
    page = upload(client, consignment, workbook(consignment, sample("S1"), sample("S2")))
    done_now(JobKind.READ_SHEET)
    answer, _ = yes(client, client.get(page).url)
    type(consignment).objects.update(version=77)
    done_now(JobKind.SAVE_SHEET)
    assert "after you opened it" in text_of(client.get(answer.url))
    assert consignment.samples.count() == 1


def test_the_page_tells_the_rows_done(client, consignment, submitter):
    job = jobs.leave(JobKind.SAVE_SHEET, at=ENTERED, by=submitter, consignment=consignment)
    jobs.tell(job, at=ENTERED, done=1500, total=5000)
    page = client.get(f"/jobs/{job.key}/")
    assert "1,500 of 5,000 rows checked" in text_of(page)
    assert 'value="1500" max="5000"' in page.content.decode()
    jobs.tell(job, at=ENTERED, done=5000, total=5000)
    assert "All 5,000 rows are checked" in text_of(client.get(f"/jobs/{job.key}/"))
