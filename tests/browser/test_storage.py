"""Putting bottles away and discarding them with scanner alone; the pages at every width."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.conf import settings
from django.utils import timezone
from selenium.webdriver.common.keys import Keys

from intake.actions.checking import check_bottle
from intake.actions.stowing import make_place
from intake.models import Bottle
from tests.browser.bench import Scanning, announced, on_the_bench, water


@pytest.fixture
def place(reception):
    at = timezone.now()
    fridge = make_place(by=reception, at=at, name="Fridge 2", kind="fridge")
    return make_place(by=reception, at=at, name="Box 7", kind="box", inside=fridge)


@pytest.fixture
def bottles(submitter, reception, group, rulebook) -> list[Bottle]:
    waters = [water(f"ST-{number}", hazards="may hold sewage") for number in range(4)]
    consignment = announced(submitter, group, rulebook, "Ditches", *waters)
    arrival = on_the_bench(reception, consignment)
    found = list(consignment.bottles.select_related("sample", "consignment").filter(line="anion"))
    for bottle in found:
        check_bottle(bottle, arrival, by=reception, at=timezone.now(), seen={"cold": True}, in_order=True)
    return found


def test_a_box_is_filled_by_scans_alone(sign_in, reception, place, bottles, assert_accessible):
    store = Scanning(sign_in(reception), "/storage/", "#scan")
    assert store.focused()
    store.type(place.number + Keys.ENTER + "".join(bottle.number + Keys.ENTER for bottle in bottles))
    store.page.wait(lambda _: len(store.told()) == 5, "every scan to be answered")
    assert [answer["tone"] for answer in store.told()] == ["look", *["accepted"] * 4]
    assert set(Bottle.objects.filter(line="anion").values_list("stored_in", flat=True)) == {place.pk}
    assert "Bottles go into: Fridge 2, Box 7" in store.driver.find_element("id", "panel").text
    assert store.times_focus_was_lost() == 0
    assert store.scan("P2345678") == "Misread"
    assert_accessible()
    assert not store.page.script_errors()


def test_a_lost_session_keeps_the_scans(sign_in, reception, place, bottles):
    store = Scanning(sign_in(reception), "/storage/", "#scan")
    store.scan(place.number)
    store.driver.delete_cookie("sessionid")
    store.type(bottles[0].number + Keys.ENTER)
    store.page.wait_for_text("You are signed out")
    assert store.focused()
    store.page.press("Sign in")
    store.page.find("input[name=login]").send_keys(reception.email)
    field = store.page.find("input[name=password]")
    field.send_keys("a long enough word for tests")
    field.submit()
    store.page.wait_for_text("stands in Fridge 2")
    bottles[0].refresh_from_db()
    assert bottles[0].stored_in == place


def test_discarding_by_scan_shows_the_hazards(sign_in, reception, bottles, assert_accessible):
    long_ago = timezone.now() - timedelta(days=settings.DISCARD_AFTER_DAYS + 1)
    Bottle.objects.filter(pk=bottles[0].pk).update(state="refused", decided_at=long_ago, decided_by=reception)
    waste = Scanning(sign_in(reception), "/storage/discard/", "#scan")
    assert "Declared: may hold sewage." in waste.driver.find_element("id", "panel").text
    assert_accessible()
    assert waste.scan(bottles[1].number) == "Keep it"
    assert waste.scan(bottles[0].number) == "Discarded"
    assert "Nothing is to be discarded" in waste.driver.find_element("id", "panel").text
    assert waste.times_focus_was_lost() == 0


@pytest.mark.parametrize("width", [1280, 768, 360])
def test_the_pages_fit_every_width(sign_in, reception, place, bottles, assert_accessible, width):
    page = sign_in(reception)
    page.width(width)
    for address in (
        "/storage/",
        f"/storage/places/{place.number}/",
        "/storage/places/new/",
        "/storage/discard/",
    ):
        page.go(address)
        assert_accessible()
