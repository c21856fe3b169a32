"""The trip check's page: open to all, stores nothing, its answer has an address."""

from __future__ import annotations

from datetime import UTC, datetime
from urllib.parse import parse_qs, urlencode, urlsplit

import pytest
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from intake.models import Consignment
from tests.views.pages import hidden_of, text_of

#: A Monday.
NOW = datetime(2026, 3, 2, 10, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _today(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


@pytest.fixture
def ask(client, rulebook):
    def asked(**changes: object):
        return client.get("/trip/?" + urlencode(question(rulebook, **changes), doseq=True))

    return asked


def question(rulebook, **changes: object) -> dict[str, object]:
    """Friday 6 March 2026 14:00 UTC, nitrate, 20 h of courier; the laboratory is in UTC too."""
    return {
        "ions": ["nitrate"],
        "sites": "4",
        "begins": "2026-03-06T14:00",
        "ends": "2026-03-06T14:00",
        "zone": "UTC",
        "transport_h": "20",
        "kept": ["filtered", "chilled", "acid"],
        "water": "unknown",
        "ec": "",
        "alkalinity": "",
        "book": str(rulebook.pk),
    } | changes


def links(response: object, words: str) -> str:
    """The address behind the first link that holds ``words``."""
    text = response.content.decode()
    before, _, _ = text.partition(words)
    return before.rpartition('href="')[2].partition('"')[0].replace("&amp;", "&")


def test_the_question_is_open_to_everybody(client, rulebook):
    answer = client.get("/trip/")
    assert answer.status_code == 200
    assert "Check the trip" in answer.content.decode()
    assert 'name="csrfmiddlewaretoken"' not in answer.content.decode()
    assert f'<option value="{rulebook.pk}" selected>' in answer.content.decode()


def test_friday_afternoon_says_what_to_change(ask):
    """Due Sunday 14:00; started by 10:50 that day, so on Friday by 17:00, handed over by 16:00."""
    said = text_of(ask())
    assert "no injection can start in time for: nitrate" in said
    assert "Cooler at reception by Fri 6 Mar 16:00" in said
    assert "First injection, arriving as planned Mon 9 Mar 12:10" in said
    assert "Due Sun 8 Mar 14:00" in said
    assert "Have the cooler at reception by Fri 6 Mar 16:00, 2 hours after the last sample" in said
    assert "Go on Thu 5 Mar instead" in said
    assert "Freeze the bottles at once" in said
    assert "By this rulebook the same ions would still be too late." in said


def test_every_change_that_is_said_to_work_leads_to_a_trip_that_does(client, ask):
    answer = ask()
    for words in ("Have the cooler at reception by", "Go on Thu 5 Mar instead"):
        changed = client.get(links(answer, words))
        assert "This trip works." in text_of(changed)


def test_each_of_fourteen_days_says_why_it_fails(ask):
    said = text_of(ask())
    assert said.count("Works") >= 12
    assert "Fri 6 Mar Fails nitrate: due Sun 8 Mar 14:00, first injection Mon 9 Mar 12:10" in said
    assert "Sun 15 Mar Works" in said
    assert ask().content.decode().count('<li class="trip-day ') == 14


def test_the_days_do_not_begin_before_today(ask):
    said = text_of(ask(begins="2026-03-04T09:00", ends="2026-03-04T09:00"))
    assert "Mon 2 Mar Works" in said
    assert "Sun 1 Mar" not in said


def test_bottles_and_acid(ask):
    said = text_of(ask(ions=["nitrate", "calcium"], ec="400", alkalinity="4"))
    assert "4 × 50 mL, anion nitrate No acid." in said
    assert "4 × 50 mL, cation calcium Acid: 0.9 mL of 1 mol/L nitric acid into each, 3.6 mL in all" in said
    assert "the rules of your institution and your country come first" in said
    assert "burns" not in text_of(ask())


def test_another_zone_is_told_on_both_clocks(ask):
    """09:00 in Denver is 16:00 UTC; handed over Wednesday 16:00, injected 17:00 + 190 min = 20:10."""
    said = text_of(
        ask(begins="2026-03-03T09:00", ends="2026-03-03T09:00", zone="America/Denver", transport_h="24")
    )
    assert "First injection, arriving as planned Wed 4 Mar 13:10 Wed 4 Mar 20:10 at the laboratory" in said
    assert "The laboratory is in UTC" in said


def test_nothing_is_stored_and_few_questions_are_asked(ask, rulebook, django_assert_max_num_queries):
    ask()
    with django_assert_max_num_queries(8):
        answer = ask(sites="12")
    assert not answer.cookies


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"ions": []}, "Tick at least one set or one single ion."),
        ({"ions": ["gold"]}, "Choose one of the listed answers"),
        ({"sites": "0"}, "A trip has at least one site."),
        ({"sites": "many"}, "as a whole number"),
        ({"begins": "6.3.26"}, "Type a date and a time, such as 2026-03-04 09:30."),
        ({"begins": "2036-03-06T14:00"}, "Check it."),
        ({"ends": "2026-03-06T13:00"}, "cannot come before the first"),
        ({"ends": "2026-04-06T13:00"}, "at most 14 days"),
        ({"zone": "Mars/Base"}, "is not a time zone we know"),
        ({"transport_h": "-1"}, "cannot take less than no time"),
        ({"transport_h": "nan"}, "plain number"),
        ({"ec": "1e9"}, "Check the unit"),
        ({"book": "999999"}, "listed answers"),
    ],
)
def test_what_cannot_be_is_told_at_its_field(ask, changes, sentence):
    answer = ask(**changes)
    assert answer.status_code == 422
    assert sentence in text_of(answer)
    assert 'id="answer"' not in answer.content.decode()


