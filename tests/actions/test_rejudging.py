"""Judgements repeat: rejudge finds nothing unless facts, rules or stored rows changed behind its back."""

from io import StringIO

import pytest
from django.core.management import call_command

from intake.models import ClockRow, FindingRow, RecordEntry, Sample, SampleJudgement
from tests.factories import anion_bottle, draft, sample

pytestmark = pytest.mark.django_db


def run(*options):
    out = StringIO()
    call_command("rejudge", *options, stdout=out)
    return out.getvalue()


@pytest.fixture
def judged(submitter, group, rulebook):
    return draft(
        submitter,
        group,
        rulebook,
        sample("S1"),
        sample("S2", ec_value=2.1, bottles=(anion_bottle(acid_kind="nitric", acidified=True),)),
    )


def test_every_stored_judgement_comes_out_again(judged):
    assert "2 samples compared, 0 differ." in run("--dry-run")


@pytest.mark.parametrize(
    ("spoil", "what"),
    [
        (lambda: ClockRow.objects.filter(ion="nitrate").update(reason="x"), "clocks come out differently"),
        (lambda: FindingRow.objects.all().delete(), "findings come out differently"),
        (lambda: Sample.objects.filter(own_id="S2").update(ph=3.0), "facts changed without a judgement"),
        (lambda: SampleJudgement.objects.all().delete(), "never judged"),
    ],
)
def test_what_changed_behind_its_back_is_named_and_mended_once(judged, spoil, what):
    spoil()
    told = run("--dry-run")
    assert what in told
    assert judged.number in told
    assert "0 differ" not in told
    run()
    assert "0 differ." in run("--dry-run")
    assert RecordEntry.objects.filter(verb="sample.rejudge", reason__contains=what).exists()
