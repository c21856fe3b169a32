"""What stands in the code to be translated, and the catalogue that goes with it.

A catalogue keeps the order in which messages stand in the code and names their files without lines, so
that a change of one sentence changes a few lines of it. Nothing is guessed: a message that is changed
loses its translation and has to be translated anew.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import polib
from django.conf import settings
from django.core.management import call_command
from django.core.management.commands import makemessages
from django.test import override_settings

from intake import phrasebook
from tests.words.phrases import gathered

ROOT = Path(settings.BASE_DIR)
#: What is stored in English and said in another language when it is shown (``intake.phrasebook``).
PHRASES = phrasebook.DOMAIN
#: The domains, and where what they say stands.
DOMAINS = ("django", "djangojs", PHRASES)
#: What is read by nobody who uses the program, or not ours.
IGNORED = ["var/*", "build/*", "tests/*", "mutants/*", ".venv/*", "*.egg-info/*", "*/demo/*"]
HEADER = {
    "Project-Id-Version": "labqueue",
    "MIME-Version": "1.0",
    "Content-Type": "text/plain; charset=UTF-8",
    "Content-Transfer-Encoding": "8bit",
}
#: By the plural rules of the Unicode CLDR.
PLURALS = {"de": "nplurals=2; plural=(n != 1);"}
#: One message, one line: wrapping would change lines that nobody touched.
WIDTH = 1_000_000

Key = tuple[str, str, str]


def key_of(entry: polib.POEntry) -> Key:
    return entry.msgctxt or "", entry.msgid, entry.msgid_plural


def can_gather() -> bool:
    """Whether GNU gettext is there, which reads messages out of code."""
    return all(shutil.which(name) for name in ("xgettext", "msguniq"))


class _Gather(makemessages.Command):
    """Django's own, but everything goes into the one folder of ``LOCALE_PATHS``."""

    xgettext_options = [*makemessages.Command.xgettext_options, "--no-wrap", "--add-location=file"]
    msguniq_options = [*makemessages.Command.msguniq_options, "--no-wrap", "--add-location=file"]

    def find_files(self, root: str) -> list[makemessages.TranslatableFile]:
        files = super().find_files(root)
        for file in files:
            file.locale_dir = self.default_locale_path
        self.locale_paths = [self.default_locale_path]
        return files


def present(domain: str) -> polib.POFile:
    """All messages of ``domain`` that stand in the code now, without translations."""
    if domain == PHRASES:
        return _phrases()
    with tempfile.TemporaryDirectory() as folder, override_settings(LOCALE_PATHS=[folder]):
        call_command(
            _Gather(), domain=domain, exclude=["de"], keep_pot=True, ignore_patterns=IGNORED, verbosity=0
        )
        return polib.pofile(str(Path(folder) / f"{domain}.pot"), wrapwidth=WIDTH)


def _phrases() -> polib.POFile:
    made = polib.POFile(wrapwidth=WIDTH)
    for text, places in gathered(ROOT).items():
        places_of = [tuple(place.split(":")) for place in places]
        made.append(polib.POEntry(msgid=text, occurrences=places_of))
    return made


def path_of(domain: str, language: str = "de") -> Path:
    return Path(settings.LOCALE_PATHS[0]) / language / "LC_MESSAGES" / f"{domain}.po"


def catalogue(domain: str, language: str = "de") -> polib.POFile:
    path = path_of(domain, language)
    return polib.pofile(str(path), wrapwidth=WIDTH) if path.exists() else polib.POFile(wrapwidth=WIDTH)


def merged(wanted: polib.POFile, former: polib.POFile, language: str = "de") -> polib.POFile:
    """The messages ``wanted``, each with the translation it has in ``former``."""
    told = {key_of(entry): entry for entry in former}
    made = polib.POFile(wrapwidth=WIDTH)
    made.metadata = {**HEADER, "Language": language, "Plural-Forms": PLURALS[language]}
    for entry in wanted:
        files = dict.fromkeys(file for file, _line in entry.occurrences)
        known = told.get(key_of(entry))
        made.append(
            polib.POEntry(
                msgctxt=entry.msgctxt,
                msgid=entry.msgid,
                msgid_plural=entry.msgid_plural,
                msgstr=known.msgstr if known else "",
                msgstr_plural=_plurals(entry, known),
                comment=entry.comment,
                flags=[flag for flag in entry.flags if flag != "fuzzy"],
                occurrences=[(file, "") for file in files],
            )
        )
    return made


def _plurals(entry: polib.POEntry, known: polib.POEntry | None) -> dict[int, str]:
    if not entry.msgid_plural:
        return {}
    return known.msgstr_plural if known else {0: "", 1: ""}


def untranslated(made: polib.POFile) -> Iterator[polib.POEntry]:
    for entry in made:
        forms = entry.msgstr_plural.values() if entry.msgid_plural else [entry.msgstr]
        if entry.fuzzy or not all(form.strip() for form in forms):
            yield entry


def write(made: polib.POFile, domain: str, language: str = "de") -> None:
    """The catalogue as text, for people, and as what is read when a page is made."""
    path = path_of(domain, language)
    path.parent.mkdir(parents=True, exist_ok=True)
    made.save(str(path))
    made.save_as_mofile(str(path.with_suffix(".mo")))
