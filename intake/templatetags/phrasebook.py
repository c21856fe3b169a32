"""``{{ finding.sentence|said }}``: a stored English text in the language of whoever reads the page.

Every template has these filters without loading them.
"""

from __future__ import annotations

from collections.abc import Iterable

from django import template

from intake.phrasebook import said, said_reason

register = template.Library()
register.filter("said", said)
register.filter("said_reason", said_reason)


@register.filter
def said_each(words: Iterable[object]) -> list[str]:
    """The words of the rules, such as the names of ions, one by one."""
    return [said(word) for word in words]
