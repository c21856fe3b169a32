"""Every page of the face: its frame, its gallery, and the pages for what goes wrong."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest
from django.conf import settings
from django.core.exceptions import BadRequest
from django.db import connection
from django.http import Http404
from django.template.loader import render_to_string
from django.test import Client, RequestFactory, override_settings
from django.test.utils import CaptureQueriesContext
from django.urls import path
from django.views import defaults

from labqueue.urls import urlpatterns as real_addresses

PARTS = settings.BASE_DIR / "templates" / "_parts"
#: Parts of the queue's own page, which its own tests render.
ELSEWHERE: set[str] = set()


class Outline(HTMLParser):
    """Tags with their attributes, in order."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attrs for name, attrs in self.tags if name == tag]


@pytest.fixture
def gallery(signed_in, reception):
    return signed_in(reception).get("/gallery/")


def test_the_gallery_is_the_laboratory_s(signed_in, submitter, client):
    assert client.get("/gallery/").status_code == 302
    assert signed_in(submitter).get("/gallery/").status_code == 403


def test_the_gallery_shows_every_part(gallery):
    assert gallery.status_code == 200
    shown = {template.name for template in gallery.templates}
    parts = {f"_parts/{part.name}" for part in PARTS.glob("*.html")}
    assert parts - ELSEWHERE <= shown, parts - shown


def test_the_gallery_shows_every_shape(gallery):
    shapes = (settings.BASE_DIR / "static" / "shapes.svg").read_text(encoding="utf-8")
    text = gallery.content.decode()
    missing = [
        name for name in re.findall(r'<symbol id="([^"]+)"', shapes) if f"shapes.svg#{name}" not in text
    ]
    assert not missing


def test_the_frame_of_a_page(gallery):
    page = Outline(gallery.content.decode())
    assert page.all("html")[0]["lang"] == "en"
    assert page.all("html")[0]["data-now"].endswith("Z")
    assert page.all("a")[0]["href"] == "#main"
    assert [attrs.get("id") for attrs in page.all("main")] == ["main"]
    assert len(page.all("h1")) == 1
    ids = [attrs["id"] for _, attrs in page.tags if attrs.get("id")]
    assert len(ids) == len(set(ids)), sorted(one for one in ids if ids.count(one) > 1)


def test_every_reference_inside_the_gallery_leads_somewhere(gallery):
    page = Outline(gallery.content.decode())
    ids = {attrs.get("id") for _, attrs in page.tags}
    for tag, attrs in page.tags:
        for name in ("aria-labelledby", "aria-describedby", "for"):
            for target in (attrs.get(name) or "").split():
                assert target in ids, (tag, name, target)
        if tag == "a" and (attrs.get("href") or "").startswith("#"):
            assert attrs["href"][1:] in ids, attrs["href"]


def test_every_picture_has_words_or_is_hidden(gallery):
    for attrs in Outline(gallery.content.decode()).all("svg"):
        assert attrs.get("aria-hidden") == "true" or (attrs.get("role") == "img" and attrs.get("aria-label"))


def test_counting_clocks_are_not_read_aloud(gallery):
    page = Outline(gallery.content.decode())
    timers = [attrs for _, attrs in page.tags if attrs.get("role") == "timer"]
    assert timers
    assert all("aria-live" not in attrs for attrs in timers)
    assert all(attrs["data-due"].endswith("Z") for attrs in timers)


def test_times_carry_utc_for_machines(gallery):
    for attrs in Outline(gallery.content.decode()).all("time"):
        assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", attrs["datetime"])


def test_a_wrong_form_is_tied_together(gallery):
    page = Outline(gallery.content.decode())
    wrong = [attrs for attrs in page.all("input") if attrs.get("aria-invalid") == "true"]
    assert wrong
    for attrs in wrong:
        assert re.sub(r"_\d$", "", attrs["id"]) + "_wrong" in attrs["aria-describedby"]
    assert any("data-takes-focus" in attrs for _, attrs in page.tags)


