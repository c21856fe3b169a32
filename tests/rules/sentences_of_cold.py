# ruff: noqa: E501
"""What findings say of the cold: rows for ``test_sentences.py``."""

from intake.rules.facts import Cooling
from intake.shipped import shipped_book
from tests.rules.cases import after

ECN = shipped_book("uk-ecn")
METHOD = shipped_book("epa-300-0")


def ions(*names: str) -> frozenset[str]:
    return frozenset(names)


CASES = [
    (
        "transport warm blank",
        {"arrival": {"temperature_c": 9, "cooling": Cooling.NONE}},
        None,
        "A",
        "arrival.temperature_c",
        "9 °C on the temperature blank on arrival; rulebook House, version 1, asks for above freezing to 6 °C for nitrate and phosphate.",
    ),
    (
        "transport warm blank",
        {"arrival": {"temperature_c": 9, "cooling": Cooling.NONE}},
        None,
        "C",
        "arrival.temperature_c",
        "9 °C on the temperature blank on arrival; the laboratory asks for at most 6 °C for every bottle, though no ion of this one needs it.",
    ),
    (
        "transport warm box",
        {"arrival": {"temperature_c": 9, "cooling": Cooling.NONE, "measured_on": None}},
        None,
        "A",
        "arrival.temperature_c",
        "9 °C in the box on arrival; rulebook House, version 1, asks for above freezing to 6 °C for nitrate and phosphate.",
    ),
    (
        "transport warm this bottle",
        {"arrival": {"temperature_c": 5}, "seen": {"temperature_c": 12, "cold": None}},
        None,
        "A",
        "seen.temperature_c",
        "12 °C in the bottle on arrival; rulebook House, version 1, asks for above freezing to 6 °C for nitrate and phosphate.",
    ),
    (
        "felt warm",
        {"seen": {"cold": False}},
        None,
        "A",
        "seen.cold",
        "The bottle felt warm on arrival; rulebook House, version 1, asks for above freezing to 6 °C for nitrate and phosphate.",
    ),
    (
        "ecn too cold",
        {"arrival": {"temperature_c": 0.5}, "anion": {"ions": ions("nitrate")}},
        ECN,
        "A",
        "arrival.temperature_c",
        "0.5 °C on the temperature blank on arrival; rulebook UK Environmental Change Network, water handling, version 1, asks for 1 to 4 °C for nitrate.",
    ),
    (
        "method max only",
        {"arrival": {"temperature_c": 9}, "anion": {"ions": ions("nitrate")}},
        METHOD,
        "A",
        "arrival.temperature_c",
        "9 °C on the temperature blank on arrival; rulebook EPA Method 300.0, version 1, asks for at most 4 °C for nitrate.",
    ),
    (
        "method just above tolerance",
        {"arrival": {"temperature_c": 6.1}, "anion": {"ions": ions("nitrate")}},
        METHOD,
        "A",
        "arrival.temperature_c",
        "6.1 °C on the temperature blank on arrival; rulebook EPA Method 300.0, version 1, asks for at most 4 °C for nitrate.",
    ),
    (
        "not chilled",
        {"anion": {"chilled": False}},
        None,
        "A",
        "chilled",
        "The bottle is not kept cold; rulebook House, version 1, asks for above freezing to 6 °C for nitrate and phosphate.",
    ),
    (
        "not chilled chloride",
        {"anion": {"chilled": False, "ions": ions("chloride")}},
        None,
        "A",
        "chilled",
        "The bottle is not kept cold; the laboratory asks for at most 6 °C for every bottle, though no ion of this one needs it.",
    ),
    (
        "unstated",
        {"anion": {"chilled": None}},
        None,
        "A",
        "chilled",
        "Nobody stated whether the bottle is kept cold; rulebook House, version 1, asks for above freezing to 6 °C for nitrate and phosphate.",
    ),
    (
        "chilled late",
        {"anion": {"chilled_at": after(hours=3)}},
        None,
        "A",
        "chilled_at",
        "Put in the cold 3 hours after collection; rulebook House, version 1, allows 2 hours for nitrate and phosphate.",
    ),
    (
        "same day 9",
        {"arrival": {"temperature_c": 9, "received_at": after(hours=3)}},
        None,
        "A",
        "arrival.temperature_c",
        "Still 9 °C on arrival, but on ice and brought on the day of its collection, so it counts as chilled.",
    ),
    (
        "same day felt warm measured",
        {
            "arrival": {"temperature_c": 9, "received_at": after(hours=3)},
            "seen": {"checked_at": after(hours=3.5), "cold": False},
        },
        None,
        "A",
        "seen.cold",
        "Still warm on arrival, but on ice and brought on the day of its collection, so it counts as chilled.",
    ),
    (
        "not measured",
        {"arrival": {"temperature_c": None}},
        None,
        "A",
        "arrival.temperature_c",
        "The temperature on arrival was not measured.",
    ),
]
