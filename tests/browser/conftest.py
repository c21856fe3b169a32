"""One browser for all browser tests, and a page at the live server for each."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator

import pytest
from django.conf import settings
from django.core.cache import cache
from django.db import connections

from tests.browser.chromium import NARROW, WIDE, Page, chromium, is_installed
from tests.conftest import PASSWORD

PICTURES = settings.BASE_DIR / "build" / "browser"


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Without Chromium the browser tests are left out, plainly; in CI they fail instead."""
    if is_installed() or os.environ.get("CI"):
        return
    ours = [item for item in items if "browser" in item.keywords]
    if ours:
        config.hook.pytest_deselected(items=ours)
        items[:] = [item for item in items if item not in ours]


@pytest.fixture(scope="session")
def driver() -> Iterator[object]:
    if not is_installed():
        pytest.fail("Chromium and its driver are not installed (Debian: chromium, chromium-driver).")
    with chromium() as started:
        yield started


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo) -> Iterator[None]:
    """Keep a picture of what a failing test saw."""
    report = yield
    seen = item.funcargs.get("driver") if hasattr(item, "funcargs") else None
    if report.when == "call" and report.failed and seen is not None:
        PICTURES.mkdir(parents=True, exist_ok=True)
        path = PICTURES / f"{item.name.replace('/', '_')}.png"
        seen.save_screenshot(str(path))
        report.sections.append(("picture of the page", f"{path}\n{seen.current_url}"))
    return report


@pytest.fixture
def page(driver: object, live_server: object) -> Iterator[Page]:
    """The browser at the live server, signed out, wide. Its database is emptied afterwards."""
    opened = Page(driver, live_server.url)
    # Sign-ins are counted and entries kept on the device; neither may reach from test to test.
    cache.clear()
    driver.execute_cdp_cmd(
        "Storage.clearDataForOrigin", {"origin": live_server.url, "storageTypes": "cookies,local_storage"}
    )
    driver.delete_all_cookies()
    opened.script_errors()  # what a former test left in the console is not this test's
    opened.width(WIDE)
    opened.media()
    yield opened
    driver.get("about:blank")
    connections.close_all()


@pytest.fixture
def second_page(live_server: object) -> Iterator[Page]:
    """A second browser at the live server, for a second person."""
    with chromium() as driver:
        opened = Page(driver, live_server.url)
        opened.width(WIDE)
        yield opened


@pytest.fixture
def sign_in(page: Page) -> Callable[[object], Page]:
    """``sign_in(user)`` goes through the sign-in form as that person."""

    def as_user(user: object) -> Page:
        page.sign_in(user.email, PASSWORD)
        return page

    return as_user


@pytest.fixture(params=[WIDE, NARROW], ids=["1280 px", "390 px"])
def at_width(page: Page, request: pytest.FixtureRequest) -> Page:
    """The page at each width the lab's people use."""
    page.width(request.param)
    return page


@pytest.fixture
def assert_accessible(page: Page) -> Callable[[], None]:
    """Fails with axe's words when it finds anything on the page as it stands."""

    def check() -> None:
        problems = page.accessibility_problems()
        assert not problems, f"{page.driver.current_url}\n{problems}"
        assert page.overflow_px() <= 0, f"{page.driver.current_url} has to be scrolled sideways"

    return check
