"""A person signs in with a mail address and a password."""

from __future__ import annotations


def test_wrong_password_is_explained(at_width, manager):
    page = at_width
    page.go("/account/sign-in/")
    page.find("input[name=login]").send_keys(manager.email)
    field = page.find("input[name=password]")
    field.send_keys("not this one at all")
    field.submit()
    page.wait_for_text("not correct")
    assert "/account/sign-in/" in page.driver.current_url
