"""What of a page was not said through a translation.

The language of the walk is one in which every message is put into ⟦brackets⟧. Whatever stands outside
them on a page is either data of the laboratory or a sentence that nobody can translate.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser

from django.apps import apps
from django.conf import settings
from django.db import models

from intake import phrasebook
from intake.phrasebook.book import Phrasebook
from intake.rules.ions import BY_NAME
from intake.sheets.columns import COLUMNS
from tests.words.gathering import catalogue

OPEN, CLOSE = "⟦", "⟧"
SAID = ("title", "aria-label", "alt", "placeholder", "aria-description", "summary")
SILENT = ("script", "style", "template")
#: What is no word of a language: units, formulas, signs of zones and files, our own name.
NO_WORDS = re.compile(
    r"^[A-Z][a-z]+/[A-Z][A-Za-z/_ -]+$|"
    r"\blabqueue\b|https?://\S+|\S+@\S+|\b[A-Z][A-Za-z]+/[A-Z][A-Za-z_/]+|\b[a-z]+\.[a-z_]+\b|\.[A-Z]{2,}\b|"
    r"\b(?:[A-Z0-9]{4} [A-Z0-9]{4}|[ABCPR][A-Z0-9]{7})(?:-\d+)?\b|\b[A-Z][A-Za-z0-9]*[₂-₉⁰-⁹⁺⁻]\S*|"
    r"µm\b|\b[mµ]?mol/L|\b(?:mg/L|mL|mm)\b|"
    r"\b(?:UTC|GMT|CET|CEST|BST|AST|ADT|CSV|PDF|JSON|XLSX|SHA|ISO|EPA|CFR)\b"
)
#: A run of letters long enough for a word.
WORD = re.compile(r"[A-Za-z]{3,}")
#: What stands between texts that are put side by side.
APART = re.compile(r"[,;:()·→]|(?:^|\s)\d[\d.]*|\s–\s")


class Outside(HTMLParser):
    """Gathers the texts of a page that stand outside of every message."""

    def __init__(self) -> None:
        super().__init__()
        self.depth = 0
        self.silent = 0
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        given = dict(attributes)
        # What names its own language, such as a language in its own words, is in no need of another.
        self.silent += tag in SILENT or (tag == "button" and "lang" in given)
        for name in SAID:
            depth = self.depth
            self.depth = 0
            self._read(given.get(name) or "")
            self.depth = depth
        if tag == "input" and given.get("type") in ("submit", "button"):
            self._read(given.get("value") or "")

    def handle_endtag(self, tag: str) -> None:
        self.silent -= self.silent > 0 and tag in (*SILENT, "button")

    def handle_data(self, data: str) -> None:
        if not self.silent:
            self._read(data)

    def _read(self, text: str) -> None:
        outside = ""
        for sign in text:
            self.depth += (sign == OPEN) - (sign == CLOSE)
            outside += sign if not self.depth and sign != CLOSE else "\n"
        self.found += [part.strip() for part in outside.split("\n") if part.strip()]


def outside(page: str) -> list[str]:
    reader = Outside()
    reader.feed(page)
    return reader.found


class Known:
    """What may stand outside: what is stored, names of ions, and what the phrasebook knows.

    The sentences of the rules, of sheets and of plans are the phrasebook's; its own tests hold them.
    """

    def __init__(self) -> None:
        # A language is named in itself, wherever it is; the sheet's columns are called as in its file.
        languages = [name for _code, name in settings.LANGUAGES]
        headings = [name for column in COLUMNS for name in (column.name, column.heading.capitalize())]
        self.data = "\n".join([data_of_the_laboratory(), *languages, *headings])
        phrases = catalogue(phrasebook.DOMAIN)
        self.phrases = Phrasebook({entry.msgid: f"{OPEN}{entry.msgid}" for entry in phrases})
        self.ions = re.compile("|".join(sorted(map(re.escape, BY_NAME), key=len, reverse=True)))

    def holds(self, text: str) -> bool:
        text = text.removesuffix("· labqueue").strip()
        if self._is_data(text) or OPEN in self.phrases.say(text):
            return True
        parts = [part.strip() for part in APART.split(text)]
        return all(self._is_data(part) or OPEN in self.phrases.say(part) for part in parts)

    def _is_data(self, text: str) -> bool:
        words = self.ions.sub(" ", NO_WORDS.sub(" ", text))
        return not WORD.search(words) or text.removesuffix("…").rstrip() in self.data


def texts_of(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for name, part in value.items():
            yield str(name)
            yield from texts_of(part)
    elif isinstance(value, list):
        for part in value:
            yield from texts_of(part)


def data_of_the_laboratory() -> str:
    """Every text that is stored, in one: names, ids, notes, and the sentences of the rules."""
    found: set[str] = set()
    for label in ("intake", "labqueue"):
        for model in apps.get_app_config(label).get_models():
            names = [
                field.name
                for field in model._meta.concrete_fields
                if isinstance(field, models.CharField | models.TextField | models.JSONField)
                and not field.choices
            ]
            for row in models.QuerySet(model).values_list(*names) if names else ():
                for value in row:
                    found.update(texts_of(value))
    return "\n".join(found)
