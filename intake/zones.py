"""The time zones a person may choose from."""

from __future__ import annotations

from functools import cache
from importlib import resources
from zoneinfo import available_timezones


@cache
def known_zones() -> frozenset[str]:
    """UTC and every IANA zone that is named after a place, former names included."""
    return frozenset(
        zone
        for zone in available_timezones()
        if zone == "UTC" or ("/" in zone and not zone.startswith("Etc/"))
    )


@cache
def zone_choices() -> tuple[tuple[str, str], ...]:
    """UTC and the zones in use today, in order: those that the IANA tables list for a country.

    Former names (US/Eastern, Asia/Calcutta) are links kept for old data; they are understood, but
    not offered. Source: ``zone.tab`` of the IANA time zone database, third column.
    """
    table = resources.files("tzdata").joinpath("zoneinfo", "zone.tab").read_text(encoding="utf-8")
    lines = (line.split("\t") for line in table.splitlines() if line and not line.startswith("#"))
    named = sorted({columns[2] for columns in lines} & known_zones())
    return tuple((zone, zone.replace("_", " ")) for zone in ("UTC", *named))
