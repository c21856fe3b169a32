"""Says a stored English text in another language, by the phrases it is made of.

What cannot be recognised is left as it is: a reader sees an English sentence, never a wrong one.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from enum import IntEnum
from functools import lru_cache

from intake.phrasebook.phrase import Filling, Phrase, PhraseError, parts_of

#: Holes that people's own words fill, or what a file holds: never translated. What is typed into a
#: cell is ``text``, ``raw``, ``typed``, ``word`` and ``value``.
OWN = frozenset(
    {
        "code", "title", "own_id", "additive", "additives", "unknown", "text", "raw", "typed", "word",
        "acid_grade", "unit", "unit_2", "zone", "zone_2", "value", "near", "labels", "choices",
        "heading", "headings", "column_name", "number", "number_2", "letter", "letters",
        "first_rows", "key", "words", "answer", "run",
    }
)  # fmt: skip
#: Holes that one phrase alone may fill, which fills no others, since it fits nearly everything: the name
#: of a rulebook is somebody's own but for "version".
ONLY = {"book_name": "{title}, version {version}", "effects": "{ion} {effect}"}
#: Those of them that are filled several times, with semicolons between.
LISTED = frozenset({"effects"})

#: Of these, what is a name without pauses; a heading of the sheet has commas of its own.
BRIEF = OWN - {"heading"}
#: Own words in marks of quoting; each language has marks of its own.
QUOTED = "“{words}”"
#: Holes that hold several own words, as a list.
LISTED_WORDS = frozenset({"near", "labels", "choices"})
LISTS = ("{most} or {last}", "{most} and {last}")

#: A phrase with an unknown filling is taken only with so many fixed words, and one that people's own words
#: fill proves nothing with fewer: they may stand in what a person wrote. Our choice.
FEWEST_WORDS = 3
#: Steps spent on one text; a sentence of the rules takes some dozen. Our choice.
MOST_STEPS = 600
#: How deep holes of holes are followed; the deepest of the rules is 7. Our choice.
DEEPEST = 16
#: Longest text looked at, in characters; the longest the rules make has about 1200. Our choice.
LONGEST = 4000
#: Texts whose translation is remembered.
REMEMBERED = 8192

_MOMENT = re.compile(
    r"(\d{1,2}) ([^\W\d_]{3}) (\d{1,4})((?:,? \d\d:\d\d)?(?: [A-Za-z_]+(?:/[A-Za-z_+\-0-9]+)*)?)"
)
#: A moment with its weekday, as plans are told it: in the reader's language already.
_CLOCK = re.compile(r"[^\W\d_]{2,3} \d{1,2} [^\W\d_]{3} \d\d:\d\d(?: [A-Z]{2,5})?")
#: Where one sentence ends and the next begins.
_SENTENCES = re.compile(r"(?<=[^\d\s][.?!]|[\d%][.]) (?=[A-Z“\d]|pH )")
#: What every language writes alike: figures, formulas, units, zones.
_NEUTRAL = re.compile(
    r"(?:[^A-Za-zµ°]|\b(?:mL|mg/L|µg/L|mol/L|meq/L|mmol/L|µS/cm|mS/cm|dS/m|mS/m|S/m|pH|EC|UTC|N|P|S)\b|°C|°F|µm|µL"
    r"|(?<=\d )(?:h|d|min|s|g|L)\b)*|[A-Z][A-Za-z_]+/[A-Za-z_/+\-0-9]+"
)
#: Where a name in a short phrase is over, and a sentence goes on.
_PAUSE = re.compile(r"[,;:.] ")
_JOINTS = ("; ", ": ", ", ")
#: What stands between the words of a list, with the phrase that says it.
_LIST = re.compile(r"(, | and | or )")
_BETWEEN = {" and ": "{most} and {last}", " or ": "{most} or {last}"}


Said = tuple[str, "Known"]


class Known(IntEnum):
    """How much of a text was recognised."""

    NOT_ALL = 0
    #: Short phrases with people's own words in them fit, as they fit much else.
    LOOSELY = 1
    WHOLLY = 2


class Phrasebook:
    """Phrases with their translations; ``say`` says a text with them."""

    def __init__(self, entries: Mapping[str, str] | Iterable[tuple[str, str]]) -> None:
        self.exact: dict[str, str] = {}
        self.phrases: dict[str, Phrase] = {}
        for text, said in dict(entries).items():
            try:
                phrase = Phrase(text, said)
            except PhraseError:
                continue  # what the tests hold the catalogue to; a page is shown all the same
            if phrase.holes:
                self.phrases[text] = phrase
            else:
                self.exact[phrase.fixed[0]] = parts_of(said)[0][0]
        general = (phrase for text, phrase in self.phrases.items() if text not in {*ONLY.values(), QUOTED})
        self._ordered = sorted(general, key=lambda phrase: (loose(phrase), -phrase.weight, phrase.text))
        self._buckets: dict[tuple[str, str], tuple[Phrase, ...]] = {}
        self.say = lru_cache(maxsize=REMEMBERED)(self._say)

    def _say(self, text: str) -> str:
        return self.recognise(text)[0]

    def recognise(self, text: str) -> Said:
        """``text`` in the other language, and how much of it was known."""
        if len(text) > LONGEST:
            return text, Known.NOT_ALL
        return _Saying(self).say(text)

    def say_as(self, wanted: Iterable[str], text: str) -> str:
        """``text`` by one of the phrases ``wanted``, and by no other."""
        for phrase in wanted:
            if phrase in self.exact and phrase == text:
                return self.exact[phrase]
            said, known = _Saying(self).only(phrase, text)
            if known is Known.WHOLLY:
                return said
        return text

    def candidates(self, text: str) -> tuple[Phrase, ...]:
        """Phrases that may match ``text``, those with most fixed text first, by its first and last letter."""
        ends = text[0], text[-1]
        if ends not in self._buckets:
            self._buckets[ends] = tuple(
                phrase
                for phrase in self._ordered
                if phrase.fixed[0][:1] in ("", ends[0]) and phrase.fixed[-1][-1:] in ("", ends[1])
            )
        return self._buckets[ends]


def loose(phrase: Phrase) -> bool:
    """Whether it fits nearly everything, since people's own words fill a hole of so short a phrase."""
    return phrase.words < FEWEST_WORDS and not OWN.isdisjoint(phrase.holes)


