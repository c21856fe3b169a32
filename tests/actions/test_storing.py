"""Rows stored in one statement come back as the ORM would have stored them."""

from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from intake.actions.judging import ADVICE, CLOCK, FINDING, JUDGEMENT
from intake.actions.registering import enter_samples
from intake.actions.storing import KEYS, in_parts, insert_rows
from intake.models import AdviceRow, Bottle, ClockRow, FindingRow, SampleJudgement
from tests.factories import ENTERED, anion_bottle, draft, sample

pytestmark = pytest.mark.django_db
DUE = datetime(2026, 3, 29, 0, 59, 59, 123456, tzinfo=UTC)


def values(row):
    return {
        field.attname: getattr(row, field.attname)
        for field in row._meta.concrete_fields
        if field.attname != "id"
    }


def test_rows_come_back_as_bulk_create_would_store_them(submitter, group, rulebook):
    draft(submitter, group, rulebook, sample())
    bottle = Bottle.objects.first()
    clock = {
        "bottle_id": bottle.pk, "ion": "nitrate", "starts_at": DUE - timedelta(hours=48), "limit_value": 48,
        "limit_unit": "hours", "due_at": DUE, "row": 3, "reason": "50 % “kept”, it's cold", "assumed": False,
        "void": False, "waiting": True,
    }  # fmt: skip
    finding = {
        "sample_id": bottle.sample_id, "bottle_id": None, "code": "x.y", "weight": "bar", "rank": 2,
        "sentence": "s",
        "remedies": [["before sending", "µ"]], "source": "", "fact": "", "ions": ["nitrate"],
    }  # fmt: skip
    for model, told in ((ClockRow, clock), (FindingRow, finding)):
        model.objects.all().delete()
        insert_rows(model, tuple(told), [tuple(told.values())])
        quick = values(model.objects.get())
        model.objects.all().delete()
        model.objects.bulk_create([model(**told)])
        assert quick == values(model.objects.get())


def test_nothing_is_stored_of_nothing(django_assert_num_queries):
    with django_assert_num_queries(0):
        insert_rows(FindingRow, ("code",), [])


def test_a_column_that_is_no_field_is_refused():
    with pytest.raises(ValueError, match="colour"):
        insert_rows(FindingRow, ("code", "colour"), [("x.y", "blue")])


def test_judging_names_every_column_it_derives():
    named = {FindingRow: FINDING, ClockRow: CLOCK, AdviceRow: ADVICE, SampleJudgement: JUDGEMENT}
    for model, names in named.items():
        assert {"id", *names} == {field.attname for field in model._meta.concrete_fields}


def test_keys_come_in_parts_that_one_statement_takes():
    parts = list(in_parts(list(range(2 * KEYS + 1))))
    assert [len(part) for part in parts] == [KEYS, KEYS, 1]
    assert [key for part in parts for key in part] == list(range(2 * KEYS + 1))


def test_the_rank_of_the_heaviest_finding_follows_a_change(submitter, group, rulebook):
    def ranks():
        return dict(Bottle.objects.values_list("sample__own_id", "weightiest").filter(line="anion"))

    consignment = draft(submitter, group, rulebook, sample("good"), sample("bad"))
    before = ranks()
    spoilt = sample("bad", bottles=(anion_bottle(acidified=True, acid_kind="nitric"),))
    enter_samples(
        consignment, [sample("good"), spoilt], by=submitter, at=ENTERED, version=consignment.version
    )
    assert ranks() == {"good": before["good"], "bad": 2}


def test_judging_a_hundred_samples_takes_few_statements(submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook)
    with CaptureQueriesContext(
        connection,
    ) as caught:
        enter_samples(
            consignment,
            [sample(f"S{number}") for number in range(100)],
            by=submitter,
            at=ENTERED,
            version=consignment.version,
        )
    clocks = [query for query in caught if 'INTO "intake_clockrow"' in query["sql"]]
    assert ClockRow.objects.count() == 1200
    assert len(clocks) == 1
