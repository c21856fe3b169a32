"""Starts Debian's Chromium for tests and pictures, and the few steps every journey shares."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib import resources
from pathlib import Path
from tempfile import TemporaryDirectory

from selenium import webdriver
from selenium.common.exceptions import WebDriverException
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.webelement import WebElement
from selenium.webdriver.support import expected_conditions
from selenium.webdriver.support.wait import WebDriverWait

WIDE = 1280
NARROW = 390
#: What 1280 px become at 400 % zoom (WCAG 2.2, 1.4.10).
ZOOMED = 320
HEIGHTS = {WIDE: 900, NARROW: 844}
WAIT_S = 20
#: How long axe may look at one page, on a busy machine.
SCRIPT_S = 180
#: As root Chromium runs only without its sandbox; the rest keeps it from calling home.
FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
    "--force-device-scale-factor=1",
    "--lang=en",
)


def chromium_path() -> str | None:
    return shutil.which("chromium")


def driver_path() -> str | None:
    return shutil.which("chromedriver")


def is_installed() -> bool:
    return bool(chromium_path() and driver_path())


@contextmanager
def chromium(downloads: Path | None = None) -> Iterator[webdriver.Chrome]:
    """A headless browser with a new, empty profile, taken down with everything it wrote."""
    with TemporaryDirectory(prefix="labqueue-chromium-") as profile:
        options = webdriver.ChromeOptions()
        options.binary_location = chromium_path() or ""
        for flag in (*FLAGS, f"--user-data-dir={profile}"):
            options.add_argument(flag)
        if downloads is not None:
            options.add_experimental_option("prefs", {"download.default_directory": str(downloads)})
        options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
        driver = webdriver.Chrome(options=options, service=webdriver.ChromeService(driver_path()))
        driver.set_script_timeout(SCRIPT_S)
        try:
            yield driver
        finally:
            driver.quit()


class Page:
    """A browser at one site, with what a person does there in few words."""

    def __init__(self, driver: webdriver.Chrome, site: str) -> None:
        self.driver = driver
        self.site = site.rstrip("/")

    def width(self, pixels: int) -> None:
        """Set the inner width of the page, exactly, whatever a window's least width is."""
        self.driver.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride",
            {
                "width": pixels,
                "height": HEIGHTS.get(pixels, HEIGHTS[NARROW]),
                "deviceScaleFactor": 1,
                "mobile": pixels == NARROW,
            },
        )

    def media(self, **features: str) -> None:
        """What the person's settings ask for, such as ``prefers_color_scheme="dark"``; else the usual."""
        asked = {"prefers-color-scheme": "light", "forced-colors": "none"}
        asked |= {name.replace("_", "-"): value for name, value in features.items()}
        self.driver.execute_cdp_cmd(
            "Emulation.setEmulatedMedia",
            {"media": "", "features": [{"name": name, "value": value} for name, value in asked.items()]},
        )

    def go(self, path: str) -> None:
        self.driver.get(self.site + path)

    def wait(self, condition: Callable, what: str) -> object:
        """Wait until ``condition`` holds; ``what`` is said if it never does."""
        # While one page gives way to the next the browser may fail to answer; it is asked again.
        waiting = WebDriverWait(self.driver, WAIT_S, ignored_exceptions=(WebDriverException,))
        return waiting.until(condition, f"Waited {WAIT_S} s for {what}.")

    def find(self, css: str) -> WebElement:
        """The first visible element of ``css``, waiting for it."""
        return self.wait(expected_conditions.visibility_of_element_located((By.CSS_SELECTOR, css)), css)

    def wait_for_text(self, text: str) -> None:
        self.wait(expected_conditions.text_to_be_present_in_element((By.TAG_NAME, "body"), text), f"“{text}”")

    def labelled(self, label: str) -> WebElement:
        """The field that a label with exactly this text (or beginning with it) names."""
        self.wait(lambda driver: self._field_of(label), f"a field labelled “{label}”")
        return self._field_of(label)

    def _field_of(self, label: str) -> WebElement | None:
        return self.driver.execute_script(
            """const wanted = arguments[0];
            const labels = [...document.querySelectorAll('label')];
            const text = (one) => one.textContent.replace(/\\s+/g, ' ').trim();
            const hit = labels.find((one) => text(one) === wanted)
                || labels.find((one) => text(one).startsWith(wanted));
            return hit ? hit.control : null;""",
            label,
        )

    def type_into(self, label: str, text: str) -> None:
        field = self.labelled(label)
        field.clear()
        field.send_keys(text)

    def press(self, text: str) -> None:
        """Activate the button or link that carries ``text``, and wait for the page it leads to."""
        self.control(text).click()

    def control(self, text: str) -> WebElement:
        script = """const wanted = arguments[0];
            const all = [...document.querySelectorAll('button, a, input[type=submit], summary')];
            const name = (one) => (one.innerText || one.value || '').replace(/\\s+/g, ' ').trim();
            const seen = all.filter((one) => one.checkVisibility());
            return seen.find((one) => name(one) === wanted)
                || seen.find((one) => name(one).startsWith(wanted)) || null;"""
        return self.wait(lambda driver: driver.execute_script(script, text), f"a control “{text}”")

    def sign_in(self, email: str, password: str) -> None:
        """Sign in by the form, as a person does."""
        self.driver.delete_all_cookies()
        self.go("/account/sign-in/")
        self.find("input[name=login]").send_keys(email)
        field = self.find("input[name=password]")
        field.send_keys(password)
        field.submit()
        self.wait(lambda driver: "/account/sign-in/" not in driver.current_url, "the sign-in to be accepted")

    def script_errors(self) -> list[str]:
        """What the browser's console complained of since it was last asked."""
        return [row["message"] for row in self.driver.get_log("browser") if row["level"] == "SEVERE"]

    def accessibility_problems(self) -> str:
        """What axe finds against WCAG 2.2 A and AA and its best practices; empty when nothing.

        In forced colours axe still reads the grounds of our stylesheet, which are not shown there.
        """
        self.driver.execute_script(axe_source())
        found = self.driver.execute_async_script(
            """const done = arguments[arguments.length - 1];
            const forced = matchMedia('(forced-colors: active)').matches;
            const asked = {resultTypes: ['violations'], rules: {'color-contrast': {enabled: !forced}}};
            axe.run(document, asked).then((result) => done(result.violations));"""
        )
        return "\n".join(_readable(violation) for violation in found)

    def overflow_px(self) -> int:
        """By how much the page is wider than the window; 0 when nothing has to be scrolled sideways."""
        return self.driver.execute_script(
            "return document.documentElement.scrollWidth - document.documentElement.clientWidth;"
        )


def axe_source() -> str:
    """The script of axe-core, out of the installed package."""
    return resources.files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")


def _readable(violation: dict) -> str:
    places = "\n".join(
        f"    {' '.join(str(part) for part in node['target'])}: {node['html'][:160]}"
        for node in violation["nodes"][:10]
    )
    return f"{violation['id']} ({violation['impact']}): {violation['help']}\n{places}"
