"""The submitter's pages about a consignment as a whole."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from intake.actions import checking, deciding
from intake.actions.registering import amend_consignment
from intake.actions.rulebooks import take_rulebooks
from intake.models import Consignment, Group, Membership, RulebookVersion, User
from intake.shipped import shipped_data
from intake.states import ConsignmentState
from tests.factories import RECEIVED, anion_bottle, cation_bottle, draft, opened, sample, sent
from tests.views.pages import address, hidden_of, text_of

pytestmark = pytest.mark.django_db

PAGES = ("consignment", "consignment_amend", "consignment_send", "consignment_withdraw")
ENTRY_PAGES = ("samples", "sheet", "sheet_file")


@pytest.fixture
def client(signed_in, submitter):
    return signed_in(submitter)


@pytest.fixture
def listed(client):
    return reverse("intake:consignments")


def queries_of(client, url):
    """How many questions the database is asked for a page, once the session is warm."""
    client.get(url)
    with CaptureQueriesContext(connection) as caught:
        assert client.get(url).status_code == 200
    return len(caught)


def head(response, **changes):
    """The head's form as posted from ``response``."""
    hidden = {name: hidden_of(response, name) for name in ("token", "version", "seen")}
    return hidden | changes


# Who may


@pytest.mark.parametrize("page", [*PAGES, *ENTRY_PAGES])
def test_strangers_cannot_tell_a_consignment_from_one_that_does_not_exist(
    signed_in, stranger, submitter, group, rulebook, page
):
    consignment = draft(submitter, group, rulebook, sample())
    client = signed_in(stranger)
    there = client.get(address(page, consignment))
    nowhere = client.get(reverse(f"intake:{page}", args=["CAAAAAAA"]))
    assert there.status_code == nowhere.status_code == 404
    assert there.content == nowhere.content.replace(b"CAAAAAAA", consignment.number.encode())


@pytest.mark.parametrize("page", [*PAGES, *ENTRY_PAGES])
def test_nobody_unknown_sees_a_page(client, submitter, group, rulebook, page):
    consignment = draft(submitter, group, rulebook, sample())
    client.logout()
    response = client.get(address(page, consignment))
    assert response.status_code == 302
    assert response.url.startswith(reverse("account_login"))


@pytest.mark.parametrize("page", PAGES[1:])
def test_reception_looks_but_does_not_change(signed_in, reception, submitter, group, rulebook, page):
    consignment = sent(submitter, group, rulebook)
    client = signed_in(reception)
    assert client.get(address("consignment", consignment)).status_code == 200
    assert client.get(address(page, consignment)).status_code == 403
    assert client.post(address(page, consignment), {"reason": "x"}).status_code == 403


def test_a_group_s_list_holds_its_own_consignments_only(
    client, listed, stranger, submitter, group, other_group, rulebook
):
    draft(submitter, group, rulebook, title="Ours")
    draft(stranger, other_group, rulebook, title="Theirs")
    page = text_of(client.get(listed))
    assert "Ours" in page
    assert "Theirs" not in page


# The list


def test_an_empty_list_says_what_to_do_next(client, listed):
    page = client.get(listed)
    assert "No consignment yet" in text_of(page)
    assert reverse("intake:consignment_new") in page.content.decode()


def test_search_and_filters_live_in_the_address(client, listed, submitter, group, rulebook):
    draft(submitter, group, rulebook, sample("Reed 7"), title="Spring")
    sent(submitter, group, rulebook, title="Autumn")
    assert "Spring" in text_of(client.get(listed, {"q": "reed 7"}))
    assert "Autumn" not in text_of(client.get(listed, {"q": "reed 7"}))
    assert "Spring" not in text_of(client.get(listed, {"state": "sent"}))
    assert "No consignment fits" in text_of(client.get(listed, {"q": "nothing like it"}))
    number = Consignment.objects.get(title="Autumn").number
    assert "Autumn" in text_of(client.get(listed, {"q": f"{number[:4]} {number[4:]}"}))


@pytest.mark.parametrize(
    "asked",
    [
        {"state": "no such state"},
        {"group": "0"},
        {"q": "\x00"},
        {"q": "%' OR 1=1"},
        {"sort": "no_such_column"},
        {"sort": "-next_due"},
        {"sort": "weightiest"},
        {"sort": "bottles"},
        {"page": "-3"},
        {"page": "zero"},
        {"page": "99"},
    ],
)
def test_the_list_takes_any_question(client, listed, submitter, group, rulebook, asked):
    draft(submitter, group, rulebook, sample())
    assert client.get(listed, asked).status_code in (200, 404)


def test_the_list_asks_the_database_as_often_for_2_as_for_20(client, listed, submitter, group, rulebook):
    for number in range(2):
        draft(submitter, group, rulebook, sample(), title=f"T{number}")
    few = queries_of(client, listed)
    for number in range(18):
        draft(submitter, group, rulebook, sample(), title=f"U{number}")
    assert queries_of(client, listed) == few


# Making


def new_form(group, book, **changes):
    return {
        "token": "a token",
        "group": group.pk,
        "title": "Mill brook",
        "purpose": "",
        "rulebook": book.pk,
        "zone": "Europe/Berlin",
        "requested_on": "",
    } | changes