def test_without_a_rulebook_the_page_still_opens(client, db):
    assert client.get("/trip/").status_code == 200


def test_a_past_trip_is_answered_and_said_to_be_over(ask):
    said = text_of(ask(begins="2026-02-06T14:00", ends="2026-02-06T14:00"))
    assert "is over" in said
    assert "Mon 2 Mar" in said


def test_posting_is_refused(client, rulebook):
    assert client.post("/trip/", question(rulebook)).status_code == 405


def test_the_trip_becomes_a_consignment(signed_in, client, submitter, rulebook, ask):
    address = links(ask(transport_h="1"), "Make it a consignment")
    given = parse_qs(urlsplit(address).query)
    assert given["title"] == ["Trip of Fri 6 Mar 2026, 4 sites"]
    assert given["zone"] == ["UTC"]
    # Friday 15:00 + 1 h + 190 min is Friday 19:10.
    assert given["requested_on"] == ["2026-03-06"]
    stopped = client.get(address)
    assert stopped.status_code == 302
    assert "next=" in stopped["Location"]
    filled = signed_in(submitter).get(address).content.decode()
    assert 'value="Trip of Fri 6 Mar 2026, 4 sites"' in filled
    assert "Planned: 4 sites, Fri 6 Mar 2026 14:00 to 14:00; nitrate." in filled
    assert '<option value="UTC" selected>' in filled
    assert 'value="2026-03-06"' in filled


WORDS = st.text(max_size=20) | st.sampled_from(
    [
        "nitrate",
        "2026-03-06T14:00",
        "9999-12-31T23:59",
        "0001-01-01T00:00",
        "UTC",
        "-0",
        "1e308",
        "inf",
        "\x00",
    ]
)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_input_gives_an_answer_or_a_sentence(rulebook, data):
    asked = question(rulebook)
    for name in data.draw(st.lists(st.sampled_from(sorted(asked)), max_size=4)):
        asked[name] = data.draw(WORDS)
    answer = Client().get("/trip/", asked)
    assert answer.status_code in (200, 422)


def test_the_sites_and_bottles_of_the_trip_come_along(signed_in, submitter, rulebook, ask):
    """An outing for nitrate and calcium at four sites: a draft with four samples of two bottles."""
    planned = links(ask(ions=["nitrate", "calcium"], ec="400", alkalinity="4"), "Make it a consignment")
    mine = signed_in(submitter)
    page = mine.get(planned)
    assert "4 samples" in text_of(page)
    group = submitter.groups.get()
    given_ = {
        "token": hidden_of(page, "token"),
        "group": group.pk,
        "title": "Weir",
        "zone": "UTC",
        "rulebook": rulebook.pk,
        "requested_on": "2026-03-06",
    }
    made = mine.post(planned, given_)
    assert made.status_code == 302
    consignment = Consignment.objects.get()
    assert [sample.own_id for sample in consignment.samples.all()] == ["Site 1", "Site 2", "Site 3", "Site 4"]
    assert consignment.bottles.count() == 8
    cation = consignment.bottles.filter(line="cation").first()
    assert (cation.ions, cation.volume_ml, cation.acid_ml, cation.acid_mol_l) == (["calcium"], 50, 0.9, 1)
    assert consignment.bottles.filter(line="anion").first().acidified is None


@pytest.mark.parametrize(
    "told", ["sites=0&ions=nitrate", "sites=1e9&ions=nitrate", "sites=4&ions=gold", "sites=4"]
)
def test_a_plan_that_cannot_be_is_left_out(signed_in, submitter, rulebook, told):
    page = signed_in(submitter).get(f"/consignments/new/?{told}")
    assert page.status_code == 200
    assert "samples" in text_of(page)
    assert page.context["plan"] is None
