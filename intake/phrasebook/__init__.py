"""Stored English sentences in the reader's language.

What judging, planning and reading sheets say is kept in English: findings, reasons of clocks, advice,
questions and problems of a sheet are records and stay as they were made. Shown, each is said with the
phrases of the catalogue ``phrases``, gathered out of the source by ``make words``.
"""

from __future__ import annotations

import gettext
from functools import cache

from django.conf import settings
from django.utils.functional import lazy
from django.utils.translation import get_language

from intake.phrasebook.book import Phrasebook

DOMAIN = "phrases"


@cache
def phrasebook(language: str) -> Phrasebook:
    """The phrases of ``language``; empty where nothing is translated."""
    entries: dict[str, str] = {}
    for folder in settings.LOCALE_PATHS:
        found = gettext.translation(DOMAIN, folder, [language], fallback=True)
        # The only way to all messages of a catalogue; Django's own translations read it, too.
        known = getattr(found, "_catalog", {})
        entries |= {text: said for text, said in known.items() if isinstance(text, str) and text and said}
    return Phrasebook(entries)


def said(sentence: object, language: str | None = None) -> str:
    """``sentence``, a text of the rules, in ``language`` or in that of the reader.

    English is given back as it is; so is what the catalogue does not know.
    """
    text = str(sentence)
    spoken = (language or get_language() or "en").split("-")[0]
    if spoken == "en" or not text:
        return text
    return phrasebook(spoken).say(text)


#: The same, said when it is shown: for labels that are made once.
said_later = lazy(said, str)
