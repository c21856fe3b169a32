"""Every package the project asks for is pinned, and what a laboratory runs is held to hashes."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

ROOT = Path(__file__).parent.parent


#: What a laboratory runs on, and what only the tests need.
PRODUCT, TESTS = ROOT / "constraints.txt", ROOT / ".ci" / "test-pins.txt"
PIN = re.compile(
    r"(?P<name>[\w.-]+)==(?P<version>[\w.+!]+)(?:\s*;.*?)?(?P<hashes>(?:\s+--hash=sha256:[0-9a-f]{64})*)"
)


def entries(path: Path) -> list[str]:
    """The entries of a file of pins, each with the lines that go on from it."""
    text = path.read_text(encoding="utf-8").replace("\\\n", " ")
    return [line.strip() for line in text.splitlines() if line.strip() and not line.startswith("#")]


def pinned(path: Path) -> dict[str, Version]:
    found = (PIN.fullmatch(entry) for entry in entries(path))
    return {canonicalize_name(match["name"]): Version(match["version"]) for match in found if match}


def test_every_package_asked_for_is_pinned_within_its_bounds():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked = [
        *project["dependencies"],
        *(one for extra in project["optional-dependencies"].values() for one in extra),
    ]
    pins = pinned(PRODUCT) | pinned(TESTS)
    loose = [
        text
        for text in asked
        if (need := Requirement(text))
        and (
            canonicalize_name(need.name) not in pins
            or pins[canonicalize_name(need.name)] not in need.specifier
        )
    ]
    assert not loose, f"not pinned (run .ci/pins): {loose}"


def test_what_the_product_asks_for_is_among_what_a_laboratory_runs():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked = {canonicalize_name(Requirement(text).name) for text in project["dependencies"]}
    assert asked <= set(pinned(PRODUCT))


def test_every_entry_pins_one_version_and_no_package_stands_in_both():
    assert len(pinned(PRODUCT)) == len(entries(PRODUCT))
    assert len(pinned(TESTS)) == len(entries(TESTS))
    assert not set(pinned(PRODUCT)) & set(pinned(TESTS))


def test_every_file_a_laboratory_installs_is_held_to_a_hash():
    without = [entry for entry in entries(PRODUCT) if "--hash=" not in entry]
    assert not without
    assert all(PIN.fullmatch(entry) for entry in entries(PRODUCT))
