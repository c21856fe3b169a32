"""Walks every page that links and forms of the demo laboratory lead to, as a person of some role."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import urldefrag, urljoin, urlsplit

from django.test import Client
from django.urls import Resolver404, resolve

#: As many pages are visited of one name with the same names in their query: enough to meet every state.
OF_ONE_NAME = 12
SITE = "http://testserver"


@dataclass
class Form:
    """A form of a page: where it is sent, how, and what its fields hold (choices: all of them)."""

    action: str
    method: str
    fields: dict[str, str] = field(default_factory=dict)
    choices: dict[str, list[str]] = field(default_factory=dict)
    files: set[str] = field(default_factory=set)

    @property
    def as_sent(self) -> dict[str, str]:
        """What a browser sends of the form as it stands: nothing of what is not ticked."""
        return {name: value for name, value in self.fields.items() if value or name not in self.choices}

    @property
    def kind(self) -> tuple[str, frozenset[str]]:
        """Forms of one kind are sent to one view and ask the same."""
        return view_of(self.action), frozenset(self.fields)


class Reader(HTMLParser):
    """Links, forms, and every tag and attribute of a page."""

    def __init__(self, address: str) -> None:
        super().__init__()
        self.address = address
        self.links: list[str] = []
        self.forms: list[Form] = []
        self.tags: set[str] = set()
        self.attributes: set[str] = set()
        self._select = ""
        self._area = ""

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attributes}
        self.tags.add(tag)
        self.attributes |= set(given)
        if tag == "a" and "href" in given:
            self.links.append(urljoin(self.address, given["href"]))
        elif tag == "form":
            action = urljoin(self.address, given.get("action") or self.address)
            self.forms.append(Form(action, given.get("method", "get").lower()))
        elif self.forms:
            self._control(tag, given)

    def _control(self, tag: str, given: dict[str, str]) -> None:
        form, name = self.forms[-1], given.get("name", "")
        if tag == "option":
            self._option(form, given)
        if not name:
            return
        if tag in ("select", "textarea"):
            form.fields.setdefault(name, "")
            self._select, self._area = (name, "") if tag == "select" else ("", name)
        elif tag == "button":
            form.choices.setdefault(name, []).append(given.get("value", ""))
            form.fields.setdefault(name, given.get("value", ""))
        elif tag == "input" and given.get("type") == "file":
            form.files.add(name)
        elif tag == "input":
            ticked = given.get("type") in ("radio", "checkbox")
            value = given.get("value", "on" if ticked else "")
            if ticked:
                form.choices.setdefault(name, []).append(value)
            if not ticked or "checked" in given:
                form.fields[name] = value
            form.fields.setdefault(name, "")

    def _option(self, form: Form, given: dict[str, str]) -> None:
        choices = form.choices.setdefault(self._select, [])
        # Where none is chosen a browser sends the first.
        if not choices or "selected" in given:
            form.fields[self._select] = given.get("value", "")
        choices.append(given.get("value", ""))

    def handle_data(self, data: str) -> None:
        if self._area:
            self.forms[-1].fields[self._area] += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea":
            self._area = ""


def view_of(address: str) -> str:
    """The name of the view that answers at ``address``; empty where none does."""
    try:
        return resolve(urlsplit(address).path).view_name
    except Resolver404:
        return ""


def read(address: str, text: str) -> Reader:
    reader = Reader(SITE + address)
    reader.feed(text)
    return reader


@dataclass(frozen=True)
class Page:
    address: str
    status: int
    kind: str
    content: bytes
    reader: Reader | None


def pages_of(client: Client, begin: str = "/") -> Iterator[Page]:
    """Every page that can be reached from ``begin`` by links and searching forms."""
    waiting, met, counts = [begin], {begin}, {}
    while waiting:
        address = waiting.pop()
        answer = client.get(address, follow=True)
        content = b"".join(answer.streaming_content) if answer.streaming else answer.content
        kind = answer.headers.get("Content-Type", "")
        is_page = kind.startswith("text/html")
        reader = read(address, content.decode()) if is_page else None
        yield Page(address, answer.status_code, kind, content, reader)
        if reader is None:
            continue
        searches = [form.action for form in reader.forms if form.method == "get"]
        for link in (*reader.links, *searches):
            parts = urlsplit(urldefrag(link)[0])
            found = parts.path + (f"?{parts.query}" if parts.query else "")
            if f"{parts.scheme}://{parts.netloc}" != SITE or found in met or not view_of(parts.path):
                continue
            met.add(found)
            asked = tuple(sorted(pair.partition("=")[0] for pair in parts.query.split("&")))
            sort = (view_of(parts.path), asked)
            counts[sort] = counts.get(sort, 0) + 1
            if counts[sort] <= OF_ONE_NAME:
                waiting.append(found)
