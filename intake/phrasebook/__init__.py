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
#: Reasons that the program itself writes where people write theirs; what they write is theirs.
REASONS = (
    "{sentence} The group's word: {choice}. “{answer}”",
    "{sentence} The group's word: {choice}.",
    "The group's word: {choice}. “{answer}”",
    "The group's word: {choice}.",
    "run {run} failed: {answer}",
    "run {run}: repeat at 1:{dilution}",
    "run {run}, place {position}: to be repeated at 1:{dilution}",
    "run {run} on {unit}",
    "above the calibrated range; next dilution 1:{step}",
    "kept free: bottle {number} had not come",
    "removed after it was kept long enough",
    "planned anew",
)


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


def said_reason(reason: str, language: str | None = None) -> str:
    """``reason`` as it was written by a person, or said where the program wrote it."""
    spoken = (language or get_language() or "en").split("-")[0]
    return reason if spoken == "en" or not reason else phrasebook(spoken).say_as(REASONS, reason)


#: A text of the rules said when it is shown: for labels that are made once.
said_later = lazy(said, str)
