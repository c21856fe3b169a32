"""By which words a consignment is found. Pure text: nothing here reads or writes.

A text is found by the beginnings of its words, whatever their case and accents. A word begins where
letters or figures begin and goes on to the next space, so that "MB-07/2" is found by "mb-0", "07/2"
and "2". Every beginning is kept as a row of its own: to look one up costs the same however many there are.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

from intake.numbers import CONSIGNMENT, is_number, tidy

#: Longest beginning that is kept, in characters; longer words are asked for by their first and last part.
LONGEST = 16
#: Words of one search that are looked for; our choice, more than anybody types.
MOST_WORDS = 6

_RUN = re.compile(r"[^\W\d_]+|\d+")


def folded(text: str) -> str:
    """``text`` without the difference of case and accents (Unicode's NFKD and case folding)."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    return "".join(character for character in apart if not unicodedata.combining(character))


def _endings(token: str) -> list[str]:
    """``token`` from each place on where letters or figures begin; nothing for mere punctuation."""
    return [token[run.start() :] for run in _RUN.finditer(token)]


def beginnings(texts: Iterable[str]) -> set[str]:
    """Every beginning of every word of ``texts``, as it is kept."""
    tokens = {token for text in set(texts) for token in folded(text).split()}
    return {
        ending[:length]
        for token in tokens
        for ending in _endings(token)
        for length in range(1, min(len(ending), LONGEST) + 1)
    }


def beginnings_of_number(number: str) -> set[str]:
    """The beginnings of a number as it is scanned; what stands inside it says nothing to anybody."""
    whole = folded(number)
    return {whole[:length] for length in range(1, len(whole) + 1)}


def asked_words(text: str) -> list[str]:
    """The words that all have to be among the beginnings for a search of ``text``.

    A whole consignment number may be typed in groups, as it is printed.
    """
    if is_number(text, CONSIGNMENT):
        return [folded(tidy(text))]
    wanted: list[str] = []
    for token in folded(text).split():
        runs = list(_RUN.finditer(token))
        if not runs:
            continue
        token = token[: runs[-1].end()]
        endings = _endings(token)
        wanted.append(endings[0][:LONGEST])
        if len(endings[0]) > LONGEST:
            wanted += [ending for ending in endings if len(ending) <= LONGEST][:1]
    return list(dict.fromkeys(wanted))[:MOST_WORDS]


def word_of_group(key: int) -> str:
    """What stands for a group among the words of its consignments; no word of a text begins so."""
    return f"@{key}"