def test_a_new_consignment_leads_on_to_its_samples(client, group, rulebook):
    response = client.post(reverse("intake:consignment_new"), new_form(group, rulebook))
    made = Consignment.objects.get()
    assert response.status_code == 302
    assert response.url == address("samples", made)
    assert (made.title, made.group, made.rulebook, made.zone) == (
        "Mill brook",
        group,
        rulebook,
        "Europe/Berlin",
    )


def test_the_usual_zone_and_the_default_rulebook_are_chosen_already(client, group, rulebook):
    form = client.get(reverse("intake:consignment_new")).context["form"]
    assert form["zone"].value() == group.zone
    assert form.fields["rulebook"].queryset.first() == rulebook


def test_only_offered_rulebooks_can_be_chosen(client, group, rulebook, system):
    hidden = RulebookVersion.objects.create(
        code="old", version=1, data={}, digest="1" * 64, dated="2020-01-01", offered=False, created_by=system
    )
    page = client.post(reverse("intake:consignment_new"), new_form(group, rulebook, rulebook=hidden.pk))
    assert page.status_code == 422
    assert "This rulebook is not offered any more" in text_of(page)


def test_with_several_groups_the_zone_may_stay_the_group_s_own(client, submitter, other_group, rulebook):
    Membership.objects.create(user=submitter, group=other_group)
    client.post(reverse("intake:consignment_new"), new_form(other_group, rulebook, zone=""))
    assert Consignment.objects.get().zone == "America/Halifax"


def test_nobody_makes_one_for_a_group_of_others(client, other_group, rulebook):
    page = client.post(reverse("intake:consignment_new"), new_form(other_group, rulebook))
    assert page.status_code == 422
    assert other_group.name not in text_of(page)
    assert not Consignment.objects.exists()


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"title": " "}, "Give the consignment a title."),
        ({"title": "x" * 201}, "The title is too long: use at most 200 characters."),
        ({"zone": "Mars/Olympus"}, "is not a time zone we know"),
        ({"requested_on": "soon"}, "This is not a date."),
        ({"requested_on": "1926-03-03"}, "This day is over."),
        ({"requested_on": "2126-03-03"}, "more than two years away"),
    ],
)
def test_a_head_that_cannot_be_is_explained_at_its_field(client, group, rulebook, changes, sentence):
    page = client.post(reverse("intake:consignment_new"), new_form(group, rulebook, **changes))
    assert page.status_code == 422
    assert sentence in text_of(page)
    assert "Error:" in page.content.decode().split("</title>")[0]
    assert not Consignment.objects.exists()


def test_emoji_and_right_to_left_titles_are_kept(client, group, rulebook):
    title = "🌊 نهر الأردن שלום"
    client.post(reverse("intake:consignment_new"), new_form(group, rulebook, title=title))
    assert Consignment.objects.get().title == title


def test_the_same_form_twice_makes_one_and_leads_to_it(client, group, rulebook):
    first = client.post(reverse("intake:consignment_new"), new_form(group, rulebook))
    second = client.post(reverse("intake:consignment_new"), new_form(group, rulebook))
    assert Consignment.objects.count() == 1
    assert first.url == second.url


def test_going_back_and_writing_another_title_makes_another(client, group, rulebook):
    client.post(reverse("intake:consignment_new"), new_form(group, rulebook))
    client.post(reverse("intake:consignment_new"), new_form(group, rulebook, title="Other"))
    assert Consignment.objects.count() == 2


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
    assert "in S1 runs out first:" in page


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


def test_what_is_sent_cannot_be_amended(client, submitter, group, rulebook):
    consignment = sent(submitter, group, rulebook)
    page = client.get(address("consignment_amend", consignment))
    assert page.status_code == 409
    assert "it can be changed only while it is a draft" in text_of(page)


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


# Like a former one


def test_a_new_one_like_a_former_takes_habits_but_no_dates_or_readings(client, submitter, group, rulebook):
    former = sent(submitter, group, rulebook, sample("S1"), sample("S2"), title="Mill brook")
    address_of_copy = f"{reverse('intake:consignment_new')}?like={former.number}"
    assert address_of_copy in client.get(address("consignment", former)).content.decode()
    form = client.get(address_of_copy).context["form"]
    assert form["title"].value() == "Mill brook"
    client.post(address_of_copy, new_form(group, rulebook, title="Mill brook, again"))
    made = Consignment.objects.get(title="Mill brook, again")
    assert [sample.own_id for sample in made.samples.all()] == ["S1", "S2"]
    copy = made.samples.first()
    assert (copy.site, copy.ec_reference, copy.water_kind) == ("Lower weir", "25", "river")
    assert (copy.collected_at, copy.ph, copy.ec_value, copy.water_temperature_c) == (None, None, None, None)
    bottle = copy.bottles.get(line="cation")
    assert (bottle.filter_pore_um, bottle.acid_kind, bottle.acid_mol_l) == (0.45, "nitric", 1.0)
    assert (bottle.to_brim, bottle.chilled, bottle.chilled_at, bottle.acid_at) == (None, None, None, None)
    assert not set(made.bottles.values_list("number")) & set(former.bottles.values_list("number"))


def test_nobody_copies_what_they_may_not_know_of(client, stranger, other_group, group, rulebook):
    theirs = sent(stranger, other_group, rulebook)
    for answer in (
        client.get(reverse("intake:consignment_new"), {"like": theirs.number}),
        client.post(f"{reverse('intake:consignment_new')}?like={theirs.number}", new_form(group, rulebook)),
    ):
        assert answer.status_code == 404
    assert Consignment.objects.count() == 1


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