def test_no_bare_words_of_refusal(gallery):
    text = re.sub(r"<[^>]+>", " ", gallery.content.decode())
    assert "This field is required" not in text
    assert "Enter a number." not in text
    assert "Select a valid choice" not in text


PAGES = ["/", "/gallery/", "/profile/", "/people/", "/account/second-factor/", "/account/password/"]


@pytest.mark.parametrize("address", PAGES)
def test_pages_are_not_kept_and_ask_the_database_little(signed_in, manager, address):
    client = signed_in(manager)
    client.get(address)
    with CaptureQueriesContext(connection) as queries:
        answer = client.get(address)
    assert "no-store" in answer["Cache-Control"]
    assert len(queries) <= 8, [query["sql"][:120] for query in queries]


def test_titles_are_unique(signed_in, manager):
    client = signed_in(manager)
    addresses = [page for page in PAGES if page != "/"] + ["/people/invite/", "/people/groups/new/"]
    titles = [
        re.search(r"<title>(.*?)</title>", client.get(page).content.decode()).group(1) for page in addresses
    ]
    assert len(set(titles)) == len(titles), titles
    assert all(title.endswith("· labqueue") for title in titles)


def _raise(problem: Exception):
    def view(request):
        raise problem

    return view


urlpatterns = [
    path("broken/", _raise(RuntimeError("a fault of ours"))),
    path("unread/", _raise(BadRequest("nonsense"))),
    path("absent/", _raise(Http404("not here"))),
    *real_addresses,
]


@override_settings(ROOT_URLCONF=__name__)
@pytest.mark.parametrize(
    ("address", "status", "words"),
    [
        ("/broken/", 500, "The fault is ours"),
        ("/unread/", 400, "could not be read"),
        ("/absent/", 404, "nothing at this address"),
        ("/people/", 403, "You may not do this"),
    ],
)
def test_pages_for_what_goes_wrong(signed_in, submitter, address, status, words):
    client = signed_in(submitter)
    client.raise_request_exception = False
    answer = client.get(address)
    assert answer.status_code == status
    assert words in answer.content.decode()
    assert "default-src 'self'" in answer["Content-Security-Policy"]


def test_500_needs_no_database(django_assert_num_queries, db):
    with django_assert_num_queries(0):
        answer = defaults.server_error(RequestFactory().get("/"))
    assert "nothing was saved by half" in answer.content.decode()


def test_400_needs_no_request():
    assert "could not be read" in render_to_string("400.html")


def test_a_form_without_its_secret_is_explained(submitter):
    client = Client(enforce_csrf_checks=True)
    client.force_login(submitter)
    answer = client.post("/profile/", {"name": "x", "zone": "UTC"})
    assert answer.status_code == 403
    assert "open too long" in answer.content.decode()


def test_two_missing_pages_look_alike_to_the_last_byte(signed_in, submitter):
    client = signed_in(submitter)
    assert client.get("/people/groups/").content == client.get("/consignments/nothing-here/at-all/").content


def test_no_dead_doors(signed_in, manager, reception, submitter):
    for person in (manager, reception, submitter):
        client = signed_in(person)
        page = client.get("/profile/")
        doors = [attrs["href"] for attrs in Outline(page.content.decode()).all("a")]
        for door in doors:
            if door.startswith("/"):
                assert client.get(door).status_code in (200, 302), door


@pytest.mark.django_db
def test_a_browser_of_a_language_that_is_not_there_gets_no_mixture(client):
    plain = client.get("/account/sign-in/").content.decode()
    asked = client.get("/account/sign-in/", headers={"accept-language": "fr"}).content.decode()
    assert '<html lang="en"' in asked
    assert without_what_is_new_each_time(asked) == without_what_is_new_each_time(plain)


def without_what_is_new_each_time(text: str) -> str:
    return re.sub(r'data-now="[^"]*"|name="csrfmiddlewaretoken" value="[^"]*"', "", text)
