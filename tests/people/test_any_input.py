"""Whatever is typed into the forms of people and doors: a page comes back, never a fault of ours."""

from __future__ import annotations

import pytest
from django.core.cache import cache
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from intake.choices import Role
from intake.models import Group, User
from tests.conftest import PASSWORD

#: Text as it comes: empty, controls, right-to-left, emoji, very long, what looks like markup.
TEXT = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"]), max_size=60),
    st.sampled_from(
        [
            "",
            " ",
            "\x00",
            "a\x00b",
            "\u202eabc",
            "🚰" * 300,
            "<script>x</script>",
            "'; --",
            "9" * 400,
        ]
    ),
)
FIELDS = ("name", "zone", "email", "role", "group", "person", "reason", "login", "password", "code")
FORMS = (
    "/people/invite/",
    "/people/groups/new/",
    "/people/groups/{group}/",
    "/people/groups/{group}/add/",
    "/people/groups/{group}/remove/",
    "/people/{person}/role/",
    "/people/{person}/groups/",
    "/profile/",
    "/invitation/none/",
    "/account/sign-in/",
    "/account/password/forgotten/",
    "/account/password/",
)


class AnyInput(TestCase):
    def setUp(self):
        cache.clear()
        self.manager = User.objects.create_user("m@lab.example", PASSWORD, name="Mara", role=Role.MANAGER)
        self.person = User.objects.create_user("p@lab.example", None, name="Pia")
        self.group = Group.objects.create(name="Reedmoor hydrology")

    @settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(st.sampled_from(FORMS), st.dictionaries(st.sampled_from(FIELDS), TEXT))
    def test_no_input_is_a_fault(self, address, typed):
        client = Client()
        client.force_login(self.manager)
        answer = client.post(address.format(group=self.group.pk, person=self.person.pk), typed)
        assert answer.status_code in (200, 302, 404, 410, 429)
        self.manager.refresh_from_db()
        assert (self.manager.role, self.manager.is_active) == (Role.MANAGER, True)


def test_somebody_without_a_password_can_set_one(signed_in, person):
    pia = person("Pia Plain")
    pia.set_unusable_password()
    pia.save()
    page = signed_in(pia).get("/account/password/", follow=True)
    assert page.status_code == 200
    assert "Set my password" in page.content.decode()


@pytest.mark.parametrize("number", [0, 2**31, 2**63 - 1, 2**63, 10**30, 10**400, 10**4000])
@pytest.mark.parametrize("address", ["/people/{}/", "/people/groups/{}/", "/people/invitations/{}/revoke/"])
def test_numbers_of_any_size_in_addresses_are_not_found(signed_in, manager, address, number):
    assert signed_in(manager).get(address.format(number)).status_code == 404
