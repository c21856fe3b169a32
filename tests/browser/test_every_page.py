"""Every page that the demo laboratory's people can reach by links, at both ends of sizes and colours.

A walk from the first page along all links inside the site: one of each kind of address is opened,
light at 1280 px, and dark at 320 px, which is what 1280 px become at 400 % zoom (WCAG 2.2, 1.4.10).
Forms that are asked again when nothing is filled in are sent empty, so that their errors are seen, too.
"""

from __future__ import annotations

import re
from collections import Counter, deque
from collections.abc import Iterator

import pytest
from django.core.management import call_command
from django.urls import Resolver404, resolve

from intake.demo.people import PASSWORD
from tests.access import TABLE
from tests.browser.chromium import WIDE, ZOOMED, Page

OF_EACH_KIND = 1
ASKED_AGAIN = 422
#: An emptied row of the grid is a row taken out, not a fault.
NO_FAULT_WHEN_EMPTY = {"intake:samples"}
WALKERS = {"nobody": "nobody", "orrel": "submitter", "reception": "reception", "manager": "manager"}
#: What a link may name that is no page.
FILES = re.compile(r"\.(?:csv|xlsx|pdf|ics|json|svg|webp|jpg)$")
#: Fewer pages than this and the walk has lost its way.
AT_LEAST = {"nobody": 9, "orrel": 20, "reception": 22, "manager": 38}

LOOK = """
const named = (one) => one.getAttribute('aria-label') || one.getAttribute('aria-labelledby');
const seen = (css) => [...document.querySelectorAll(css)].filter((one) => one.checkVisibility());
const faults = [];
if (document.querySelectorAll('h1').length !== 1) faults.push('not one first heading');
if (!document.querySelector('a.skip[href="#main"]')) faults.push('no way past the head');
if (!document.querySelector('footer a[href="/help/"]')) faults.push('no help in the foot');
for (const one of document.querySelectorAll('svg')) {
    const silent = one.closest('[aria-hidden="true"]');
    if (!silent && !(one.getAttribute('role') === 'img' && named(one)))
        faults.push('a picture without words: ' + one.outerHTML.slice(0, 90));
}
for (const one of document.querySelectorAll('img:not([alt])'))
    faults.push('an image without words: ' + one.src);
const poor = /\\b(?:invalid|oops|forbidden|undefined)\\b|field is required|enter a valid/i;
const words = poor.exec(document.querySelector('main').innerText);
if (words) faults.push('words that help nobody: ' + words[0]);
for (const one of document.querySelectorAll('[style], script:not([src])'))
    faults.push('style or script in the page: ' + one.outerHTML.slice(0, 90));
const ticked = (one) => ['checkbox', 'radio'].includes(one.type) && one.labels[0];
const area = (one) => (ticked(one) || one).getBoundingClientRect();
for (const one of seen('button, input:not([type=hidden]), select, textarea, nav a, .button, summary')) {
    const box = area(one);
    if (box.height < 24 || box.width < 24) faults.push('smaller than 24 px: ' + one.outerHTML.slice(0, 90));
}
"""

LINKS = """return [...document.querySelectorAll('a[href]')].map((one) => new URL(one.href))
    .filter((one) => one.origin === location.origin).map((one) => one.pathname + one.search);"""

ANSWERED = """return [performance.getEntriesByType('navigation')[0].responseStatus,
    location.pathname + location.search];"""

SEND_EMPTY = """
const forms = [...document.querySelectorAll('main form[method=post]')];
const form = forms.find((one) => one.querySelector('input:not([type=hidden]), select, textarea'));
if (!form) return false;
form.noValidate = true;
for (const one of form.querySelectorAll('input, textarea'))
    if (!['hidden', 'checkbox', 'radio'].includes(one.type)) one.value = '';
document.documentElement.dataset.former = 'yes';
HTMLFormElement.prototype.submit.call(form);
return true;
"""

ANSWERS_NOW = "return document.readyState === 'complete' && !document.documentElement.dataset.former;"

SUMMARY = """
const summary = document.querySelector('[data-takes-focus]');
if (!summary) return [...faults, 'no summary of what is wrong'];
if (document.activeElement !== summary) faults.push('the summary has not the focus');
if (!document.title.startsWith('Error:')) faults.push('the title does not say Error');
for (const one of summary.querySelectorAll('a[href^="#"]'))
    if (!document.getElementById(one.hash.slice(1))) faults.push('leads to no field: ' + one.hash);
"""


