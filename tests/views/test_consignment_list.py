"""Who may see what, and the list of consignments."""

import pytest
from django.urls import reverse

from intake.models import Consignment
from tests.factories import draft, sample, sent
from tests.views.pages import ENTRY_PAGES, PAGES, address, queries_of, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def client(signed_in, submitter):
    return signed_in(submitter)


@pytest.fixture
def listed():
    return reverse("intake:consignments")


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
