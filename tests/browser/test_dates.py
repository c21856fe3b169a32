"""A day of analysis in a real browser: asked for on a phone, answered at a desk, subscribed to."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from tests.browser.chromium import WIDE
from tests.factories import draft, sample


@pytest.fixture(params=[WIDE, 360], ids=["1280 px", "360 px"])
def asking(page, request):
    page.width(request.param)
    return page


def next_tuesday() -> str:
    today = timezone.now().date()
    return (today + timedelta(days=(1 - today.weekday()) % 7 + 7)).isoformat()


def test_asked_for_proposed_and_accepted(
    asking, sign_in, submitter, manager, group, rulebook, assert_accessible
):
    page = asking
    consignment = draft(submitter, group, rulebook, sample())
    address = f"/consignments/{consignment.number}/date/"
    sign_in(submitter)
    page.go(f"{address}?day={next_tuesday()}")
    page.wait_for_text("Room on the next days")
    assert_accessible()
    page.press("Ask for this day")
    page.wait_for_text("asked for")
    sign_in(manager)
    page.go("/dates/")
    page.wait_for_text(consignment.title)
    assert_accessible()
    page.press(consignment.title)
    page.wait_for_text("Propose another day")
    assert_accessible()
    page.press("Propose")
    page.wait_for_text("proposed by the laboratory")
    sign_in(submitter)
    page.go(address)
    page.press("Accept this day")
    page.wait_for_text("the day is agreed")
    page.go("/profile/calendar/")
    page.press("Make an address")
    page.wait_for_text("This is your address")
    assert_accessible()
