"""The README promises only what is there."""

from __future__ import annotations

import re
from pathlib import Path

from django.core.management import get_commands

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
SETTINGS = (ROOT / "labqueue" / "settings.py").read_text(encoding="utf-8")
MAKEFILE = (ROOT / "Makefile").read_text(encoding="utf-8")
TARGETS = set(re.findall(r"^([a-z-]+):", MAKEFILE, re.M))


def test_make_commands_that_are_named_exist():
    named = set(re.findall(r"\bmake ([a-z-]+)\b(?=[` \n])", README + DEVELOPERS))
    commands = {
        name for name in named if f"`make {name}" in README + DEVELOPERS or f"    make {name}" in README
    }
    assert commands
    assert commands <= TARGETS


def test_the_two_commands_stand_near_the_top():
    assert README.index("    make demo\n    make test\n") < 1200


def test_manage_commands_that_are_named_exist():
    named = set(re.findall(r"manage\.py ([a-z_]+)", README + DEVELOPERS))
    assert named
    assert named <= set(get_commands())


def test_settings_table_lists_exactly_the_variables_that_are_read():
    read = set(re.findall(r'"(LABQUEUE_[A-Z_]+)"', SETTINGS))
    listed = re.findall(r"^\| `(LABQUEUE_[A-Z_]+)` \|", README, re.M)
    assert len(listed) == len(set(listed))
    assert set(listed) == read


def test_pictures_and_files_that_are_named_exist():
    linked = re.findall(r"\]\((?!https?:)([^)#]+)\)", README) + re.findall(
        r'src="(?!https?:)([^"]+)"', README
    )
    missing = [path for path in linked if not (ROOT / path).exists()]
    assert not missing


def test_every_command_of_make_says_what_it_does():
    described = set(re.findall(r"^([a-z-]+):.*## \S", MAKEFILE, re.M))
    assert described == TARGETS
