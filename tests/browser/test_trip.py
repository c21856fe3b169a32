"""The evening before a field day: the trip check in a real browser, on a phone and on a desk."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from tests.browser.chromium import WIDE

PHONE = 360


@pytest.fixture(params=[WIDE, PHONE], ids=["1280 px", "360 px"])
def asking(page, rulebook, request):
    page.width(request.param)
    return page


def next_friday() -> str:
    today = timezone.now().date()
    return (today + timedelta(days=(4 - today.weekday()) % 7 + 7)).isoformat()


def test_the_question_and_its_answer(asking, assert_accessible):
    page = asking
    page.go("/trip/")
    assert_accessible()
    page.find("button.button-main").click()
    page.wait_for_text("At reception by")
    assert_accessible()


def test_a_friday_trip_is_changed_until_it_works(asking, rulebook, assert_accessible):
    page = asking
    day = next_friday()
    page.go(
        f"/trip/?sets=nutrients&sites=4&begins={day}T14:00&ends={day}T14:00&zone=UTC&transport_h=20"
        "&kept=filtered&kept=chilled&water=unknown&ec=&alkalinity="
        f"&book={rulebook.pk}"
    )
    page.wait_for_text("no injection can start in time")
    assert_accessible()
    page.find(".trip-options a").click()
    page.wait_for_text("This trip works")
    assert_accessible()
