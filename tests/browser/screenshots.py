"""`make screenshots`: the README's pictures, and pictures to look at, from a demo laboratory of its own.

Each page of ``PAGES`` is opened by the person who uses it, at both widths, and written to
``static/tour`` as WebP. These and the pages of ``MORE`` are then taken whole, light and dark, at the
widths of a phone, a tablet and a desk, into ``build/pictures``, which is not kept.
"""

from __future__ import annotations

import base64
import contextlib
import os
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
TOUR = ROOT / "static" / "tour"
PICTURES = ROOT / "build" / "pictures"
WIDTHS = (360, 768, 1280)
SCHEMES = ("light", "dark")
#: Of a longer page the rest is left out.
MOST_HEIGHT = 4000
QUALITY = 72
START_S = 90


@dataclass(frozen=True, slots=True)
class Shot:
    """One page: file name, who looks (a key of the demo's people), and how to find its address."""

    name: str
    who: str
    address: Callable[[], str]


def named(name: str, *arguments: Callable[[], str]) -> Callable[[], str]:
    """The address of a URL name, whose arguments are looked up when the demo is loaded."""

    def address() -> str:
        from django.urls import reverse

        return reverse(name, args=[argument() for argument in arguments])

    return address


def consignment(title: str) -> Callable[[], str]:
    """The number of the demo's consignment whose title begins so."""

    def number() -> str:
        from intake.models import Consignment

        return Consignment.objects.get(title__startswith=title).number

    return number


def arrival(title: str) -> Callable[[], str]:
    """The number of the last arrival of that consignment."""

    def number() -> str:
        from intake.models import Arrival

        return Arrival.objects.filter(consignments__title__startswith=title).latest("received_at").number

    return number


def bottle_on_hold(title: str) -> Callable[[], str]:
    """The number of a bottle of that consignment that waits for a decision."""

    def number() -> str:
        from intake.models import Bottle

        return Bottle.objects.filter(consignment__title__startswith=title, state="on hold").first().number

    return number


PAGES = (
    Shot("consignments", "orrel", named("intake:consignments")),
    Shot("samples", "orrel", named("intake:samples", consignment("Orrel springs"))),
    Shot("sheet", "orrel", named("intake:sheet", consignment("Orrel springs"))),
    Shot("sending", "orrel", named("intake:consignment_send", consignment("Orrel springs"))),
    Shot("consignment", "skarrow", named("intake:consignment", consignment("Skarrow streams, Friday"))),
    Shot("reception", "reception", named("intake:reception")),
    Shot("arrival", "reception", named("intake:arrival", arrival("Marrin adit"))),
    Shot("desk", "reception", named("intake:desk", arrival("Marrin adit"))),
    Shot("bottle", "reception", named("intake:bottle", bottle_on_hold("Orrel wells"))),
    Shot("queue", "manager", named("labqueue:queue")),
    Shot("rulebook", "manager", named("intake:rulebook", lambda: "house", lambda: "1")),
)

MORE = (
    Shot("trip", "orrel", named("labqueue:trip")),
    Shot("questions", "orrel", named("intake:questions")),
    Shot("help", "orrel", named("intake:help")),
    Shot("guide", "orrel", named("intake:guide", lambda: "submitter")),
    Shot("reason", "orrel", named("intake:reason", lambda: "acid")),
    Shot("storage", "reception", named("intake:storage")),
    Shot("commands", "reception", named("intake:command_card")),
    Shot("bench", "manager", named("labqueue:bench")),
    Shot("plan", "manager", named("labqueue:plan")),
    Shot("units", "manager", named("labqueue:equipment")),
    Shot("dates", "manager", named("labqueue:dates")),
    Shot("people", "manager", named("intake:people")),
    Shot("overview", "manager", named("labqueue:overview")),
    Shot("results", "manager", named("intake:results")),
    Shot("gallery", "manager", named("intake:gallery")),
)


@contextlib.contextmanager
def demo_server() -> Iterator[str]:
    """A freshly loaded demo laboratory, served from a folder that is thrown away afterwards."""
    with tempfile.TemporaryDirectory(prefix="labqueue-tour-") as folder:
        os.environ.update(
            LABQUEUE_VAR=folder, LABQUEUE_ZONE="Europe/Vienna", DJANGO_SETTINGS_MODULE="labqueue.settings"
        )
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        site = f"http://127.0.0.1:{port}"
        server = subprocess.Popen(
            [sys.executable, "manage.py", "demo", "--port", str(port)], cwd=ROOT, stdout=subprocess.DEVNULL
        )
        try:
            _wait_for(site, server)
            yield site
        finally:
            server.terminate()
            server.wait(timeout=30)


def _wait_for(site: str, server: subprocess.Popen) -> None:
    deadline = time.monotonic() + START_S
    while time.monotonic() < deadline and server.poll() is None:
        with contextlib.suppress(OSError):
            urllib.request.urlopen(f"{site}/health/", timeout=5).close()  # noqa: S310
            return
        time.sleep(0.2)
    raise SystemExit("The demo laboratory did not start.")


def take(page: object, shot: Shot, width: int) -> Path:
    """Open the page at ``width`` and write what its window shows."""
    page.width(width)
    page.go(shot.address())
    page.wait(lambda driver: driver.execute_script("return document.readyState") == "complete", shot.name)
    picture = page.driver.execute_cdp_cmd("Page.captureScreenshot", {"format": "webp", "quality": QUALITY})
    path = TOUR / f"{shot.name}-{width}.webp"
    path.write_bytes(base64.b64decode(picture["data"]))
    return path


def take_whole(page: object, shot: Shot, width: int, scheme: str) -> Path:
    """The whole page at ``width`` in the colours of ``scheme``."""
    page.media(prefers_color_scheme=scheme)
    page.width(width)
    page.go(shot.address())
    height = page.driver.execute_script("return document.documentElement.scrollHeight;")
    clip = {"x": 0, "y": 0, "width": width, "height": min(height, MOST_HEIGHT), "scale": 1}
    picture = page.driver.execute_cdp_cmd(
        "Page.captureScreenshot", {"format": "png", "captureBeyondViewport": True, "clip": clip}
    )
    path = PICTURES / f"{shot.name}-{width}-{scheme}.png"
    path.write_bytes(base64.b64decode(picture["data"]))
    return path


def takes(page: object, shot: Shot) -> Iterator[Path]:
    """All pictures of one page."""
    from tests.browser.chromium import HEIGHTS

    if shot in PAGES:
        page.media()
        yield from (take(page, shot, width) for width in HEIGHTS)
    for scheme in SCHEMES:
        yield from (take_whole(page, shot, width, scheme) for width in WIDTHS)


def main() -> None:
    from tests.browser.chromium import Page, chromium, is_installed

    if not is_installed():
        raise SystemExit("Pictures need Debian's Chromium: sudo apt-get install chromium chromium-driver")
    for folder in (TOUR, PICTURES):
        folder.mkdir(parents=True, exist_ok=True)
    with demo_server() as site, chromium() as driver:
        import django

        django.setup()
        from intake.demo.people import PASSWORD

        page = Page(driver, site)
        signed_in = ""
        for shot in sorted((*PAGES, *MORE), key=lambda shot: shot.who):
            if shot.who != signed_in:
                page.media()
                page.sign_in(f"{shot.who}@demo.example", PASSWORD)
                signed_in = shot.who
            for path in takes(page, shot):
                sys.stdout.write(f"{path.relative_to(ROOT)}  {path.stat().st_size / 1024:.0f} kB\n")


if __name__ == "__main__":
    main()
