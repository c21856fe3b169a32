"""The time zones a person may choose from."""

from __future__ import annotations

from functools import cache
from zoneinfo import available_timezones


@cache
def zone_choices() -> tuple[tuple[str, str], ...]:
    """UTC and every IANA zone that is named after a place, in order."""
    named = sorted(zone for zone in available_timezones() if "/" in zone and not zone.startswith("Etc/"))
    return tuple((zone, zone.replace("_", " ")) for zone in ("UTC", *named))
