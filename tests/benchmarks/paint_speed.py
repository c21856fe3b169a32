"""How soon the largest part of each page of the tour is painted, in Chromium on the demo laboratory.

Largest Contentful Paint as the browser reports it, at 1280 px, the median of some openings, with the
browser's own files warm. Bar: 1 s. Served as `make demo` serves; nothing is compressed on the way.
"""

from __future__ import annotations

import statistics
import sys

from tests.browser.chromium import WIDE, Page, chromium, is_installed
from tests.browser.screenshots import PAGES, demo_server

ROUNDS = 5
BAR_MS = 1000.0
PAINTED = """
const done = arguments[0];
let last = 0;
new PerformanceObserver((list) => list.getEntries().forEach((entry) => { last = entry.startTime; }))
    .observe({type: 'largest-contentful-paint', buffered: true});
setTimeout(() => done(last), 300);
"""


def main() -> int:
    if not is_installed():
        print("left out: Chromium and its driver are not installed")
        return 0
    missed = False
    print(f"{'page':<16}{'ms':>6}   (bar {BAR_MS:.0f} ms)")
    with demo_server() as site, chromium() as driver:
        import django

        django.setup()
        from intake.demo.people import PASSWORD

        page = Page(driver, site)
        page.width(WIDE)
        signed_in = ""
        for shot in PAGES:
            if shot.who != signed_in:
                page.sign_in(f"{shot.who}@demo.example", PASSWORD)
                signed_in = shot.who
            times = []
            for _round in range(ROUNDS):
                page.go(shot.address())
                times.append(driver.execute_async_script(PAINTED))
            middle = statistics.median(times)
            missed |= middle > BAR_MS
            print(f"{shot.name:<16}{middle:>6.0f}{'  over' if middle > BAR_MS else ''}")
    return int(missed)


if __name__ == "__main__":
    sys.exit(main())
