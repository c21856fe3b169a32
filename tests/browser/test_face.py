"""The face in a browser: axe, keyboard, sizes, and clocks that go on without being read aloud."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from intake.pictures.timeleft import LAST_HOURS, SOON, say_left, urgency_of
from tests.browser.chromium import ZOOMED
from tests.conftest import PASSWORD

DOORS = [
    "/account/sign-in/",
    "/account/password/forgotten/",
    "/account/password/forgotten/sent/",
    "/nowhere/",
]
PAGES = ["/gallery/", "/profile/", "/people/", "/people/invite/", "/people/groups/new/", "/account/password/"]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_at_the_doors(at_width, db, scheme, assert_accessible):
    at_width.media(prefers_color_scheme=scheme)
    for address in DOORS:
        at_width.go(address)
        assert_accessible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_behind_them(at_width, manager, submitter, group, scheme, assert_accessible):
    at_width.sign_in(manager.email, PASSWORD)
    at_width.media(prefers_color_scheme=scheme)
    for address in [*PAGES, f"/people/{submitter.pk}/", f"/people/groups/{group.pk}/"]:
        at_width.go(address)
        assert_accessible()
    assert not [line for line in at_width.script_errors() if "404" not in line]


def test_nothing_scrolls_sideways_at_320_px(page, manager, submitter, group):
    """320 px is what 1280 px become at 400 % zoom: WCAG 2.2, success criterion 1.4.10."""
    page.sign_in(manager.email, PASSWORD)
    page.width(ZOOMED)
    for address in [*PAGES, f"/people/{submitter.pk}/", "/nowhere/"]:
        page.go(address)
        assert page.overflow_px() <= 0, address


def test_controls_are_large_enough(page, manager):
    """24 px at least: WCAG 2.2, 2.5.8; links inside sentences are excepted there."""
    page.sign_in(manager.email, PASSWORD)
    for address in PAGES:
        page.go(address)
        small = page.driver.execute_script(
            """const controls = 'button, input:not([type=hidden]), select, nav a, .button, .self a';
               const area = (one) => (one.type === 'checkbox' || one.type === 'radio')
                   ? one.labels[0].getBoundingClientRect() : one.getBoundingClientRect();
               return [...document.querySelectorAll(controls)]
                   .filter((one) => one.checkVisibility())
                   .map((one) => [one.outerHTML.slice(0, 80), area(one)])
                   .filter(([, box]) => box.height < 24 || box.width < 24)
                   .map(([text, box]) => `${text} ${box.width} x ${box.height}`);"""
        )
        assert not small, address


def test_the_skip_link_comes_first_and_is_seen(page, manager):
    page.sign_in(manager.email, PASSWORD)
    page.go("/people/")
    page.driver.find_element(By.TAG_NAME, "body").send_keys(Keys.TAB)
    first = page.driver.switch_to.active_element
    assert first.get_attribute("href").endswith("#main")
    assert first.rect["y"] >= 0
    first.send_keys(Keys.ENTER)
    assert page.driver.switch_to.active_element.get_attribute("id") == "main"


def test_every_stop_of_the_tab_key_shows_where_it_is(page, manager, group):
    page.sign_in(manager.email, PASSWORD)
    page.go("/people/")
    body = page.driver.find_element(By.TAG_NAME, "body")
    body.send_keys(Keys.TAB)
    seen = set()
    for _ in range(40):
        stop = page.driver.switch_to.active_element
        if stop.tag_name == "body" or stop.id in seen:
            break
        seen.add(stop.id)
        width = page.driver.execute_script("return getComputedStyle(arguments[0]).outlineWidth;", stop)
        assert width == "3px", stop.get_attribute("outerHTML")[:120]
        stop.send_keys(Keys.TAB)
    assert len(seen) > 8


def test_what_is_wrong_takes_the_focus_and_leads_to_its_field(page, manager):
    page.sign_in(manager.email, PASSWORD)
    page.go("/people/groups/new/")
    page.press("Make the group")
    summary = page.find("[data-takes-focus]")
    assert page.driver.switch_to.active_element == summary
    assert page.driver.title.startswith("Error:")
    page.press("Fill in: name of the group.")
    assert page.driver.switch_to.active_element.get_attribute("id") == "id_name"


def test_a_form_is_sent_once(page, manager):
    page.sign_in(manager.email, PASSWORD)
    page.go("/people/groups/new/")
    sent = page.driver.execute_script(
        """const form = document.querySelector('form[data-once]');
        let sent = 0;
        // After the guard has spoken: count what would leave, and keep the page where it is.
        window.addEventListener('submit', (event) => {
            if (!event.defaultPrevented) { sent += 1; event.preventDefault(); }
        });
        for (const _ of [1, 2, 3]) form.requestSubmit();
        return sent;"""
    )
    assert sent == 1
    button = page.driver.find_element(By.CSS_SELECTOR, "form[data-once] button")
    assert button.get_attribute("aria-disabled") == "true"


def test_leaving_with_something_typed_is_asked_about(page, manager):
    page.sign_in(manager.email, PASSWORD)
    page.go("/people/groups/new/")
    asks = """const event = new Event('beforeunload', {cancelable: true});
        window.dispatchEvent(event); return event.defaultPrevented;"""
    assert page.driver.execute_script(asks) is False
    page.type_into("Name of the group", "Fen survey")
    assert page.driver.execute_script(asks) is True
    page.press("Make the group")
    page.wait_for_text("The group Fen survey is there")


# Clocks

NOW = datetime(2026, 3, 18, 9, 0, tzinfo=UTC)
LEFT_MINUTES = (0, 1, 59, 60, 61, 719, 720, 721, 1439, 1440, 2879, 2880, 2881, 86399, 86400, -1, -60, -1440)


def test_the_script_says_what_the_server_says(page, db):
    page.go("/account/sign-in/")
    said = page.driver.execute_async_script(
        """const [lefts, limits, done] = arguments;
        import('/static/js/timeleft.js').then((module) => done(lefts.map((minutes) => {
            const due = minutes * 60000;
            return [module.sayLeft(due, 0), module.urgencyOf(due, 0, limits)];
        })));""",
        LEFT_MINUTES,
        {"soon": SOON.total_seconds() / 60, "lastHours": LAST_HOURS.total_seconds() / 60},
    )
    for minutes, (words, urgency) in zip(LEFT_MINUTES, said, strict=True):
        due = NOW + timedelta(minutes=minutes)
        assert words == say_left(due, NOW), minutes
        assert urgency == urgency_of(due, NOW).value, minutes


#: Gives the test the hands of the clocks: how long the page is open, and what its own clock shows.
HANDS = """
window.steps = [];
window.openedFor = 0;
window.setInterval = (step) => { window.steps.push(step); return 1; };
performance.now = () => window.openedFor;
const honest = Date.now;
Date.now = () => honest() + 86400000;
"""


@pytest.fixture
def hands(page):
    script = page.driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": HANDS})
    yield lambda hours: page.driver.execute_script(
        "window.openedFor = arguments[0] * 3600000; window.steps.forEach((step) => step());", hours
    )
    page.driver.execute_cdp_cmd(
        "Page.removeScriptToEvaluateOnNewDocument", {"identifier": script["identifier"]}
    )


def test_clocks_go_on_by_the_server_s_time_and_speak_only_at_thresholds(page, manager, hands):
    page.sign_in(manager.email, PASSWORD)
    page.go("/gallery/")

    def clock(ion):
        return page.driver.execute_script(
            """const name = [...document.querySelectorAll('.clock-ion')]
                  .find((one) => one.textContent === arguments[0]);
               const words = name.parentElement;
               return [words.querySelector('[data-due]').textContent,
                       words.querySelector('.sign').textContent.trim(),
                       words.querySelector('use').getAttribute('href').split('#')[1]];""",
            ion,
        )

    def passing():
        return page.driver.execute_script("return document.getElementById('passing').textContent;")

    # The page's own clock is a day ahead here; the server's moment counts, so nothing jumps.
    assert clock("nitrite") == ["7 h 0 min left", "last hours", "last-hours"]
    hands(0.5)
    assert clock("nitrite") == ["6 h 30 min left", "last hours", "last-hours"]
    assert passing() == ""
    before = page.driver.execute_script(
        "return document.querySelector('.clock-words').getBoundingClientRect().height;"
    )
    hands(7.5)
    assert clock("nitrite") == ["over by 30 min", "run out", "run-out"]
    assert passing().startswith("Clocks that changed just now: ")
    assert "run out" in passing()
    said = passing()
    hands(7.6)
    assert passing() == said  # nothing new is said while only minutes pass
    after = page.driver.execute_script(
        "return document.querySelector('.clock-words').getBoundingClientRect().height;"
    )
    assert after == before


def test_forced_colours_keep_the_bars(page, manager):
    page.sign_in(manager.email, PASSWORD)
    page.media(forced_colors="active")
    page.go("/gallery/")
    used, ground = page.driver.execute_script(
        """return ['.clock-bar .used', 'body'].map((css) => {
             const style = getComputedStyle(document.querySelector(css));
             return css === 'body' ? style.backgroundColor : style.fill;
           });"""
    )
    assert used != ground
