"""The pages of people: for managers only, with as many queries however many people there are."""

from __future__ import annotations

import pytest
from django.contrib.auth import SESSION_KEY
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from intake.choices import Role
from intake.models import Group, Membership, User
from tests.conftest import PASSWORD

PAGES = ["people/", "people/invite/", "people/groups/new/"]


def pages_of(person, group):
    return [*PAGES, f"people/{person.pk}/", f"people/{person.pk}/off/", f"people/groups/{group.pk}/"]


def posts_of(person, group):
    return [
        f"people/{person.pk}/role/",
        f"people/{person.pk}/groups/",
        f"people/{person.pk}/off/",
        f"people/{person.pk}/on/",
        f"people/groups/{group.pk}/",
        f"people/groups/{group.pk}/add/",
        f"people/groups/{group.pk}/remove/",
        "people/invite/",
        "people/groups/new/",
    ]


def test_a_manager_sees_them(signed_in, manager, submitter, group):
    client = signed_in(manager)
    for page in pages_of(submitter, group):
        assert client.get(f"/{page}").status_code == 200, page


@pytest.mark.parametrize("who", ["submitter", "reception"])
def test_others_do_not(signed_in, request, who, submitter, group):
    client = signed_in(request.getfixturevalue(who))
    for page in pages_of(submitter, group):
        assert client.get(f"/{page}").status_code == 403, page
    for page in posts_of(submitter, group):
        assert client.post(f"/{page}").status_code == 403, page


def test_who_is_not_signed_in_is_led_to_the_door(client, submitter, group):
    for page in pages_of(submitter, group):
        answer = client.get(f"/{page}")
        assert answer.status_code == 302
        assert answer["Location"].startswith("/account/sign-in/")


@pytest.mark.parametrize(
    "page", ["people/0/", "people/groups/0/", "people/99999/", "people/invitations/7/revoke/"]
)
def test_what_is_not_there_is_404(signed_in, manager, page):
    assert signed_in(manager).get(f"/{page}").status_code == 404


def test_the_system_itself_has_no_page(signed_in, manager, system):
    assert signed_in(manager).get(f"/people/{system.pk}/").status_code == 404


@pytest.mark.parametrize("value", ["", "x", "-1", "9" * 40, "1; drop", "٣"])
def test_nonsense_keys_are_404(signed_in, manager, group, value):
    client = signed_in(manager)
    assert client.post(f"/people/groups/{group.pk}/add/", {"person": value}).status_code == 404
    assert client.post(f"/people/{manager.pk}/groups/", {"group": value}).status_code == 404


def test_the_whole_life_of_a_person(signed_in, manager, submitter, group, other_group):
    client = signed_in(manager)
    page = f"/people/{submitter.pk}/"
    client.post(f"{page}groups/", {"group": other_group.pk})
    client.post(f"/people/groups/{group.pk}/remove/", {"person": submitter.pk})
    client.post(f"{page}role/", {"role": Role.RECEPTION})
    answer = client.post(f"{page}off/", {"reason": "left"}, follow=True)
    assert "can no longer sign in" in answer.content.decode()
    submitter.refresh_from_db()
    assert list(submitter.groups.all()) == [other_group]
    assert (submitter.role, submitter.is_active) == (Role.RECEPTION, False)
    client.post(f"{page}on/")
    submitter.refresh_from_db()
    assert submitter.is_active


def test_switching_off_ends_sessions_at_once(signed_in, manager, submitter):
    theirs = signed_in(submitter)
    assert theirs.get("/profile/").status_code == 200
    signed_in(manager).post(f"/people/{submitter.pk}/off/", {"reason": ""})
    assert theirs.get("/profile/").status_code == 302
    answer = Client().post("/account/sign-in/", {"login": submitter.email, "password": PASSWORD})
    assert SESSION_KEY not in answer.wsgi_request.session


def test_a_failed_form_names_the_fields(signed_in, manager, group):
    page = (
        signed_in(manager).post("/people/groups/new/", {"name": group.name, "zone": "UTC"}).content.decode()
    )
    assert "<title>Error:" in page
    assert page.count(f"There is a group called {group.name} already.") == 2
    assert 'href="#id_name"' in page


@pytest.mark.parametrize("page", ["/people/", "/people/groups/{group}/"])
def test_as_many_queries_for_many_people(signed_in, manager, group, page, django_assert_num_queries):
    client = signed_in(manager)
    address = page.format(group=group.pk)
    client.get(address)
    with CaptureQueriesContext(connection) as few:
        client.get(address)
    for count in range(12):
        person = User.objects.create_user(f"p{count}@lab.example", None, name=f"Person {count}")
        Membership.objects.create(user=person, group=group)
        Membership.objects.create(user=person, group=Group.objects.create(name=f"Group {count}"))
    with django_assert_num_queries(len(few)):
        client.get(address)
    assert len(few) <= 8


def test_ones_own_profile(signed_in, submitter):
    client = signed_in(submitter)
    answer = client.post("/profile/", {"name": "Sami Loft", "zone": "Pacific/Chatham"}, follow=True)
    assert "Your profile is saved." in answer.content.decode()
    assert "Times on this page are those of Pacific/Chatham." in answer.content.decode()
    given = {"name": "Sami", "zone": "UTC", "role": Role.MANAGER, "email": "x@y.example", "is_active": ""}
    client.post("/profile/", given)
    submitter.refresh_from_db()
    assert (submitter.role, submitter.is_active) == (Role.SUBMITTER, True)
    assert submitter.email == "sami.submitter@lab.example"