def kind_of(address: str) -> str:
    """The name of the address, empty where nothing answers."""
    try:
        return resolve(address.partition("?")[0]).view_name
    except Resolver404:
        return ""


def walk(page: Page) -> Iterator[tuple[str, str]]:
    """Addresses and their kinds, nearest first, each with its links followed."""
    waiting, met, seen = deque(["/", "/help/"]), {"/", "/help/"}, Counter()
    while waiting:
        address = waiting.popleft()
        kind = kind_of(address)
        if not kind or seen[kind] >= OF_EACH_KIND:
            continue
        seen[kind] += 1
        page.go(address)
        if page.driver.execute_script("return document.contentType") != "text/html":
            continue
        for link in page.driver.execute_script(LINKS):
            if link not in met and not FILES.search(link.partition("?")[0]):
                met.add(link)
                waiting.append(link)
        yield address, kind


def faults_of(page: Page, look: str = LOOK) -> list[str]:
    found = page.driver.execute_script(look + "return faults;")
    # The browser's console tells of every answer from 400 on; 403 and 422 are answers we give.
    found += [line for line in page.script_errors() if not re.search(r"status of 4(?:03|22)", line)]
    problems = page.accessibility_problems()
    if problems:
        found.append(problems)
    if page.overflow_px() > 0:
        found.append(f"wider than the window by {page.overflow_px()} px")
    return found


@pytest.mark.parametrize("who", sorted(WALKERS))
def test_every_page_is_sound_for(page, transactional_db, who):
    call_command("load_demo", verbosity=0)
    if who != "nobody":
        page.sign_in(f"{who}@demo.example", PASSWORD)
    faults, titles, pages = [], {}, 0
    for address, kind in walk(page):
        pages += 1
        if page.driver.execute_script(ANSWERED) == [200, address]:  # else a door or a refusal answered
            titles.setdefault(page.driver.title, set()).add(kind)
        faults += [f"{address}: {fault}" for fault in faults_of(page)]
        page.media(prefers_color_scheme="dark")
        page.width(ZOOMED)
        faults += [f"{address} dark at {ZOOMED} px: {fault}" for fault in faults_of(page)]
        page.media()
        page.width(WIDE)
        asks = getattr(TABLE[kind][1], WALKERS[who]) == "form" and kind not in NO_FAULT_WHEN_EMPTY
        if asks and page.driver.execute_script(SEND_EMPTY):
            page.wait(lambda driver: driver.execute_script(ANSWERS_NOW), "the answer to an empty form")
            if page.driver.execute_script(ANSWERED)[0] == ASKED_AGAIN:
                faults += [f"{address} sent empty: {fault}" for fault in faults_of(page, LOOK + SUMMARY)]
    shared = {title: kinds for title, kinds in titles.items() if len(kinds) > 1}
    assert not faults, "\n".join(faults)
    assert not shared, f"pages of different kinds share a title: {shared}"
    assert pages >= AT_LEAST[who], f"only {pages} pages were reached"


#: Pages with the longest words or the widest tables; the queue and lists fit a desk without scrolling.
TIGHT = ("/queue/", "/people/policy/", "/bench/hours/", "/overview/", "/reception/commands/", "/trip/")
ROWS_OF_THE_HEAD = "return document.querySelector('.top').getBoundingClientRect().height"
#: One row of doors with its padding is 72 px high; a second row adds 44.
ONE_ROW_PX = 90
HIDDEN_OF_THE_QUEUE = (
    "const one = document.querySelector('.queue').closest('.frame'); return one.scrollWidth - one.clientWidth"
)


def test_german_with_its_longer_words_fits(page, transactional_db):
    call_command("load_demo", verbosity=0)
    page.sign_in("manager@demo.example", PASSWORD)
    page.driver.find_element("css selector", ".languages [value=de]").click()
    page.wait(lambda driver: driver.execute_script("return document.documentElement.lang") == "de", "German")
    faults = []
    for address in TIGHT:
        page.width(WIDE)
        page.go(address)
        if page.driver.execute_script(ROWS_OF_THE_HEAD) > ONE_ROW_PX:
            faults.append(f"{address}: the doors take a second row")
        if address == "/queue/" and page.driver.execute_script(HIDDEN_OF_THE_QUEUE) > 0:
            faults.append(f"{address}: a column is cut")
        page.width(ZOOMED)
        if page.overflow_px() > 0:
            faults.append(f"{address}: wider than {ZOOMED} px by {page.overflow_px()} px")
    page.width(WIDE)
    assert not faults, "\n".join(faults)
