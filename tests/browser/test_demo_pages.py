"""Every page of the tour, on a loaded demo laboratory: sound for axe, for the console, at each width."""

from __future__ import annotations

import pytest
from django.utils import timezone

from intake.demo.people import PASSWORD
from intake.demo.scenario import STORIES
from intake.demo.telling import tell_all
from tests.browser.chromium import HEIGHTS
from tests.browser.screenshots import PAGES

WHO = sorted({shot.who for shot in PAGES})


@pytest.mark.parametrize("who", WHO)
def test_tour_is_sound_for(page, rulebook, who):
    tell_all(STORIES, at=timezone.now())
    page.sign_in(f"{who}@demo.example", PASSWORD)
    faults = []
    for shot in (shot for shot in PAGES if shot.who == who):
        for width in HEIGHTS:
            page.width(width)
            page.go(shot.address())
            faults += [f"{shot.name} at {width} px: {fault}" for fault in faults_of(page)]
    assert not faults, "\n".join(faults)


def faults_of(page) -> list[str]:
    found = page.script_errors()
    problems = page.accessibility_problems()
    if problems:
        found.append(problems)
    if page.overflow_px() > 0:
        found.append(f"wider than the window by {page.overflow_px()} px")
    return found
