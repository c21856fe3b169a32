"""What a page weighs on the wire, and that nothing on it jumps while it is drawn.

Bars: 120 kB compressed for the page with all of its own files; layout shift 0 (Cumulative Layout Shift of
the Layout Instability API). How soon the largest part is painted is a time and is measured by
``tests/benchmarks/paint_speed.py``.
"""

from __future__ import annotations

import gzip
import urllib.request

import pytest
from django.core.management import call_command

from intake.demo.people import PASSWORD
from tests.browser.chromium import HEIGHTS, Page
from tests.browser.screenshots import PAGES

MOST_BYTES = 120_000
SETTLED_MS = 300

FILES = "return performance.getEntriesByType('resource').map((one) => one.name);"
SHIFT = """
const done = arguments[arguments.length - 1];
let shift = 0;
new PerformanceObserver((list) => list.getEntries().forEach((entry) => { shift += entry.value; }))
    .observe({type: 'layout-shift', buffered: true});
setTimeout(() => done(shift), arguments[0]);
"""


def compressed(content: bytes) -> int:
    return len(gzip.compress(content, 6))


def weight_of(page: Page) -> int:
    """The page and the files of ours that it loaded, each compressed."""
    files = {name for name in page.driver.execute_script(FILES) if name.startswith(page.site)}
    read = [urllib.request.urlopen(name).read() for name in sorted(files)]  # noqa: S310
    return compressed(page.driver.page_source.encode()) + sum(map(compressed, read))


@pytest.mark.long  # beside other work a page may be drawn in parts, and then shifts
@pytest.mark.parametrize("who", sorted({shot.who for shot in PAGES}))
def test_pages_are_light_and_stand_still_for(page, transactional_db, who):
    call_command("load_demo", verbosity=0)
    page.sign_in(f"{who}@demo.example", PASSWORD)
    faults = []
    for shot in (shot for shot in PAGES if shot.who == who):
        for width in HEIGHTS:
            page.width(width)
            page.go(shot.address())
            shift = page.driver.execute_async_script(SHIFT, SETTLED_MS)
            if shift > 0:
                faults.append(f"{shot.name} at {width} px shifts by {shift:.4f}")
        weight = weight_of(page)
        if weight > MOST_BYTES:
            faults.append(f"{shot.name} weighs {weight} bytes")
    assert not faults, "\n".join(faults)
