"""What is stored is said in English, whatever language the person speaks who has it stored.

The record, findings, clocks, questions, decisions, what became of jobs, and statements are read by many
and sealed or compared later, so one act must leave one text. They are put into the reader's language
where they are shown.
"""

from __future__ import annotations

from django.utils import translation

LANGUAGE = "en"


def stored_words() -> translation.override:
    """English for as long as it is held; a decorator of what makes or writes stored texts, too."""
    return translation.override(LANGUAGE)
