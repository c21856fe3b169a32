"""The submitter's pages about one consignment."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from intake.actions import checking, deciding
from intake.actions.registering import amend_consignment
from intake.actions.rulebooks import take_rulebooks
from intake.actions.sending import withdraw_consignment
from intake.models import Group, Membership, User
from intake.shipped import shipped_data
from intake.states import ConsignmentState
from tests.factories import RECEIVED, anion_bottle, cation_bottle, draft, opened, sample, sent
from tests.views.pages import PAGES, address, carried_by, queries_of, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def client(signed_in, submitter):
    return signed_in(submitter)


def head(response, **changes):
    """A form as posted from ``response``."""
    return carried_by(response) | changes


# The page of one


def test_the_first_line_says_what_to_do_next(client, submitter, group, rulebook):
    empty = draft(submitter, group, rulebook)
    assert "Next Enter your samples, one row each." in text_of(client.get(address("consignment", empty)))
    ready = draft(submitter, group, rulebook, sample())
    assert "Send it, so that it expects your bottles." in text_of(client.get(address("consignment", ready)))
    without = draft(submitter, group, rulebook, sample(bottles=()))
    assert "1 sample has no bottle yet." in text_of(client.get(address("consignment", without)))
    gone = sent(submitter, group, rulebook, sample(collected_at=timezone.now() - timedelta(hours=5)))
    page = text_of(client.get(address("consignment", gone)))
    assert "their clocks run from collection." in page
    assert "Next to run out is nitrite in S1:" in page


def test_a_withdrawn_consignment_expects_nothing(client, submitter, group, rulebook):
    consignment = sent(submitter, group, rulebook, sample())
    withdraw_consignment(consignment, by=submitter, at=RECEIVED, reason="Wrong bottles")
    page = text_of(client.get(address("consignment", consignment)))
    assert "the laboratory does not expect it" in page
    assert "all expected" not in page


def test_going_back_to_the_question_after_sending_leads_to_the_consignment(
    client, submitter, group, rulebook
):
    consignment = sent(submitter, group, rulebook, sample())
    answer = client.get(address("consignment_send", consignment))
    assert answer.status_code == 409
    assert f'href="{address("consignment", consignment)}"' in answer.text


def test_every_bottle_shows_where_it_is_its_state_decision_and_reason(
    client, manager, submitter, group, rulebook
):
    consignment = sent(submitter, group, rulebook)
    arrival = opened(manager, consignment)
    bottle = consignment.bottles.get(line="anion")
    checking.check_bottle(bottle, arrival, by=manager, at=RECEIVED, seen={"leaking": True})
    deciding.decide_bottle(bottle, by=manager, at=RECEIVED, decision="refused", reason="The cap was loose.")
    page = text_of(client.get(address("consignment", consignment)))
    assert "at the laboratory, not to be measured" in page
    assert "Decision: refused : The cap was loose." in page
    assert "not at the laboratory yet" in page


def test_clocks_stand_in_the_consignment_s_zone_which_is_named(client, submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample(), zone="Asia/Kathmandu")
    page = text_of(client.get(address("consignment", consignment)))
    # Collected 3 Mar 2026 08:00 UTC; two days on, at UTC+05:45 (IANA tz database).
    assert "nitrite, nitrate and phosphate" in page
    assert "due 5 Mar 2026 13:45 Asia/Kathmandu" in page


def test_findings_show_weight_sentence_remedy_and_source(client, submitter, group, rulebook):
    consignment = draft(
        submitter, group, rulebook, sample(bottles=(anion_bottle(filter_pore_um=0.7), cation_bottle()))
    )
    page = text_of(client.get(address("consignment", consignment)))
    for words in ("Caution", "Filtered at 0.7 µm", "Before sending:", "Source:"):
        assert words in page


def test_the_record_is_told_in_plain_sentences(client, submitter, group, rulebook):
    consignment = sent(submitter, group, rulebook)
    page = text_of(client.get(address("consignment", consignment)))
    assert "Sami Submitter made this consignment." in page
    assert "Sami Submitter entered samples; the list now has 1." in page
    assert "Sami Submitter sent it with 2 bottles" in page


def test_the_page_asks_the_database_as_often_for_2_as_for_20_samples(client, submitter, group, rulebook):
    few = draft(submitter, group, rulebook, *[sample(f"S{n}", ph=None) for n in range(2)])
    many = draft(submitter, group, rulebook, *[sample(f"S{n}", ph=None) for n in range(20)])
    for page in ("consignment", "consignment_send", "samples"):
        assert queries_of(client, address(page, many)) == queries_of(client, address(page, few)), page


def test_many_samples_come_in_pages(client, submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, *[sample(f"S{n}", bottles=()) for n in range(1, 31)])
    first = text_of(client.get(address("consignment", consignment)))
    second = text_of(client.get(address("consignment", consignment) + "?page=2"))
    assert "S25 Lower weir" in first
    assert "S26 Lower weir" not in first
    assert "S30 Lower weir" in second


def test_a_check_is_told_with_what_was_seen(client, manager, submitter, group, rulebook):
    consignment = sent(submitter, group, rulebook)
    bottle = consignment.bottles.first()
    arrival = opened(manager, consignment)
    checking.check_bottle(
        bottle, arrival, by=manager, at=RECEIVED, seen={"temperature_c": 12.5, "cold": False}
    )
    page = text_of(client.get(address("consignment", consignment)))
    assert f"Mara Manager checked bottle {bottle.number}." in page
    assert "temperature of the bottle, °C: not stated → 12.5" in page
    assert "cold: not stated → no" in page


# Amending


def test_the_head_is_amended_and_judged_anew(client, submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample())
    page = client.get(address("consignment_amend", consignment))
    data = head(page, title="New", purpose="P", rulebook=rulebook.pk, zone="UTC", requested_on="")
    response = client.post(address("consignment_amend", consignment), data)
    assert response.status_code == 302
    consignment.refresh_from_db()
    assert (consignment.title, consignment.zone) == ("New", "UTC")


def test_a_stale_head_keeps_what_was_typed_and_says_what_changed(client, submitter, manager, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample())
    page = client.get(address("consignment_amend", consignment))
    amend_consignment(
        consignment, by=manager, at=RECEIVED, version=consignment.version, changes={"title": "Faster"}
    )
    data = head(page, title="Slower", purpose="", rulebook=rulebook.pk, zone="UTC", requested_on="")
    stale = client.post(address("consignment_amend", consignment), data)
    assert stale.status_code == 409
    assert "Mara Manager changed title" in text_of(stale)
    assert "title: Weir survey → Faster" in text_of(stale)
    assert 'value="Slower"' in stale.content.decode()
    consignment.refresh_from_db()
    assert consignment.title == "Faster"
    data |= head(stale)
    assert client.post(address("consignment_amend", consignment), data).status_code == 302
    consignment.refresh_from_db()
    assert consignment.title == "Slower"


def test_what_has_arrived_cannot_be_amended(client, submitter, reception, group, rulebook):
    consignment = sent(submitter, group, rulebook)
    opened(reception, consignment)
    page = client.get(address("consignment_amend", consignment))
    assert page.status_code == 409
    assert "Bottles of this consignment have arrived" in text_of(page)


# Sending


def test_sending_lists_what_will_be_lost_and_asks(client, submitter, group, rulebook):
    consignment = draft(
        submitter, group, rulebook, sample(bottles=(anion_bottle(acidified=True, acid_kind="nitric"),))
    )
    page = client.get(address("consignment_send", consignment))
    assert "will be lost:" in text_of(page)
    assert "nitrate" in text_of(page)
    response = client.post(address("consignment_send", consignment), head(page))
    assert response.status_code == 302
    consignment.refresh_from_db()
    assert consignment.state == ConsignmentState.SENT


def test_sending_twice_changes_nothing_the_second_time(client, submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample())
    data = head(client.get(address("consignment_send", consignment)))
    client.post(address("consignment_send", consignment), data)
    again = client.post(address("consignment_send", consignment), data, follow=True)
    assert again.status_code == 200
    assert "This was already done" in text_of(again)
    assert consignment.record.filter(verb="consignment.send").count() == 1


def test_a_consignment_changed_since_is_not_sent_unseen(client, submitter, manager, group, rulebook):
    consignment = draft(submitter, group, rulebook, sample())
    data = head(client.get(address("consignment_send", consignment)))
    amend_consignment(
        consignment, by=manager, at=RECEIVED, version=consignment.version, changes={"title": "Faster"}
    )
    page = client.post(address("consignment_send", consignment), data)
    assert page.status_code == 409
    assert "Mara Manager changed title" in text_of(page)
    consignment.refresh_from_db()
    assert consignment.is_draft


def test_an_empty_consignment_is_not_sent(client, submitter, group, rulebook):
    consignment = draft(submitter, group, rulebook)
    data = head(client.get(address("consignment_send", consignment)))
    page = client.post(address("consignment_send", consignment), data)
    assert page.status_code == 422
    assert "There are no samples yet." in text_of(page)


# Withdrawing


def test_withdrawing_what_was_sent_needs_a_reason(client, submitter, group, rulebook):
    consignment = sent(submitter, group, rulebook)
    page = client.get(address("consignment_withdraw", consignment))
    refused = client.post(address("consignment_withdraw", consignment), head(page, reason=" "))
    assert refused.status_code == 422
    assert "Say why you withdraw it" in text_of(refused)
    client.post(address("consignment_withdraw", consignment), head(page, reason="Put off."))
    consignment.refresh_from_db()
    assert consignment.state == ConsignmentState.WITHDRAWN
    assert "Why: Put off." in text_of(client.get(address("consignment", consignment)))


def test_what_arrived_cannot_be_withdrawn(client, manager, submitter, group, rulebook):
    consignment = sent(submitter, group, rulebook)
    opened(manager, consignment)
    page = client.post(address("consignment_withdraw", consignment), {"reason": "Too late"})
    assert page.status_code == 409
    assert "cannot be withdrawn any more" in text_of(page)


# Whatever is typed


ANY_TEXT = st.text(alphabet=st.characters(exclude_categories=("Cs",)), max_size=40)
HEADS = (
    "token",
    "version",
    "seen",
    "group",
    "title",
    "purpose",
    "rulebook",
    "zone",
    "requested_on",
    "reason",
)


class WhateverIsTyped(TestCase):
    """Arbitrary text in the forms never answers with a fault of ours and never half saves."""

    @settings(max_examples=40, deadline=None)
    @given(
        page=st.sampled_from(PAGES[1:]),
        data=st.dictionaries(
            st.sampled_from(HEADS), ANY_TEXT | st.sampled_from(["1", "UTC", "2026-13-01", "0"])
        ),
    )
    def test_the_forms_take_it_or_explain(self, page, data):
        person = User.objects.create_user("anna@lab.example", None, name="Anna")
        group = Group.objects.create(name="Reeds", zone="Europe/Berlin")
        Membership.objects.create(user=person, group=group)
        (book,) = take_rulebooks([shipped_data("house")], by=User.objects.system(), at=RECEIVED)
        consignment = draft(person, group, book, sample("S1"))
        before = consignment.record.count()
        self.client.force_login(person)
        answer = self.client.post(address(page, consignment), data)
        assert answer.status_code in (302, 409, 422)
        assert consignment.record.count() == before + (answer.status_code == 302) or page == PAGES[1]
        made = self.client.post(reverse("intake:consignment_new"), data)
        assert made.status_code in (302, 422)
        asked = data | {"q": data.get("title", "")}
        assert self.client.get(reverse("intake:consignments"), asked).status_code == 200