class _Saying:
    """One text being said: what was tried already, and how much work is left to spend."""

    def __init__(self, book: Phrasebook) -> None:
        self._book = book
        self._left = MOST_STEPS
        self._depth = 0
        self._known: dict[str, Said] = {}

    def say(self, text: str) -> Said:
        """``text`` with the spaces around it kept."""
        bare = text.strip()
        if not bare:
            return text, Known.WHOLLY
        if bare not in self._known:
            self._known[bare] = bare, Known.NOT_ALL  # no text is made of itself
            self._depth += 1
            self._known[bare] = self._find(bare)
            self._depth -= 1
        said, known = self._known[bare]
        start = text.index(bare)
        return text[:start] + said + text[start + len(bare) :], known

    def _find(self, text: str) -> Said:
        """By the first way that knows all of it, else by the best there is."""
        self._left -= 1
        plain = self._plain(text)
        if plain is not None:
            return plain, Known.WHOLLY
        best = text, Known.NOT_ALL
        if self._left < 0 or self._depth > DEEPEST:
            return best
        for way in (
            self._sentences,
            self._by_phrase,
            self._capital,
            self._stopped,
            self._joined,
            self._listed,
        ):
            found = way(text)
            if found is not None and (found[1] > best[1] or best[0] == text):
                best = found
            if best[1] is Known.WHOLLY:
                break
        return best

    def _plain(self, text: str) -> str | None:
        """What needs no phrase with holes: a phrase as it is, a figure, a moment."""
        exact = self._book.exact.get(text)
        if exact is not None:
            return exact
        if _NEUTRAL.fullmatch(text) or _CLOCK.fullmatch(text):
            return text
        moment = _MOMENT.fullmatch(text)
        if moment is None:
            return None
        day, month, year, rest = moment.groups()
        return f"{day} {self._book.exact.get(month, month)} {year}{rest}"

    def _by_phrase(self, text: str) -> Said | None:
        """By the phrase with the most fixed text whose holes are all known, else by the first that fits."""
        best: Said | None = None
        for phrase in self._book.candidates(text):
            for filling in phrase.matches(text):
                if loose(phrase) and any(name in BRIEF and _PAUSE.search(part) for name, part in filling):
                    continue
                values, known = self._filled(filling)
                if known and loose(phrase):
                    known = Known.LOOSELY
                if known is Known.WHOLLY:
                    return phrase.fill(values), known
                if known and (best is None or best[1] < known):
                    best = phrase.fill(values), known
                elif best is None and phrase.words >= FEWEST_WORDS:
                    best = phrase.fill({name: self._hole(name, part)[0] for name, part in filling}), known
        return best

    def _filled(self, filling: Filling) -> tuple[dict[str, str], Known]:
        """The fillings said; the shortest are tried first, and none after one that is not known."""
        values, least = {}, Known.WHOLLY
        for name, text in sorted(filling, key=_length):
            values[name], known = self._hole(name, text)
            least = min(least, known)
            if not known:
                break
        return values, least

    def _own(self, name: str, text: str) -> str:
        """Own words as they are, but for what we put around them: marks of quoting, "or" in a list."""
        quoted = text[:1] == "“" and text.find("”") == len(text) - 1
        around = (QUOTED,) if quoted else (LISTS if name in LISTED_WORDS else ())
        for phrase in filter(None, map(self._book.phrases.get, around)):
            fillings = phrase.matches(text)
            filling = min(fillings, key=lambda parts: len(dict(parts).get("last", "")), default=None)
            if filling is not None:
                return phrase.fill(dict(filling))
        return text

    def _hole(self, name: str, text: str) -> Said:
        if name in OWN:
            return self._own(name, text), Known.WHOLLY
        if name in ONLY:
            pieces = text.split("; ") if name in LISTED else [text]
            told = [self.only(ONLY[name], piece) for piece in pieces]
            return "; ".join(piece for piece, _ in told), min(known for _, known in told)
        return self.say(text)

    def only(self, wanted: str, text: str) -> Said:
        """``text`` by the phrase ``wanted`` alone."""
        phrase = self._book.phrases.get(wanted)
        if phrase is not None:
            for filling in phrase.matches(text):
                values, known = self._filled(filling)
                if known:
                    return phrase.fill(values), known
        return text, Known.LOOSELY

    def _capital(self, text: str) -> Said | None:
        """A phrase that begins a sentence here, though it is kept with a small letter."""
        lowered = text[0].lower() + text[1:]
        if lowered == text:
            return None
        said, known = self.say(lowered)
        return (said[:1].upper() + said[1:], known) if known else None

    def _stopped(self, text: str) -> Said | None:
        """A phrase that ends a sentence here, though it is kept without a full stop."""
        if not text.endswith("."):
            return None
        said, known = self.say(text[:-1])
        return (f"{said}.", known) if known else None

    def _sentences(self, text: str) -> Said | None:
        return self._pieces(_SENTENCES.split(text), " ")

    def _joined(self, text: str) -> Said | None:
        for joint in _JOINTS:
            found = self._pieces(text.split(joint), joint)
            if found is not None and found[1]:
                return found
        return None

    def _listed(self, text: str) -> Said | None:
        """A list in which some word is nobody's vocabulary: the others are said, it stays."""
        words = _LIST.split(text)
        said = [self._book.exact.get(word) for word in words[::2]]
        if 2 * said.count(None) > len(said):
            return None
        for place, word in enumerate(said):
            words[2 * place] = word or words[2 * place]
        for place in range(1, len(words), 2):
            phrase = self._book.phrases.get(_BETWEEN.get(words[place], ""))
            words[place] = parts_of(phrase.said)[0][1] if phrase else words[place]
        return "".join(words), Known.NOT_ALL

    def _pieces(self, pieces: list[str], joint: str) -> Said | None:
        if len(pieces) < 2:
            return None
        said = [self.say(piece) for piece in pieces]
        return joint.join(piece for piece, _ in said), min(known for _, known in said)


def _length(filled: tuple[str, str]) -> int:
    return len(filled[1])
