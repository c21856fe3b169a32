"""The pages on which days of analysis are asked for and answered."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from intake.models import DatePolicy, DateRequest
from intake.standing import next_clock_of
from labqueue.actions import dating
from labqueue.views.dates import ACTS
from tests.bench.test_dating import FRIDAY, THURSDAY, ask
from tests.factories import ENTERED, draft, sent
from tests.views.pages import hidden_of, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _today(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: ENTERED)


@pytest.fixture
def consignment(submitter, group, rulebook):
    return sent(submitter, group, rulebook)


def address(consignment) -> str:
    return f"/consignments/{consignment.number}/date/"


def post(client, consignment, act: str, **given: object):
    page = client.get(address(consignment))
    hidden = {name: hidden_of(page, name) for name in ("token", "version")}
    return client.post(address(consignment), {"act": act, **hidden, **given})


def test_a_day_goes_back_and_forth_until_it_is_agreed(signed_in, submitter, manager, consignment):
    group, laboratory = signed_in(submitter), signed_in(manager)
    first = text_of(group.get(address(consignment)))
    assert "No day was asked for yet" in first
    assert "Thu 5 Mar Room anion: 45 of 45 free cation: 45 of 45 free" in first
    assert "Sat 7 Mar Closed" in first
    asked = post(group, consignment, "ask", day="2026-03-05", anion_bottles="12", cation_bottles="12")
    assert asked.status_code == 302
    assert "Waiting for your answer" in text_of(laboratory.get("/dates/"))
    assert "12 bottles for anions, 12 bottles for cations" in text_of(laboratory.get("/dates/"))
    assert "33 of 45 free" not in text_of(laboratory.get("/dates/"))
    assert "45 of 45 free, 12 asked for" in text_of(laboratory.get("/dates/"))
    post(laboratory, consignment, "propose", day="2026-03-06", note="Thursday the column is changed.")
    seen = text_of(group.get(address(consignment)))
    assert "proposed by the laboratory Friday 6 March 2026" in seen
    assert "Thursday the column is changed." in seen
    post(group, consignment, "accept")
    assert DateRequest.objects.get().state == "agreed"
    assert "33 of 45 free" in text_of(laboratory.get("/dates/"))
    assert "Nobody waits." in text_of(laboratory.get("/dates/"))
    assert "6 Mar 2026, agreed" in text_of(group.get(f"/consignments/{consignment.number}/"))


def test_an_over_full_day_is_told_before_it_is_asked_for(
    signed_in, submitter, manager, group, rulebook, consignment
):
    ask(consignment, submitter, anion_bottles=45, cation_bottles=0)
    dating.agree_date(consignment, by=manager, at=ENTERED, version=0)
    other = sent(submitter, group, rulebook)
    seen = text_of(signed_in(submitter).get(address(other) + "?day=2026-03-05"))
    assert "Thu 5 Mar Too few places" in seen
    assert "over-full for so many bottles: free places left are 0 for anion bottles" in seen


def test_what_is_wrong_stands_at_its_field(signed_in, submitter, consignment):
    client = signed_in(submitter)
    well = {"day": "2026-03-05", "anion_bottles": 1, "cation_bottles": 1}
    for wrong, sentence in (
        ({"day": "5.3.26"}, "This is not a date."),
        ({"day": "2026-03-07"}, "The laboratory is closed on this day."),
        ({"day": "2026-03-02"}, "This day is over."),
        ({"anion_bottles": "0", "cation_bottles": "0"}, "Say for how many bottles you ask."),
        ({"anion_bottles": "-1"}, "Write zero or more bottles."),
    ):
        answer = post(client, consignment, "ask", **well | wrong)
        assert answer.status_code == 422
        assert sentence in text_of(answer)
    assert not DateRequest.objects.exists()


def test_an_answer_read_too_early_is_refused_with_the_new_state(signed_in, submitter, manager, consignment):
    ask(consignment, submitter)
    laboratory = signed_in(manager)
    page = laboratory.get(address(consignment))
    ask(consignment, submitter, day=FRIDAY, version=0)
    late = {"act": "agree", "token": hidden_of(page, "token"), "version": "0"}
    answer = laboratory.post(address(consignment), late)
    assert answer.status_code == 409
    assert "Friday 6 March 2026" in text_of(answer)
    assert DateRequest.objects.get().state == "asked"


def test_sent_twice_is_said_and_changes_nothing(signed_in, submitter, consignment):
    client = signed_in(submitter)
    page = client.get(address(consignment))
    asked = {
        "act": "ask",
        "token": hidden_of(page, "token"),
        "version": "",
        "day": "2026-03-05",
        "anion_bottles": "1",
        "cation_bottles": "0",
    }
    client.post(address(consignment), asked)
    again = client.post(address(consignment), asked, follow=True)
    assert "already done" in text_of(again)
    assert DateRequest.objects.get().version == 0


def test_who_sees_which_page(client, signed_in, stranger, reception, submitter, consignment):
    assert client.get(address(consignment)).status_code == 302
    assert client.get("/dates/").status_code == 302
    assert signed_in(stranger).get(address(consignment)).status_code == 404
    assert signed_in(submitter).get("/dates/").status_code == 403
    assert signed_in(reception).get("/dates/").status_code == 403
    seen = signed_in(reception).get(address(consignment))
    assert seen.status_code == 200
    assert "Ask for this day" not in seen.content.decode()
    tried = signed_in(submitter).post(
        address(consignment), {"act": "agree", "token": "x", "version": "0", "note": ""}
    )
    assert tried.status_code in (403, 409, 422)


def test_a_submitter_cannot_confirm_by_hand(signed_in, submitter, consignment):
    ask(consignment, submitter)
    answer = signed_in(submitter).post(address(consignment), {"act": "agree", "token": "x", "version": "0"})
    assert answer.status_code == 403
    assert DateRequest.objects.get().state == "asked"


def test_days_that_confirm_themselves(signed_in, manager, submitter, consignment):
    laboratory = signed_in(manager)
    token = hidden_of(laboratory.get("/dates/"), "token")
    assert laboratory.post("/dates/", {"token": token, "confirms_itself": "on"}).status_code == 302
    assert DatePolicy.objects.get().confirms_itself
    client = signed_in(submitter)
    assert "agreed as soon as you ask" in text_of(client.get(address(consignment)))
    post(client, consignment, "ask", day="2026-03-05", anion_bottles="1", cation_bottles="1")
    assert DateRequest.objects.get().state == "agreed"


def test_the_wanted_day_is_changed_in_one_place_only(signed_in, submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook)
    client = signed_in(submitter)
    amend = f"/consignments/{consignment.number}/amend/"
    assert 'name="requested_on"' in client.get(amend).content.decode()
    ask(consignment, submitter)
    assert 'name="requested_on"' not in client.get(amend).content.decode()
    consignment.refresh_from_db()
    assert consignment.requested_on == THURSDAY


def test_the_page_names_the_clock_that_a_late_day_would_lose(signed_in, submitter, manager, consignment):
    clock = next_clock_of(consignment, ENTERED)
    for person in (submitter, manager):
        said = text_of(signed_in(person).get(address(consignment)))
        assert f"Next to run out is {clock.ion} in {clock.bottle.sample.own_id}:" in said
        assert "An injection after that moment is too late for it." in said


def test_queries_do_not_grow_with_requests(
    signed_in, manager, submitter, group, rulebook, django_assert_max_num_queries
):
    laboratory = signed_in(manager)
    for _number in range(2):
        ask(draft(submitter, group, rulebook), submitter)
    laboratory.get("/dates/")
    with django_assert_max_num_queries(12):
        laboratory.get("/dates/")
    for _number in range(10):
        ask(draft(submitter, group, rulebook), submitter)
    with django_assert_max_num_queries(12):
        assert text_of(laboratory.get("/dates/")).count("Weir survey") == 12


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_input_is_answered(signed_in, submitter, consignment, data):
    names = ("act", "token", "version", "seen", "day", "anion_bottles", "cation_bottles", "note")
    words = st.text(max_size=12) | st.sampled_from(
        [
            *ACTS,
            "2026-03-05",
            "9999-12-31",
            "0001-01-01",
            "99999999999",
        ]
    )
    client = signed_in(submitter)
    given_ = {name: data.draw(words) for name in names}
    assert client.post(address(consignment), given_).status_code in (200, 302, 403, 409, 422)
    assert client.get(address(consignment), {"day": given_["day"]}).status_code == 200
