"""Every package the project asks for is pinned."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

ROOT = Path(__file__).parent.parent


def pinned() -> dict[str, Version]:
    lines = (ROOT / "constraints.txt").read_text(encoding="utf-8").splitlines()
    found = (
        re.fullmatch(r"([\w.-]+)==([\w.+!]+)(?:\s*;.*)?", line) for line in lines if line[:1] not in ("", "#")
    )
    return {canonicalize_name(match[1]): Version(match[2]) for match in found if match}


def test_every_package_asked_for_is_pinned_within_its_bounds():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked = [
        *project["dependencies"],
        *(one for extra in project["optional-dependencies"].values() for one in extra),
    ]
    pins = pinned()
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


def test_every_line_pins_one_version():
    lines = (ROOT / "constraints.txt").read_text(encoding="utf-8").splitlines()
    assert len(pinned()) == len([line for line in lines if line and not line.startswith("#")])
