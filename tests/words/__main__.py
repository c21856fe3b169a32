"""``make words``: gather all messages, keep their translations, compile; tell what is left to translate."""

from __future__ import annotations

import os
import sys

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labqueue.settings")
django.setup()

from tests.words.gathering import (  # noqa: E402 - needs Django's settings
    DOMAINS,
    ROOT,
    can_gather,
    catalogue,
    merged,
    path_of,
    present,
    untranslated,
    write,
)


def main() -> int:
    os.chdir(ROOT)
    if not can_gather():
        print("GNU gettext is needed:  sudo apt-get install gettext", file=sys.stderr)
        return 1
    left = 0
    for domain in DOMAINS:
        made = merged(present(domain), catalogue(domain))
        write(made, domain)
        missing = list(untranslated(made))
        left += len(missing)
        print(f"{path_of(domain).relative_to(ROOT)}: {len(made)} messages, {len(missing)} to translate")
        for entry in missing:
            print(f"  {entry.occurrences[0][0]}: {entry.msgid!r}")
    return 1 if left else 0


if __name__ == "__main__":
    sys.exit(main())
