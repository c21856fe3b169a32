"""Acid at the desk: how much is missing, what follows from it, never for anions; the signs shown."""

import re

import pytest
from django.conf import settings
from django.utils import timezone

from intake.actions.checking import check_bottle
from intake.errors import EntryProblem
from tests.factories import RECEIVED, opened, sample, sent
from tests.views.scanner import Scanner

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def at_the_moment_of_arrival(monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: RECEIVED)


@pytest.fixture
def arrival(reception, submitter, group, rulebook):
    return opened(reception, sent(submitter, group, rulebook, sample("W-1")))


@pytest.fixture
def scan(signed_in, reception, arrival):
    return Scanner(signed_in(reception), arrival)


@pytest.fixture
def anion(arrival):
    return arrival.consignments.get().bottles.get(line="anion")


@pytest.fixture
def cation(arrival):
    return arrival.consignments.get().bottles.get(line="cation")


def state(bottle):
    bottle.refresh_from_db()
    return bottle.state


def test_a_strip_above_the_limit_tells_how_much_acid_how_long_and_what_follows(scan, cation):
    """EPA Method 200.7 Rev 4.4 (1994) 8.2: 16 h to stand; what was done is then written down."""
    scan(cation.number)
    scan(".OK")
    panel = scan("3-4")["panel"]
    for clause in (
        "mL of 1 mol/L nitric acid in small steps",
        "stand 16 h",
        "No clock starts anew",
        "every cation result is multiplied by",
        "gloves",
        "follow the rules of your laboratory",
        "Write down the acid added here",
    ):
        assert clause in panel


def test_no_acid_is_ever_offered_for_a_bottle_for_anions(scan, anion, arrival, reception):
    """EPA Method 300.0 Rev 2.1 (1993) 8.2: nitrite and nitrate are kept without acid."""
    scan(anion.number)
    scan("4")
    panel = scan("7")["panel"]
    assert "nitric acid in small steps" not in panel
    assert "Write down the acid" not in panel
    with pytest.raises(EntryProblem, match="no acid goes into it"):
        check_bottle(anion, arrival, by=reception, at=RECEIVED, seen={"acid_added_ml": 0.5})


def test_a_bottle_with_little_acid_is_not_passed_with_the_sound_of_a_good_one(scan, cation):
    """The house rulebook names no pH; above 2.5 the desk still says so (house choice)."""
    scan(cation.number)
    scan(".OK")
    answer = scan("3")
    assert (answer["tone"], answer["word"]) == ("ask", "Accepted, but little acid")
    assert state(cation) == "ready"


def test_every_sign_the_desk_shows_is_drawn():
    shapes = (settings.BASE_DIR / "static" / "shapes.svg").read_text("utf-8")
    for name in ("desk.js", "store.js"):
        script = (settings.BASE_DIR / "static" / "js" / name).read_text("utf-8")
        signs = re.search(r"const SIGNS = \{(.*?)\}", script).group(1)
        for sign in (*re.findall(r'"([a-z-]+)"', signs), "note"):
            assert f'<symbol id="{sign}"' in shapes
