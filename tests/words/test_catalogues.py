"""Each catalogue holds what stands in the code, all of it translated, as it is read when pages are made."""

from __future__ import annotations

import re
from collections import Counter

import polib
import pytest

from tests.words.gathering import DOMAINS, ROOT, can_gather, catalogue, key_of, path_of, present, untranslated

#: Named and numbered places of Python, of templates and of ``interpolate`` in scripts, and HTML.
PLACE = re.compile(r"%\(\w+\)[a-z]|(?<!%)%[sd]|\{\w*\}|</?[a-z][^>]*>|&[a-z]+;")


@pytest.fixture(params=DOMAINS)
def domain(request: pytest.FixtureRequest) -> str:
    return request.param


def test_nothing_is_left_untranslated_or_guessed(domain):
    assert [entry.msgid for entry in untranslated(catalogue(domain))] == []


def test_what_is_read_is_what_was_written(domain):
    """The .mo file is the .po file, compiled: ``make words`` was run."""
    written, read = catalogue(domain), polib.mofile(str(path_of(domain).with_suffix(".mo")))
    assert read.metadata == written.metadata
    assert {key_of(entry): (entry.msgstr, entry.msgstr_plural) for entry in read} == {
        key_of(entry): (entry.msgstr, entry.msgstr_plural) for entry in written
    }


@pytest.mark.skipif(not can_gather(), reason="GNU gettext reads the messages out of the code")
def test_the_catalogue_holds_the_messages_of_the_code_and_no_others(domain, monkeypatch):
    monkeypatch.chdir(ROOT)
    here, there = set(map(key_of, present(domain))), set(map(key_of, catalogue(domain)))
    assert (here - there, there - here) == (set(), set()), "run `make words`"


def test_places_for_values_and_markup_are_kept(domain):
    wrong = []
    for entry in catalogue(domain):
        if not entry.msgid_plural:
            forms = [(Counter(PLACE.findall(entry.msgid)),) * 2 + (entry.msgstr,)]
        else:
            # The form for one may say "one" without its number.
            one, many = (Counter(PLACE.findall(text)) for text in (entry.msgid, entry.msgid_plural))
            forms = [(one & many, one | many, entry.msgstr_plural[0]), (many, many, entry.msgstr_plural[1])]
        for least, most, said in forms:
            found = Counter(PLACE.findall(said))
            if not least <= found <= most:
                wrong.append((entry.msgid, said))
    assert wrong == []


def test_edges_of_messages_are_kept(domain):
    """White space and line breaks at either end belong to what stands around a message."""
    for entry in catalogue(domain):
        said = entry.msgstr_plural.values() if entry.msgid_plural else [entry.msgstr]
        for one in said:
            assert (one[:1].isspace(), one[-1:].isspace()) == (
                entry.msgid[:1].isspace(),
                entry.msgid[-1:].isspace(),
            ), entry.msgid


def test_ci_has_what_gathers():
    assert " gettext " in (ROOT / ".ci" / "run").read_text("utf-8")
