"""Which time zones are offered, and which are understood."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo, available_timezones

import pytest
from django import forms

from intake.forms.zones import ZoneField
from intake.zones import known_zones, zone_choices

#: Former names and what they became (file "backward" of the IANA time zone database).
FORMER = {"US/Eastern": "America/New_York", "Asia/Calcutta": "Asia/Kolkata", "Europe/Kiev": "Europe/Kyiv"}


class Asked(forms.Form):
    zone = ZoneField(label="Zone")


@pytest.mark.parametrize(("former", "today"), FORMER.items())
def test_former_names_are_not_offered_but_understood(former, today):
    offered = dict(zone_choices())
    assert former not in offered
    assert today in offered
    assert Asked({"zone": former}).is_valid()


def test_every_zone_in_use_is_offered_and_known():
    offered = [zone for zone, _words in zone_choices()]
    assert offered[0] == "UTC"
    assert offered[1:] == sorted(set(offered[1:]))
    assert set(offered) <= known_zones() <= available_timezones()
    for zone in ("Europe/Vienna", "Europe/Oslo", "America/Argentina/Ushuaia", "Asia/Kathmandu"):
        assert zone in offered
    # No offset that is on a clock somewhere today is out of reach.
    at = datetime(2026, 1, 1, tzinfo=UTC)
    reached = {at.astimezone(ZoneInfo(zone)).utcoffset() for zone in offered}
    assert {at.astimezone(ZoneInfo(zone)).utcoffset() for zone in known_zones()} <= reached


def test_a_former_name_that_stands_in_the_form_stays_there():
    shown = str(Asked(initial={"zone": "US/Eastern"})["zone"])
    assert '<option value="US/Eastern" selected>US/Eastern</option>' in shown
    assert "US/Eastern" not in str(Asked(initial={"zone": "UTC"})["zone"])
    assert "Mars" not in str(Asked({"zone": "Mars/Base"})["zone"])


@pytest.mark.parametrize("zone", ["", "Mars/Base", "Etc/GMT+5", "posixrules", "\x00"])
def test_what_is_no_zone_is_refused(zone):
    assert not Asked({"zone": zone}).is_valid()
