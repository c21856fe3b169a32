"""A security key that the laboratory demands, added and used; the browser plays the key."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from selenium.webdriver.common.virtual_authenticator import VirtualAuthenticatorOptions

from intake.actions.policy import change_policy, policy
from tests.browser.chromium import NARROW, WIDE
from tests.conftest import PASSWORD
from tests.factories import ENTERED


@pytest.fixture
def key(page) -> Iterator[None]:
    """A security key that is touched at once."""
    options = VirtualAuthenticatorOptions()
    options.has_user_verification = True
    options.is_user_verified = True
    page.driver.add_virtual_authenticator(options)
    yield
    page.driver.remove_virtual_authenticator()


def test_a_demanded_key_is_added_and_lets_in(page, sign_in, assert_accessible, manager, key):
    change_policy(by=manager, at=ENTERED, version=policy().version, second_factor="staff", keep_years=5)
    sign_in(manager)
    page.go("/queue/")
    page.wait_for_text("Your laboratory asks for a second factor")
    for width in (WIDE, NARROW):
        page.width(width)
        assert_accessible()
    page.press("Add a key")
    page.find("input[name=password]").send_keys(PASSWORD)
    page.press("Go on")
    page.wait_for_text("Name of the key")
    assert_accessible()
    page.press("Add this key")
    page.wait_for_text("Each code lets you in once")
    page.go("/people/policy/")
    page.wait_for_text("Years for which consignments are kept")
    assert_accessible()

    page.sign_in(manager.email, PASSWORD)
    page.wait_for_text("Or with your security key")
    assert_accessible()
    page.press("Use my key")
    page.wait(lambda driver: "/account/" not in driver.current_url, "the first page after signing in")
    page.go("/profile/sessions/")
    page.wait_for_text("this one")
    assert_accessible()
    page.width(WIDE)
    assert_accessible()
    assert page.script_errors() == []


def test_without_a_key_the_page_says_what_to_do(page, sign_in, manager):
    sign_in(manager)
    page.go("/account/second-factor/keys/new/")
    page.find("input[name=password]").send_keys(PASSWORD)
    page.press("Go on")
    page.driver.execute_script("navigator.credentials.create = () => Promise.reject(new Error('no key'))")
    page.press("Add this key")
    page.wait_for_text("The key gave no answer")
